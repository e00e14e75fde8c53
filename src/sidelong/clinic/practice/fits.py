"""What the clinic has learned from its own trainees, and whether it may still be used.

A new clinic rests on the values that ship with the program. Its own fit counts as long as
everybody whom it was learned from still consents: when one of them withdraws it is out of use at
once, before a new one is made.
"""

import hashlib
from datetime import datetime
from functools import lru_cache

from sidelong.clinic.practice.models import ConsentRow, FitRow, NightEntry
from sidelong.clinic.practice.nights import plan_rows
from sidelong.clinic.practice.rows import latest_entries, to_evening
from sidelong.clinic.trainees.models import Course
from sidelong.clinic.trainees.rows import plan_of
from sidelong.exchange.fits import SHIPPED_FIT, StoredFit, format_fit, parse_fit
from sidelong.pathway.estimates import PractisedCourse, gather_courses
from sidelong.training.consent import Consent


def consents_now() -> dict[str, Consent]:
    """Give the last answer of everybody who was asked, by code."""
    rows = ConsentRow.objects.order_by("pk").values_list("trainee_id", "answer")
    return {code: Consent(answer) for code, answer in rows}


def key_in_use() -> str:
    """Give the key of the fit that answers rest on now; empty for the shipped values."""
    last = FitRow.objects.order_by("-pk").values_list("key", "trainees").first()
    if last is None:
        return ""
    key, codes = last
    consents = consents_now()
    still = all(consents.get(code) is Consent.YES for code in codes)
    return str(key) if still else ""


def fit_of(key: str) -> StoredFit:
    """Give the fit with a key; the shipped values where it is empty."""
    if not key:
        return SHIPPED_FIT
    return _parsed(FitRow.objects.values_list("content", flat=True).get(key=key))


def key_of(fit: StoredFit, *, made: datetime) -> str:
    """Give the key under which a fit is kept; one that is made again is another one."""
    return hashlib.sha256(f"{made.isoformat()}\n{format_fit(fit)}".encode()).hexdigest()


def keys_known() -> tuple[str, ...]:
    """Give the keys of all fits that were ever in use, the shipped values first."""
    return ("", *FitRow.objects.values_list("key", flat=True))


def practised_with_consent() -> tuple[PractisedCourse, ...]:
    """Gather the last planned course of everybody who consents, with its nights."""
    consents = consents_now()
    codes = [code for code, answer in consents.items() if answer is Consent.YES]
    last: dict[str, Course] = {}
    for course in (
        Course.objects.filter(trainee__in=codes, plans__isnull=False)
        .distinct()
        .select_related("trainee")
        .order_by("trainee", "number")
    ):
        last[course.trainee_id] = course
    gathered: list[PractisedCourse] = []
    for course in last.values():
        row = plan_rows(course)[-1]
        plan = plan_of(row)
        entries: list[NightEntry] = list(latest_entries(course))
        evenings = [to_evening(each, plan=plan).entry for each in entries]
        n_nights = len(plan.nights)
        kept = [each for each in evenings if each.rows and each.night <= n_nights]
        gathered.extend(gather_courses(kept, plans=[plan]))
    return tuple(gathered)


@lru_cache(maxsize=32)
def _parsed(text: str) -> StoredFit:
    """Read a fit once: its text never changes."""
    return parse_fit(text, where="the clinic's fit")
