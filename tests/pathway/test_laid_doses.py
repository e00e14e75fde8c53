"""By command a dose is laid against the last estimate that was locked by its day."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.exchange.promises import mark_fit
from sidelong.pathway.laid_doses import follow_ups, lay_doses
from sidelong.problems import Refused
from sidelong.training.entry import WentDown
from sidelong.training.estimate import PositionEstimate, Verdict
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, LockedEstimate, SeenBy

LEFT = PositionEstimate(Position.LEFT, 0.9, 0.8, 4.0, 0.3, 3.5, 4.5)
FIRST = LockedEstimate(
    trainee="HL-0007",
    course=1,
    version=1,
    follow_up=1,
    number=1,
    locked_at=datetime(2026, 11, 10, 23, 30, tzinfo=UTC),
    locked_by="",
    program="0.1.0",
    fit=mark_fit(SHIPPED_FIT),
    seed="",
    evidence="a" * 64,
    positions=(LEFT,),
    nights_used=12,
    nights_planned=14,
    verdict=Verdict.CLEAR,
    suggested=Position.LEFT,
)
LATER = replace(
    FIRST,
    locked_at=datetime(2026, 11, 20, 9, 0, tzinfo=UTC),
    positions=(replace(LEFT, p_first_try=0.6),),
)
DOSE = FirstDose(
    trainee="HL-0007",
    course=1,
    given_on=date(2026, 11, 20),
    position=Position.LEFT,
    kind=DoseKind.TABLET,
    shape=Shape.OVAL,
    largest_mm=12.0,
    seen_by=SeenBy.STAFF,
    went_down=WentDown.FIRST,
)


def lay(*doses: FirstDose, locks=(LATER, FIRST), zone=UTC):
    def day_of(moment: datetime) -> date:
        return moment.astimezone(zone).date()

    return lay_doses(doses, locks, day_of=day_of, where="doses.csv")


@pytest.mark.parametrize(
    ("day", "chance"), [(11, 0.8), (19, 0.8), (20, 0.6), (28, 0.6)], ids=lambda each: str(each)
)
def test_the_last_estimate_that_was_locked_by_the_day_counts(day: int, chance: float) -> None:
    (promise,) = lay(replace(DOSE, given_on=date(2026, 11, day)))
    assert promise.chance == chance


def test_the_day_of_a_lock_is_that_of_the_site() -> None:
    on_the_tenth = replace(DOSE, given_on=date(2026, 11, 10))
    assert lay(on_the_tenth)[0].chance == 0.8
    with pytest.raises(Refused, match="before the day on which the first estimate was locked"):
        lay(on_the_tenth, zone=timezone(timedelta(hours=2)))


def test_a_table_that_is_named_twice_counts_once() -> None:
    known = follow_ups([FIRST, LATER, FIRST])
    assert [each.number for each in known["HL-0007", 1]] == [1, 2]
    assert [each.locked_at for each in known["HL-0007", 1]] == [FIRST.locked_at, LATER.locked_at]


def test_doses_without_a_locked_estimate_are_refused_all_at_once() -> None:
    with pytest.raises(Refused) as refused:
        lay(
            DOSE,
            replace(DOSE, trainee="HL-0008"),
            replace(DOSE, course=2),
            replace(DOSE, given_on=date(2026, 11, 9)),
        )
    places = [each.where for each in refused.value.problems]
    assert places == [
        "doses.csv, trainee HL-0008, course 1",
        "doses.csv, trainee HL-0007, course 2",
        "doses.csv, trainee HL-0007, course 1",
    ]
    assert {each.kind for each in refused.value.problems} == {"first-dose"}
