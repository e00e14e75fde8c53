"""Safety events close positions."""

from datetime import date

import pytest

from sidelong.training.event import Event, barred_positions, locked_trainees
from sidelong.training.position import Position
from sidelong.training.safety import Tier


def test_brief_cough_that_cleared_closes_nothing():
    assert barred_positions([Event("HL-1", 2, Tier.PAUSE, Position.LEFT)]) == {}


@pytest.mark.parametrize("tier", [Tier.STOP_TONIGHT, Tier.ACT_FIRST])
def test_safety_event_closes_its_position(tier):
    events = [Event("HL-1", 2, tier, Position.LEFT), Event("HL-1", 5, tier, Position.UP)]
    assert barred_positions(events) == {"HL-1": frozenset({Position.LEFT, Position.UP})}


def test_safety_event_in_an_unknown_position_closes_all_of_them():
    assert barred_positions([Event("HL-1", 2, Tier.STOP_TONIGHT)]) == {"HL-1": frozenset(Position)}


def test_only_the_gravest_tier_locks_practice():
    events = [Event("HL-1", 1, Tier.STOP_TONIGHT), Event("HL-2", 1, Tier.ACT_FIRST)]
    assert locked_trainees(events) == {"HL-2"}


def test_clinicians_answer_unlocks_practice_and_opens_no_position():
    answered = Event("HL-1", 1, Tier.ACT_FIRST, Position.LEFT, may_go_on_since=date(2026, 3, 1))
    assert locked_trainees([answered]) == frozenset()
    assert barred_positions([answered]) == {"HL-1": frozenset({Position.LEFT})}


def test_event_before_the_first_night_is_refused():
    with pytest.raises(ValueError, match="night 0"):
        Event("HL-1", 0, Tier.PAUSE)
