from datetime import date

import pytest

from sidelong.clinic.look.way import STATE_WORDS, StepState, WayStep


def test_a_step_that_is_done_says_by_whom_and_when():
    for missing in ({"by": "Sam"}, {"on": date(2026, 11, 2)}, {}):
        with pytest.raises(ValueError, match="by whom and when"):
            WayStep("Plan", StepState.DONE, **missing)


@pytest.mark.parametrize("state", [StepState.NEXT, StepState.LATER])
def test_a_step_ahead_was_done_by_nobody(state):
    with pytest.raises(ValueError, match="done by nobody"):
        WayStep("Plan", state, by="Sam")


def test_every_state_has_words_of_its_own():
    assert len({STATE_WORDS[state] for state in StepState}) == len(StepState)
