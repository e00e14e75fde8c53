import numpy as np
import pytest

from sidelong.preferences import VerdictRule, give_verdict

LEVEL = np.array([4.0, 4.0, 4.0, 4.0, 4.0])
UNEVEN = np.array([2.0, 3.0, 3.5, 4.0, 4.6])
ALL = np.ones(5, bool)


def verdict(p_best, p_first=0.7, ratings=UNEVEN, nights=14, may_recommend=ALL, converged=True):
    return give_verdict(
        np.array(p_best),
        np.broadcast_to(np.array(p_first), 5),
        expected_rating=ratings,
        nights_used=nights,
        may_recommend=may_recommend,
        converged=converged,
    )


@pytest.mark.parametrize(
    ("chance", "word", "best"),
    [(0.80, "clear", 4), (0.79, "likely", 4), (0.55, "likely", 4), (0.54, "too close", None)],
)
def test_the_chance_of_the_best_sets_the_word(chance: float, word: str, best: int | None) -> None:
    rest = (1 - chance) / 4
    found = verdict([rest, rest, rest, rest, chance])
    assert (found.word, found.best) == (word, best)


def test_few_nights_say_nothing_however_sure_the_numbers_look() -> None:
    sure = [0.0, 0.0, 0.0, 0.0, 1.0]
    assert verdict(sure, nights=4).word == "insufficient"
    assert verdict(sure, nights=5).word == "clear"
    assert verdict(sure, nights=0).word == "insufficient"


def test_an_approximation_that_did_not_arrive_says_nothing() -> None:
    assert verdict([0.0, 0.0, 0.0, 0.0, 1.0], converged=False).word == "insufficient"


def test_all_work_needs_every_position_to_go_down_and_hardly_any_difference() -> None:
    even = [0.2] * 5
    assert verdict(even, p_first=0.9, ratings=LEVEL).word == "all work"
    assert verdict(even, p_first=0.9, ratings=UNEVEN).word == "too close"
    assert verdict(even, p_first=[0.95, 0.95, 0.89, 0.95, 0.95], ratings=LEVEL).word == "too close"


def test_a_position_that_may_not_be_recommended_is_never_named() -> None:
    without_up = np.array([True, True, True, True, False])
    found = verdict([0.01, 0.01, 0.02, 0.06, 0.9], may_recommend=without_up)
    assert found.word == "too close"
    assert verdict([0, 0, 0, 0.9, 0.1], may_recommend=without_up).best == 3


def test_positions_out_of_question_do_not_spoil_all_work() -> None:
    without_up = np.array([True, True, True, True, False])
    ratings = np.array([4.0, 4.0, 4.0, 4.0, 1.5])
    first = [0.95, 0.95, 0.95, 0.95, 0.2]
    found = verdict([0.2] * 5, p_first=first, ratings=ratings, may_recommend=without_up)
    assert found.word == "all work"


def test_a_single_position_is_never_called_clear() -> None:
    only = np.array([False, False, True, False, False])
    ratings = np.array([np.nan, np.nan, 4.0, np.nan, np.nan])
    assert verdict([0, 0, 1, 0, 0], may_recommend=only, ratings=ratings).word == "insufficient"
    works = verdict([0, 0, 1, 0, 0], p_first=0.95, may_recommend=only, ratings=ratings)
    assert works.word == "all work"


def test_nothing_to_recommend_is_insufficient() -> None:
    assert verdict([0.2] * 5, may_recommend=np.zeros(5, bool)).word == "insufficient"


def test_thresholds_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="likely < clear"):
        VerdictRule(clear=0.5)
    with pytest.raises(ValueError, match="out of range"):
        VerdictRule(fewest_nights=0)
