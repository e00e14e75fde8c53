"""What else follows from an estimate."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    Conduct,
    chance_better,
    estimate_earlier,
    estimate_preferences,
    expect_of_more_nights,
    share_of_own_nights,
    simulate_courses,
)


def test_chance_of_being_better_than_centre_equals_counting_draws(orders, rng) -> None:
    courses = simulate_courses(orders(4), hyperparameters=DEFAULT, rng=rng).courses
    found = estimate_preferences(courses)
    chance = chance_better(found)
    for row in range(4):
        draws = rng.multivariate_normal(found.ease[row], found.covariance[row], 40_000)
        better = (draws > draws[:, 2, None]).mean(axis=0)
        np.testing.assert_allclose(chance[row, [0, 1, 3, 4]], better[[0, 1, 3, 4]], atol=0.012)
    assert np.isnan(chance[:, 2]).all()


def test_nothing_is_compared_with_a_centre_that_may_not_be_used(blank) -> None:
    found = estimate_preferences(blank(1, 7, allowed=(0, 3)))
    assert np.isnan(chance_better(found)).all()
    assert chance_better(found, than=0)[0, 3] == pytest.approx(0.5)


def test_the_share_of_own_nights_is_0_before_them_and_grows(orders, rng) -> None:
    courses = simulate_courses(orders(6), hyperparameters=DEFAULT, rng=rng).courses
    shares = [
        share_of_own_nights(courses, each) for each in estimate_earlier(courses, [0, 3, 7, 14])
    ]
    np.testing.assert_allclose(shares[0], 0.0, atol=1e-9)
    assert (np.diff(np.array(shares), axis=0) > 0).all()
    assert (shares[-1] > 0.6).all()


def test_with_one_position_there_is_no_share(blank) -> None:
    courses = blank(1, 7, allowed=(1,))
    assert np.isnan(share_of_own_nights(courses, estimate_preferences(courses))).all()


def test_more_nights_make_the_answer_surer_and_never_worse(orders, rng) -> None:
    courses = simulate_courses(orders(8, nights=7), hyperparameters=DEFAULT, rng=rng).courses
    few, many = (expect_of_more_nights(courses, nights=n) for n in (2, 14))
    assert (few.highest_then > few.highest_now - 0.01).all()
    assert many.highest_then.mean() > few.highest_then.mean()
    assert (few.gain >= 0).all()
    assert many.gain.mean() > few.gain.mean()
    assert ((many.another >= 0) & (many.another <= 1)).all()


def test_what_is_expected_of_more_nights_is_what_happens(orders, rng) -> None:
    """Simulated trainees do practise seven more nights; the expectation holds on average."""
    still = replace(DEFAULT, learning_gain=0.5)
    drawn = simulate_courses(orders(120, nights=14), hyperparameters=still, rng=rng)
    first = replace(drawn.courses.until(7), planned=np.full(120, 7))
    expected = expect_of_more_nights(first, nights=7, hyperparameters=still)
    now = estimate_preferences(first, hyperparameters=still).p_best
    then = estimate_preferences(drawn.courses, hyperparameters=still).p_best
    changed = (now.argmax(axis=1) != then.argmax(axis=1)).mean()
    assert abs(expected.highest_then.mean() - then.max(axis=1).mean()) < 0.05
    assert abs(expected.another.mean() - changed) < 0.1


def test_without_a_practised_night_nothing_is_expected(blank) -> None:
    assert np.isnan(expect_of_more_nights(blank(2, 7)).highest_then).all()


def test_looking_ahead_to_no_night_is_refused(blank) -> None:
    with pytest.raises(ValueError, match="looked ahead"):
        expect_of_more_nights(blank(1, 7), nights=0)


def test_missing_nights_do_not_count_as_telling(orders, rng) -> None:
    gaps = Conduct(missing_night=0.5)
    drawn = simulate_courses(orders(40), hyperparameters=DEFAULT, rng=rng)
    same = np.random.default_rng(20240501)
    thin = simulate_courses(orders(40), hyperparameters=DEFAULT, rng=same, conduct=gaps)
    full, half = (expect_of_more_nights(each.courses, nights=7) for each in (drawn, thin))
    rise = [(each.highest_then - each.highest_now).mean() for each in (full, half)]
    assert rise[1] > 0.5 * rise[0]
