"""Locked estimates and first doses: what they refuse, and which is laid against which."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from sidelong.problems import Refused
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.estimate import PositionEstimate, Verdict
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import (
    DoseKind,
    FirstDose,
    FitMark,
    LockedEstimate,
    SeenBy,
    promise_for,
)

DAY = date(2026, 11, 25)
LOCK = LockedEstimate(
    trainee="HL-7K3PX",
    course=1,
    version=1,
    follow_up=1,
    number=1,
    locked_at=datetime(2026, 11, 25, 10, tzinfo=UTC),
    locked_by="staff:1",
    program="0.1.0",
    fit=FitMark("invented"),
    seed="",
    evidence="0" * 64,
    positions=(PositionEstimate(Position.LEFT, 1.0, 0.8, 4.0, 0.3, 3.5, 4.5),),
    nights_used=14,
    nights_planned=14,
    verdict=Verdict.CLEAR,
    suggested=Position.LEFT,
)
DOSE = FirstDose(
    trainee="HL-7K3PX",
    course=1,
    given_on=DAY,
    position=Position.LEFT,
    kind=DoseKind.TABLET,
    shape=Shape.OVAL,
    largest_mm=12.0,
    seen_by=SeenBy.STAFF,
    went_down=WentDown.FIRST,
    whole=True,
    unchewed=True,
    unaided=True,
)


def test_success_is_seen_by_staff_whole_unchewed_and_unaided() -> None:
    assert DOSE.is_success
    for less in (
        {"seen_by": SeenBy.HOME},
        {"whole": None},
        {"unchewed": False},
        {"unaided": None},
        {"went_down": WentDown.NO, "whole": None},
    ):
        assert not replace(DOSE, **less).is_success


def test_a_later_try_can_be_a_success_and_keeps_no_promise_of_the_first() -> None:
    later = replace(DOSE, went_down=WentDown.LATER)
    assert later.is_success
    assert not later.went_first_try


@pytest.mark.parametrize(
    ("answers", "field"),
    [
        ({"largest_mm": 0.0}, "largest_mm"),
        ({"largest_mm": 80.0}, "largest_mm"),
        ({"rating": 6}, "rating"),
        ({"why_not": WhyNot.SPAT_OUT}, "why_not"),
        ({"went_down": WentDown.NO, "whole": None, "why_not": WhyNot.NOT_TRIED}, "why_not"),
        ({"went_down": WentDown.NO}, "whole"),
    ],
)
def test_answers_that_contradict_one_another_are_refused(
    answers: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        replace(DOSE, **answers)
    assert [each.where for each in refused.value.problems] == [field]


def test_all_faults_of_a_dose_are_told_at_once() -> None:
    with pytest.raises(Refused) as refused:
        replace(DOSE, largest_mm=-1.0, rating=0, why_not=WhyNot.MELTED)
    assert len(refused.value.problems) == 3


@pytest.mark.parametrize("less", [{"number": 0}, {"follow_up": 0}, {"positions": ()}])
def test_a_lock_that_no_program_makes_is_refused(less: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"count|position"):
        replace(LOCK, **less)


def test_a_lock_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        replace(LOCK, locked_at=datetime(2026, 11, 25, 10))  # noqa: DTZ001


def test_figures_of_a_position_that_was_not_practised_are_none() -> None:
    assert LOCK.of(Position.LEFT) is LOCK.positions[0]
    assert LOCK.of(Position.UP) is None
    assert LOCK.of(None) is None


# Which estimate is the promise


def locked(*days: tuple[int, int]) -> tuple[list[LockedEstimate], list[date]]:
    """Estimates by (follow-up, day of November)."""
    locks = [
        replace(LOCK, number=number, follow_up=follow_up)
        for number, (follow_up, _) in enumerate(days, start=1)
    ]
    return locks, [date(2026, 11, day) for _, day in days]


@pytest.mark.parametrize(
    ("made", "day", "number"),
    [
        ([(1, 10)], 10, 1),
        ([(1, 10)], 20, 1),
        # Corrected later: the first one stays the promise.
        ([(1, 10), (1, 11)], 20, 1),
        # A second follow-up makes a promise of its own, from its day on.
        ([(1, 10), (1, 11), (2, 24), (2, 25)], 26, 3),
        ([(1, 10), (1, 11), (2, 24), (2, 25)], 23, 1),
        ([(1, 10), (2, 24)], 24, 2),
    ],
)
def test_a_dose_is_laid_against_the_first_estimate_of_the_follow_up_before_it(
    made: list[tuple[int, int]], day: int, number: int
) -> None:
    locks, days = locked(*made)
    assert promise_for(locks, days=days, given_on=date(2026, 11, day)).number == number


def test_no_dose_is_dated_before_its_lock() -> None:
    locks, days = locked((1, 10), (2, 24))
    with pytest.raises(Refused, match=r"9 November 2026 lies before .* 10 November 2026"):
        promise_for(locks, days=days, given_on=date(2026, 11, 9))


def test_without_a_lock_there_is_nothing_to_lay_a_dose_against() -> None:
    with pytest.raises(Refused, match="Begin the follow-up first"):
        promise_for([], days=[], given_on=DAY)
