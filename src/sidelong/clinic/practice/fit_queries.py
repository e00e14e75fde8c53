"""Reading what the clinic's answers rest on, as values."""

from dataclasses import dataclass
from datetime import datetime

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
from sidelong.exchange.fits import StoredFit
from sidelong.pathway.fitting import ENOUGH_NIGHTS, ENOUGH_TRAINEES
from sidelong.training.consent import Consent


@dataclass(frozen=True)
class FitNow:
    """What answers rest on now, and what a new fit would rest on.

    Parameters
    ----------
    fit : StoredFit
        In use.
    is_out_of_use : bool
        Whether an own fit was made, and somebody whom it was learned from withdrew.
    made : datetime or None
        When the last own fit was made.
    consents : tuple of (str, Consent)
        By code, everybody whom the clinic knows.
    n_ready : int
        Trainees with consent who have practised enough nights to count.
    n_needed, nights_needed : int
        What an own fit needs.
    """

    fit: StoredFit
    is_out_of_use: bool
    made: datetime | None
    consents: tuple[tuple[str, Consent], ...]
    n_ready: int
    n_needed: int = ENOUGH_TRAINEES
    nights_needed: int = ENOUGH_NIGHTS

    @property
    def n_yes(self) -> int:
        """Trainees who consent."""
        return sum(answer is Consent.YES for _, answer in self.consents)


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
    key, last = key_in_use(), FitRow.objects.order_by("-pk").first()
    known = consents_now()
    codes = Trainee.objects.order_by("code").values_list("code", flat=True)
    ready = [course for course in practised_with_consent() if len(course.entries) >= ENOUGH_NIGHTS]
    return FitNow(
        fit=fit_of(key),
        is_out_of_use=last is not None and not key,
        made=last.made if last else None,
        consents=tuple((code, known.get(code, Consent.NOT_ASKED)) for code in codes),
        n_ready=len(ready),
    )
