"""When a clinic rests on its own trainees, on which of them, and what is said of it."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

import sidelong
from sidelong.exchange.fits import SHIPPED_FIT, StoredFit
from sidelong.pathway.estimates import PractisedCourse
from sidelong.pathway.fitting import choose_fit, fingerprint_courses, fit_own
from sidelong.preferences import DEFAULT, Courses, simulate_courses
from sidelong.training.consent import Consent
from sidelong.training.entry import Entry, EntryRow, Scale, WentDown
from sidelong.training.position import ALL_POSITIONS

TODAY = date(2025, 3, 1)


def practised(n: int, *, nights: int = 6) -> Courses:
    rng = np.random.default_rng(5)
    orders = np.argsort(rng.random((n, nights, 5)), axis=2)
    return simulate_courses(orders, hyperparameters=DEFAULT, rng=rng).courses


def courses_of(n: int, *, nights: int = 5) -> list[PractisedCourse]:
    rng = np.random.default_rng(9)
    return [
        PractisedCourse(
            f"HL-{who}",
            ALL_POSITIONS,
            7,
            Scale.FIVE,
            tuple(
                Entry(
                    f"HL-{who}",
                    night,
                    tuple(
                        EntryRow(slot, position, 5.0, int(rng.integers(2, 6)), WentDown.FIRST)
                        for slot, position in enumerate(ALL_POSITIONS, start=1)
                    ),
                )
                for night in range(1, nights + 1)
            ),
        )
        for who in range(n)
    ]


@pytest.fixture(scope="module")
def own() -> StoredFit:
    return fit_own(practised(10), today=TODAY).fit


def test_a_fit_says_from_what_when_and_by_which_version(own):
    assert own.n_trainees == 10
    assert own.made_on == TODAY
    assert own.program == sidelong.__version__
    assert own.fingerprint == fingerprint_courses(practised(10))
    for part in ("10 trainees", "2025-03-01", sidelong.__version__, own.fingerprint[:8]):
        assert part in own.origin


def test_a_clinic_with_few_trainees_keeps_the_shipped_values():
    for few in (practised(9), practised(12, nights=4)):
        choice = fit_own(few, today=TODAY)
        assert choice.fit is SHIPPED_FIT
    assert "need 10 trainees with consent and 5 nights each; there are 0" in choice.why


def test_the_fingerprint_follows_answers_and_not_the_order_of_trainees():
    courses = practised(10)
    changed = replace(courses, rating=np.where(courses.rating == 5, 4, courses.rating))
    turned = courses.take(np.arange(10)[::-1])
    narrow = replace(courses, rating=courses.rating.astype(np.int64))
    assert fingerprint_courses(turned) == fingerprint_courses(courses)
    assert fingerprint_courses(narrow) == fingerprint_courses(courses)
    assert fingerprint_courses(changed) != fingerprint_courses(courses)
    assert fingerprint_courses(courses.take(slice(1, None))) != fingerprint_courses(courses)


def test_only_trainees_who_said_yes_are_used():
    courses = courses_of(14)
    yes = {f"HL-{who}": Consent.YES for who in range(10)}
    others = {"HL-10": Consent.NO, "HL-11": Consent.NOT_ASKED}
    fit = choose_fit(courses, consents={**yes, **others}, today=TODAY)
    assert fit.fit.is_own
    assert not fit.why
    assert fit == choose_fit(courses[:10], today=TODAY)
    withdrawn = {**yes, "HL-0": Consent.NO}
    assert not choose_fit(courses, consents=withdrawn, today=TODAY).fit.is_own
    assert not choose_fit(courses, consents={}, today=TODAY).fit.is_own


def test_without_a_trainee_the_shipped_values_stand():
    assert choose_fit([], today=TODAY).fit is SHIPPED_FIT
