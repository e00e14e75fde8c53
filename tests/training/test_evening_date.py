"""Which evening a moment belongs to: nights end at 04:00 of the site's time zone."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from sidelong.training.evening_date import evening_date

EVENING = date(2026, 11, 25)


@pytest.mark.parametrize("clock", ["2026-11-25T04:00", "2026-11-25T19:30", "2026-11-26T03:59"])
def test_an_evening_reaches_from_four_to_four(clock: str) -> None:
    assert evening_date(datetime.fromisoformat(clock)) == EVENING


@pytest.mark.parametrize("clock", ["2026-11-25T03:59", "2026-11-26T04:00"])
def test_before_and_after_it_is_another_one(clock: str) -> None:
    assert evening_date(datetime.fromisoformat(clock)) != EVENING


@pytest.mark.parametrize(
    ("clock", "evening"),
    [("2026-03-29T03:30", date(2026, 3, 28)), ("2026-10-25T03:30", date(2026, 10, 24))],
)
def test_the_clocks_on_the_wall_count_when_they_are_changed(clock: str, evening: date) -> None:
    """European clocks go forward at 01:00 UTC on 29 March 2026, back on 25 October (2000/84/EC)."""
    moment = datetime.fromisoformat(clock).replace(tzinfo=ZoneInfo("Europe/Vienna"))
    assert evening_date(moment) == evening
