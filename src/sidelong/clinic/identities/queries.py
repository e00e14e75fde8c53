"""Reading identities: every reading is itself a recorded act."""

from collections.abc import Collection
from datetime import date

from django.conf import settings

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.identities.index import birth_token, word_token, words_of
from sidelong.clinic.identities.models import IndexToken, SealedIdentity
from sidelong.clinic.identities.vault import open_row
from sidelong.clinic.keys import Key, Purpose
from sidelong.problems import Problem, Refused


def read_identities(codes: Collection[str], *, seen_by: Person) -> dict[str, Identity]:
    """Open the identities of some trainees; one recorded act for all that a page shows.

    Parameters
    ----------
    codes : collection of str
        Trainees' codes.
    seen_by : Person
        Who reads.

    Returns
    -------
    dict of str to Identity
        By code; codes without an identity are missing.
    """
    demand(Permission.SEE_NAMES, of=seen_by)
    ring = settings.INSTALLATION.key_ring()
    rows = SealedIdentity.objects.filter(code__in=codes)
    found = {row.code: open_row(row, ring=ring) for row in rows}
    if found:
        only = next(iter(found)) if len(found) == 1 else None
        subject = subject_of(only) if only else "identities"
        # Opened first and recorded before anybody sees it: without the row there is no answer.
        with act("identity read", by=seen_by, subject=subject) as doing:
            doing.note(codes=sorted(found))
    return found


def find_by_name(words: str, *, born: date | None = None, seen_by: Person) -> tuple[str, ...]:
    """Find trainees by whole words of a name, and birth date.

    Parameters
    ----------
    words : str
        One word or more, of the trainee's or the supporter's name; all must occur.
    born : date, optional
        Day of birth.
    seen_by : Person
        Who looks.

    Returns
    -------
    tuple of str
        Codes, sorted.

    Raises
    ------
    Refused
        If neither a word nor a birth date was given.
    """
    demand(Permission.FIND_BY_NAME, of=seen_by)
    compared = words_of(words)
    if not compared and born is None:
        remedy = "Give a whole word of the name, or the birth date."
        raise Refused([Problem("search", "there is nothing to look for", remedy, "identity")])
    with act("identities searched", by=seen_by, subject="identities") as doing:
        found: set[str] = set()
        # While keys are being turned, some rows are still indexed with an older one.
        for key in settings.INSTALLATION.key_ring().for_purpose(Purpose.INDEX):
            found |= _codes_with_all(_wanted(compared, born, key), key)
        doing.note(codes=sorted(found))
    return tuple(sorted(found))


def _wanted(words: frozenset[str], born: date | None, key: Key) -> list[str]:
    tokens = [word_token(word, key=key) for word in sorted(words)]
    return tokens if born is None else [*tokens, birth_token(born, key=key)]


def _codes_with_all(tokens: list[str], key: Key) -> set[str]:
    sets = (
        set(
            IndexToken.objects.filter(key_name=key.name, token=token).values_list(
                "identity_id", flat=True
            )
        )
        for token in tokens
    )
    return set.intersection(*sets)
