"""Reading what the clinic's answers rest on, as values."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.fits import (
    consents_now,
    fit_of,
    key_in_use,
    practised_with_consent,
)
from sidelong.clinic.practice.models import FitRow
from sidelong.clinic.trainees.models import Trainee
from sidelong.clinic.trainees.recording import staff_names
from sidelong.exchange.fits import StoredFit
from sidelong.pathway.fitting import ENOUGH_NIGHTS, ENOUGH_TRAINEES
from sidelong.training.consent import Consent


class FitStanding(StrEnum):
    """Whether answers rest on an own fit, and if not, why."""

    IN_USE = "in use"
    REPLACED = "replaced"
    WITHDRAWN = "out of use: consent was taken back"


@dataclass(frozen=True)
class FitLine:
    """One fit that the clinic made of its own trainees.

    Parameters
    ----------
    number : int
        From 1, in the order in which they were made.
    fit : StoredFit
        As it was made.
    made : datetime
        When.
    made_by : str
        Who had it made, as colleagues see the name.
    standing : FitStanding
        Whether answers rest on it now.
    """

    number: int
    fit: StoredFit
    made: datetime
    made_by: str
    standing: FitStanding


@dataclass(frozen=True)
class ConsentLine:
    """One trainee's last answer, and whether the values in use were learned from the nights."""

    code: str
    answer: Consent
    is_counted: bool


@dataclass(frozen=True)
class FitNow:
    """What answers rest on now, and what a new fit would rest on.

    Parameters
    ----------
    fit : StoredFit
        In use.
    is_out_of_use : bool
        Whether an own fit was made, and somebody whom it was learned from withdrew.
    line : FitLine or None
        The own fit in use.
    lines : tuple of FitLine
        All own fits, the last one first.
    consents : tuple of ConsentLine
        By code, everybody whom the clinic knows.
    n_ready : int
        Trainees with consent who have practised enough nights to count.
    n_needed, nights_needed : int
        What an own fit needs.
    """

    fit: StoredFit
    is_out_of_use: bool
    line: FitLine | None
    lines: tuple[FitLine, ...]
    consents: tuple[ConsentLine, ...]
    n_ready: int
    n_needed: int = ENOUGH_TRAINEES
    nights_needed: int = ENOUGH_NIGHTS

    @property
    def n_yes(self) -> int:
        """Trainees who consent."""
        return sum(each.answer is Consent.YES for each in self.consents)


def fit_now(*, seen_by: Person) -> FitNow:
    """Say what answers rest on.

    Parameters
    ----------
    seen_by : Person
        Who looks.

    Returns
    -------
    FitNow
        The fit in use, consents by code, and how many count.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    key, rows, known = key_in_use(), list(FitRow.objects.order_by("pk")), consents_now()
    lines = tuple(_lines(rows, known=known, key=key))
    counted = {code for row in rows if row.key == key for code in row.trainees}
    codes = Trainee.objects.order_by("code").values_list("code", flat=True)
    ready = [course for course in practised_with_consent() if len(course.entries) >= ENOUGH_NIGHTS]
    return FitNow(
        fit=fit_of(key),
        is_out_of_use=bool(rows) and not key,
        line=lines[-1] if key else None,
        lines=lines[::-1],
        consents=tuple(
            ConsentLine(code, known.get(code, Consent.NOT_ASKED), code in counted) for code in codes
        ),
        n_ready=len(ready),
    )


def _lines(rows: Sequence[FitRow], *, known: Mapping[str, Consent], key: str) -> Iterator[FitLine]:
    names = staff_names()
    for number, row in enumerate(rows, start=1):
        standing = FitStanding.REPLACED
        if any(known.get(code) is not Consent.YES for code in row.trainees):
            standing = FitStanding.WITHDRAWN
        elif row.key == key:
            standing = FitStanding.IN_USE
        made_by = names.get(row.made_by, row.made_by)
        yield FitLine(number, fit_of(row.key), row.made, made_by, standing)
