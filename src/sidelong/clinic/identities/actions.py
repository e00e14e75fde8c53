"""What is done to identities, each as one recorded act that holds no name."""

from django.conf import settings

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.identities.identity import COLUMNS, Identity
from sidelong.clinic.identities.models import SealedIdentity
from sidelong.clinic.identities.vault import is_up_to_date, open_row, store
from sidelong.problems import Problem, Refused

_ROWS_IN_AN_ACT = 50


def record_identity(*, code: str, identity: Identity, by: Person) -> None:
    """Keep a trainee's identity for the first time.

    Parameters
    ----------
    code : str
        The trainee's code.
    identity : Identity
        Who it is.
    by : Person
        Who records.

    Raises
    ------
    Refused
        If there is one already.
    """
    demand(Permission.CHANGE_NAMES, of=by)
    with act("identity recorded", by=by, subject=subject_of(code)):
        if SealedIdentity.objects.filter(code=code).exists():
            raise Refused([_fault(code, "it is kept already", "Change it instead.")])
        store(code, identity, ring=settings.INSTALLATION.key_ring())


def change_identity(*, code: str, identity: Identity, reason: str, by: Person) -> None:
    """Correct a trainee's identity; the trail says which fields changed, not what they hold.

    Parameters
    ----------
    code : str
        The trainee's code.
    identity : Identity
        As it should be.
    reason : str
        Short word from the page's list, for example ``"moved"``; not free text.
    by : Person
        Who corrects.

    Raises
    ------
    Refused
        If there is none to change.
    """
    demand(Permission.CHANGE_NAMES, of=by)
    ring = settings.INSTALLATION.key_ring()
    with act("identity changed", by=by, subject=subject_of(code)) as doing:
        before = open_row(_locked(code), ring=ring)
        changed = [name for name in COLUMNS if getattr(before, name) != getattr(identity, name)]
        doing.note(fields=changed, reason=reason)
        store(code, identity, ring=ring)


def erase_identity(*, code: str, reason: str, by: Person) -> None:
    """Erase who a trainee is; the code and what was practised stay.

    Parameters
    ----------
    code : str
        The trainee's code.
    reason : str
        Short word from the page's list, for example ``"asked for"``; not free text.
    by : Person
        Who erases.

    Raises
    ------
    Refused
        If there is none to erase.
    """
    demand(Permission.CHANGE_NAMES, of=by)
    with act("identity erased", by=by, subject=subject_of(code)) as doing:
        doing.note(reason=reason)
        _locked(code).delete()


def reseal_identities(*, by: Person) -> int:
    """Seal everything that older keys hold with the newest ones, some rows to an act.

    May be stopped at any time and called again: every row opens with its old key or its new one.

    Parameters
    ----------
    by : Person
        Who turns the keys.

    Returns
    -------
    int
        Rows that were sealed anew.
    """
    demand(Permission.TURN_KEYS, of=by)
    ring = settings.INSTALLATION.key_ring()
    codes = list(SealedIdentity.objects.values_list("code", flat=True))
    n_sealed = 0
    for start in range(0, len(codes), _ROWS_IN_AN_ACT):
        some = codes[start : start + _ROWS_IN_AN_ACT]
        rows = SealedIdentity.objects.filter(code__in=some).prefetch_related("tokens")
        stale = [row.code for row in rows if not is_up_to_date(row, ring=ring)]
        if not stale:
            continue
        with act("identities sealed anew", by=by, subject="identities") as doing:
            # Read again inside the act: somebody may have corrected a name meanwhile.
            for row in SealedIdentity.objects.select_for_update().filter(code__in=stale):
                store(row.code, open_row(row, ring=ring), ring=ring)
            doing.note(codes=stale)
        n_sealed += len(stale)
    return n_sealed


def _locked(code: str) -> SealedIdentity:
    rows = SealedIdentity.objects.select_for_update().filter(code=code)
    row: SealedIdentity | None = rows.first()
    if row is None:
        raise Refused([_fault(code, "none is kept", "Check the code.")])
    return row


def _fault(code: str, what: str, remedy: str) -> Problem:
    return Problem(f"identity of {code}", what, remedy, "identity")
