"""The written rules for moving on the ladder."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.problems import Refused
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Piece
from sidelong.training.safety import Tier
from sidelong.training.stepping import (
    Move,
    PractisedNight,
    SteppingRules,
    advise_step,
    start_step,
)

RULES = SteppingRules()
LADDER = Ladder(tuple(Piece(f"p{size}", size, size, size) for size in (3, 4, 5, 6)))


def easy(step: int) -> PractisedNight:
    return PractisedNight(step, 5, 5, 0, (5, 4, 4, 5, 2))


def hard(step: int) -> PractisedNight:
    return PractisedNight(step, 5, 5, 0, (5, 4, 3, 3, 2))


def failed(step: int) -> PractisedNight:
    return PractisedNight(step, 5, 1, 2, (2,))


def event(step: int, tier: Tier) -> PractisedNight:
    return PractisedNight(step, 5, 5, 0, (5, 5, 5, 5, 5), tier)


def advise(*nights: PractisedNight, rules: SteppingRules = RULES) -> tuple[int, Move]:
    advice = advise_step(nights, ladder=LADDER, rules=rules)
    assert advice.reason
    return advice.step, advice.move


def test_easy_night_forgives_one_hard_position_in_five() -> None:
    assert easy(1).is_easy(RULES)
    assert not hard(1).is_easy(RULES)


def test_night_with_blank_ratings_or_untried_positions_is_not_easy() -> None:
    assert not PractisedNight(1, 5, 5, 0, (5, 5, 5)).is_easy(RULES)
    assert not PractisedNight(1, 5, 4, 0, (5, 5, 5, 5)).is_easy(RULES)


def test_three_easy_nights_in_a_row_step_up_one() -> None:
    assert advise(easy(1), easy(1)) == (1, Move.STAY)
    assert advise(easy(1), easy(1), easy(1)) == (2, Move.UP)
    assert advise(easy(1), hard(1), easy(1), easy(1)) == (1, Move.STAY)


def test_easy_nights_of_another_step_do_not_count() -> None:
    assert advise(easy(1), easy(1), easy(2)) == (2, Move.STAY)


def test_two_failed_nights_step_back() -> None:
    assert advise(easy(2), failed(3)) == (3, Move.STAY)
    assert advise(easy(2), failed(3), failed(3)) == (2, Move.BACK)


def test_back_is_to_the_last_step_that_was_easy() -> None:
    assert advise(easy(1), hard(2), failed(3), failed(3)) == (1, Move.BACK)


def test_failing_on_the_first_step_asks_for_a_call() -> None:
    advice = advise_step([failed(1), failed(1)], ladder=LADDER, rules=RULES)

    assert (advice.step, advice.move) == (1, Move.STAY)
    assert "phone" in advice.reason


def test_one_position_alone_fails_a_night_of_one() -> None:
    assert PractisedNight(1, 1, 0, 1).is_failed()
    assert not PractisedNight(1, 5, 4, 1).is_failed()


def test_event_that_stops_the_night_steps_back_however_easy_it_was() -> None:
    assert advise(easy(1), easy(2), event(2, Tier.STOP_TONIGHT)) == (1, Move.BACK)


def test_grave_event_locks_and_no_later_night_opens() -> None:
    assert advise(easy(1), event(1, Tier.ACT_FIRST)) == (1, Move.LOCKED)
    assert advise(event(1, Tier.ACT_FIRST), easy(1), easy(1), easy(1)) == (1, Move.LOCKED)


def test_brief_cough_changes_nothing() -> None:
    assert advise(easy(1), easy(1), event(1, Tier.PAUSE)) == (2, Move.UP)


def test_course_may_finish_early_on_the_last_step() -> None:
    nights = [easy(3)] * 4 + [easy(4)] * 3

    assert advise(*nights) == (4, Move.FINISH)
    assert advise(*nights[1:]) == (4, Move.STAY)
    assert advise(*nights, rules=SteppingRules(finish_early=False)) == (4, Move.STAY)


def test_home_starts_below_what_the_visit_showed() -> None:
    assert start_step(3, ladder=LADDER, rules=RULES) == 2
    assert start_step(3, ladder=LADDER, rules=SteppingRules(start_below_seen=0)) == 3
    assert start_step(1, ladder=LADDER, rules=RULES) == 1
    assert start_step(None, ladder=LADDER, rules=RULES) == 1
    assert start_step(4, ladder=LADDER, rules=SteppingRules(start_higher=False)) == 1
    with pytest.raises(ValueError, match="no step 5"):
        start_step(5, ladder=LADDER, rules=RULES)


def test_advice_needs_nights_of_this_ladder() -> None:
    with pytest.raises(ValueError, match="nights on this ladder"):
        advise_step([], ladder=LADDER, rules=RULES)
    with pytest.raises(ValueError, match="nights on this ladder"):
        advise_step([easy(5)], ladder=LADDER, rules=RULES)


NIGHT = st.builds(
    lambda step, down, bad, rating, tier: PractisedNight(
        step, 5, down, min(bad, 5 - down), (rating,) * down, tier
    ),
    st.integers(1, 4),
    st.integers(0, 5),
    st.integers(0, 5),
    st.integers(1, 5),
    st.sampled_from([None, *Tier]),
)


@given(st.lists(NIGHT, min_size=1, max_size=14))
def test_never_two_sizes_in_one_jump_and_never_off_the_ladder(
    nights: list[PractisedNight],
) -> None:
    advice = advise_step(nights, ladder=LADDER, rules=RULES)

    assert 1 <= advice.step <= min(4, nights[-1].step + 1)
    assert (advice.step > nights[-1].step) is (advice.move is Move.UP)


@pytest.mark.parametrize(
    "wrong",
    [
        {"up_after_easy_nights": 0},
        {"easy_rating": 2},
        {"easy_share": 0.0},
        {"back_after_failed_nights": 4},
        {"finish_easy_nights": 0},
    ],
)
def test_rules_that_rush_or_never_move_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(Refused):
        SteppingRules(**wrong)  # type: ignore[arg-type]


def test_nights_that_cannot_be_are_refused() -> None:
    for wrong in ((0, 5, 1, 0), (1, 6, 1, 0), (1, 5, 4, 2), (1, 5, -1, 0)):
        with pytest.raises(ValueError, match=r"."):
            PractisedNight(*wrong)
    with pytest.raises(ValueError, match="ratings"):
        PractisedNight(1, 5, 1, 0, (6,))
