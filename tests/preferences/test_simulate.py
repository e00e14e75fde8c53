"""Drawn courses against closed forms of the model."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from sidelong.preferences import DEFAULT, LATER, NO, Conduct, simulate_courses
from sidelong.preferences.model import learning_curve
from sidelong.preferences.simulate import draw_ease

PLAIN = replace(
    DEFAULT,
    spread_sd=0.0,
    level_drift_sd=0.0,
    drift_sd=0.0,
    learning_gain=0.0,
    night_sd=0.0,
    piece_sd=0.0,
    slot_effects=(0.0,) * 5,
    carryover_failed=0.0,
    thresholds={**DEFAULT.thresholds, 2: (0.0,)},
)


def success(rng: np.random.Generator, *, hyperparameters, n: int = 60_000) -> np.ndarray:
    orders = np.full((n, 2, 1), 2)
    sim = simulate_courses(orders, hyperparameters=hyperparameters, rng=rng, scale=2)
    return sim.courses.rating[:, :, 2] == 4


@pytest.mark.parametrize(
    ("variance", "drift", "both", "first_only"),
    [(1.0, 0.25, 0.328126404728, 0.171873595272), (0.5, 0.1, 0.302303419453, 0.197696580547)],
)
def test_two_nights_with_drift_follow_the_orthant_formula(
    rng, variance: float, drift: float, both: float, first_only: float
) -> None:
    # rho = s2 / sqrt((1 + s2)(1 + s2 + q2)), P(11) = 1/4 + asin(rho) / (2 pi): closed form.
    drawn = success(
        rng,
        hyperparameters=replace(PLAIN, level_sd=variance**0.5, level_drift_sd=drift**0.5),
    )
    assert abs((drawn[:, 0] & drawn[:, 1]).mean() - both) < 0.008
    assert abs((drawn[:, 0] & ~drawn[:, 1]).mean() - first_only) < 0.008


def test_positions_of_one_night_share_what_the_model_says(rng) -> None:
    ease = draw_ease(40_000, 3, hyperparameters=DEFAULT, rng=rng)
    found = np.cov(ease[:, 2], rowvar=False)
    shared = DEFAULT.level_sd**2 + 2 * DEFAULT.level_drift_sd**2
    own = DEFAULT.spread_sd**2 + 2 * DEFAULT.drift_sd**2
    np.testing.assert_allclose(found, shared + own * np.eye(5), atol=0.04)


def test_learning_rises_by_its_gain_and_levels_off() -> None:
    nights = np.arange(1, 15)
    curve = learning_curve(nights, DEFAULT)
    assert curve[0] == 0.0
    assert curve[-1] == pytest.approx(DEFAULT.learning_gain)
    assert (np.diff(curve) > 0).all()
    assert (np.diff(curve, 2) < 0).all()
    straight = learning_curve(nights, replace(DEFAULT, learning_rate=0.0))
    np.testing.assert_allclose(straight, np.arange(14) / 13)
    nearly = learning_curve(nights, replace(DEFAULT, learning_rate=1e-6))
    np.testing.assert_allclose(nearly, straight, atol=1e-5)


def test_a_night_stops_after_two_failed_positions(orders, rng) -> None:
    hard = replace(DEFAULT, went_cuts=(0.0, 1.0))
    courses = simulate_courses(orders(200), hyperparameters=hard, rng=rng).courses
    failed = (courses.went_down == NO).sum(axis=2)
    assert failed.max() == 2
    stopped = failed == 2
    last = courses.slot.max(axis=2)
    in_order = np.take_along_axis(courses.went_down, courses.slot.argmax(axis=2)[..., None], 2)
    assert (in_order[stopped] == NO).all()
    assert (last[~stopped] == 5).all()


def test_what_came_before_is_recorded_with_each_piece(orders, rng) -> None:
    planned = orders(50)
    courses = simulate_courses(planned, hyperparameters=DEFAULT, rng=rng).courses
    for trainee, night in ((0, 0), (7, 3), (49, 13)):
        for slot in range(1, 5):
            here, before = planned[trainee, night, slot], planned[trainee, night, slot - 1]
            if courses.slot[trainee, night, here]:
                assert courses.slot[trainee, night, here] == slot + 1
                assert courses.previous[trainee, night, here] == before
                assert courses.previous_failed[trainee, night, here] == (
                    courses.went_down[trainee, night, before] == NO
                )


def test_the_best_is_named_among_positions_that_went_down(orders, rng) -> None:
    hard = replace(DEFAULT, went_cuts=(-0.5, 0.3))
    courses = simulate_courses(orders(200), hyperparameters=hard, rng=rng).courses
    named = courses.felt_best >= 0
    answer = np.take_along_axis(courses.went_down, np.maximum(courses.felt_best, 0)[..., None], 2)
    assert np.isin(answer[..., 0][named], (1, LATER)).all()
    none_down = ~np.isin(courses.went_down, (1, LATER)).any(axis=2)
    assert not named[none_down].any()


def test_conduct_leaves_out_its_share(orders, rng) -> None:
    conduct = Conduct(missing_night=0.3, blank_rating=0.1, no_best=0.5)
    easy = replace(DEFAULT, went_cuts=(-30.0, -29.0))
    courses = simulate_courses(orders(600), hyperparameters=easy, rng=rng, conduct=conduct).courses
    practised = (courses.slot > 0).any(axis=2)
    assert abs(practised.mean() - 0.7) < 0.02
    assert abs((courses.rating[courses.slot > 0] == 0).mean() - 0.1) < 0.01
    assert abs((courses.felt_best[practised] < 0).mean() - 0.5) < 0.03
    with pytest.raises(ValueError, match="no_best"):
        Conduct(no_best=1.5)


def test_shares_of_ratings_follow_the_probit(rng) -> None:
    orders = np.full((80_000, 1, 1), 2)
    sim = simulate_courses(orders, hyperparameters=PLAIN, rng=rng)
    cuts = np.array(DEFAULT.thresholds[5])
    expected = np.diff(norm.cdf(cuts, scale=np.sqrt(2.0)), prepend=0.0, append=1.0)
    shares = np.bincount(sim.courses.rating[:, 0, 2], minlength=6)[1:] / 80_000
    np.testing.assert_allclose(shares, expected, atol=0.006)


def test_the_same_seed_draws_the_same_courses(orders) -> None:
    planned = orders(5)
    first, second = (
        simulate_courses(planned, hyperparameters=DEFAULT, rng=np.random.default_rng(7))
        for _ in range(2)
    )
    np.testing.assert_array_equal(first.courses.rating, second.courses.rating)
    np.testing.assert_array_equal(first.ease, second.ease)


def test_plans_of_fewer_nights_and_positions_are_padded(rng) -> None:
    orders = np.full((2, 14, 5), -1)
    orders[0, :7, :2] = [1, 3]
    orders[1, :, :] = np.arange(5)
    sim = simulate_courses(orders, hyperparameters=DEFAULT, rng=rng)
    assert sim.courses.planned.tolist() == [7, 14]
    assert sim.courses.allowed[0].tolist() == [False, True, False, True, False]
    assert sim.courses.nights_used[0] == 7
    assert sim.best[0] in {1, 3}
    np.testing.assert_array_equal(sim.next_ease[0], sim.ease[0, 7])
