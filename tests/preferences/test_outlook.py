"""What else follows from an estimate."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    Conduct,
    HyperparameterMixture,
    Hyperparameters,
    MoreNights,
    average_night,
    chance_better,
    correct_estimates,
    estimate_earlier,
    estimate_preferences,
    expect_of_more_nights,
    share_of_own_nights,
    simulate_courses,
    view_courses,
)


@pytest.fixture(scope="module")
def mixture() -> HyperparameterMixture:
    """Points as a small cohort leaves them: spreads from none to large, and unequal means."""
    drawn = np.random.default_rng(12)
    points = tuple(
        Hyperparameters(
            position_means=(0.0, float(0.4 * drawn.normal()), 0.0, 0.0, 0.0),
            spread_sd=float(drawn.choice([0.0, 0.4, 1.1])),
            drift_sd=float(0.12 * np.exp(0.3 * drawn.normal())),
        )
        for _ in range(12)
    )
    return HyperparameterMixture(points, (1 / 12,) * 12)


def test_chance_of_being_better_than_centre_equals_counting_draws(orders, rng) -> None:
    courses = simulate_courses(orders(4), hyperparameters=DEFAULT, rng=rng).courses
    found = estimate_preferences(courses)
    chance = chance_better(found)
    for row in range(4):
        draws = rng.multivariate_normal(found.ease[row], found.covariance[row], 40_000)
        # Leads that nobody feels are left to chance, as for the chance to be the best.
        draws += 0.1 * rng.standard_normal(draws.shape)
        better = (draws > draws[:, 2, None]).mean(axis=0)
        np.testing.assert_allclose(chance[row, [0, 1, 3, 4]], better[[0, 1, 3, 4]], atol=0.012)
    assert np.isnan(chance[:, 2]).all()


@pytest.mark.parametrize("other", [0, 1, 3, 4])
def test_of_two_positions_better_than_centre_is_the_chance_to_be_the_best(
    orders, rng, mixture, other: int
) -> None:
    """Two figures on one page must not contradict each other, whoever is open to whom."""
    courses = simulate_courses(orders(12), hyperparameters=DEFAULT, rng=rng).courses
    pair = np.isin(np.arange(5), [2, other])
    untried = np.where(pair, courses.slot, 0)
    two = replace(
        courses,
        slot=untried,
        rating=np.where(pair, courses.rating, 0),
        went_down=np.where(pair, courses.went_down, 0),
        felt_best=np.where(np.isin(courses.felt_best, [2, other]), courses.felt_best, -1),
        piece_mm=np.where(pair, courses.piece_mm, np.nan),
        previous=np.where(pair & np.isin(courses.previous, [2, other]), courses.previous, -1),
        allowed=np.tile(pair, (12, 1)),
    )
    open_to = np.tile(pair, (12, 1))
    for shared in (DEFAULT, mixture):
        found = estimate_preferences(two, hyperparameters=shared)
        np.testing.assert_allclose(
            chance_better(found)[:, other], found.p_best[:, other], atol=1e-9
        )
        # The same where all five were practised and three may not be suggested.
        found = estimate_preferences(courses, hyperparameters=shared, open_to=open_to)
        better = chance_better(found)
        np.testing.assert_allclose(better[:, other], found.p_ahead[:, other], atol=1e-9)
        assert np.isnan(better[:, ~pair]).all()
        assert (np.abs(found.p_ahead - found.p_best)[:, other] > 1e-3).any()


def test_they_agree_too_where_an_answer_was_held_against_the_exact_posterior(
    orders, rng, monkeypatch
) -> None:
    monkeypatch.setattr("sidelong.preferences.importance.FELT", 0.0)
    steep = replace(DEFAULT, spread_sd=1.6, choice_slope=4.5, piece_sd=0.9)
    courses = simulate_courses(orders(6, nights=6), hyperparameters=steep, rng=rng).courses
    open_to = np.tile(np.isin(np.arange(5), [1, 2]), (6, 1))
    found = estimate_preferences(courses, hyperparameters=steep, open_to=open_to)
    held = correct_estimates(courses, found, hyperparameters=steep)
    rows = held.is_corrected
    assert rows.sum() >= 3
    better = chance_better(held.estimates)[rows, 1]
    np.testing.assert_allclose(better, held.estimates.p_ahead[rows, 1], atol=1e-9)
    assert (np.abs(better - chance_better(found)[rows, 1]) > 1e-3).any()


def test_being_the_best_is_never_likelier_than_being_better_than_centre(
    orders, rng, mixture
) -> None:
    courses = simulate_courses(orders(40), hyperparameters=DEFAULT, rng=rng).courses
    found = estimate_preferences(courses, hyperparameters=mixture)
    better = np.delete(chance_better(found), 2, axis=1)
    assert (better > np.delete(found.p_best, 2, axis=1) - 1e-3).all()
    # Being better than centre and centre being better share out all that is possible.
    easier = found.p_easier
    np.testing.assert_allclose(easier + np.swapaxes(easier, 1, 2), 1.0, atol=1e-12)


def test_nothing_is_compared_with_a_centre_that_may_not_be_used(blank) -> None:
    found = estimate_preferences(blank(1, 7, allowed=(0, 3)))
    assert np.isnan(chance_better(found)).all()
    assert chance_better(found, than=0)[0, 3] == pytest.approx(0.5)


def test_nothing_is_compared_where_no_position_may_be_suggested(orders, rng) -> None:
    courses = simulate_courses(orders(2), hyperparameters=DEFAULT, rng=rng).courses
    found = estimate_preferences(courses, open_to=np.zeros((2, 5), bool))
    assert np.isnan(chance_better(found)).all()
    assert np.isnan(share_of_own_nights(courses, found)).all()
    ahead = expect_of_more_nights(found, telling=average_night(courses))
    assert np.isnan(ahead.highest_then).all()
    np.testing.assert_array_equal(found.p_ahead, found.p_best)


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


def test_the_share_is_that_of_positions_which_may_be_suggested(orders, rng) -> None:
    # One position practised every night, one hardly ever: who is compared decides the share.
    courses = simulate_courses(orders(1), hyperparameters=DEFAULT, rng=rng).courses
    seldom = courses.slot.copy()
    seldom[:, 1:, 4] = 0
    some = replace(
        courses,
        slot=seldom,
        rating=np.where(seldom > 0, courses.rating, 0),
        went_down=np.where(seldom > 0, courses.went_down, 0),
        felt_best=np.where(courses.felt_best == 4, -1, courses.felt_best),
    )
    known, little = (
        share_of_own_nights(some, estimate_preferences(some, open_to=np.isin([range(5)], pair)))[0]
        for pair in ([0, 1], [0, 4])
    )
    assert known > little + 0.1


def look_ahead(courses, *, nights: int = 7, hyperparameters=DEFAULT) -> MoreNights:
    return expect_of_more_nights(
        estimate_preferences(courses, hyperparameters=hyperparameters),
        telling=average_night(courses, hyperparameters=hyperparameters),
        nights=nights,
        hyperparameters=hyperparameters,
    )


def test_of_a_mixture_the_middle_point_says_how_telling_a_night_is(orders, rng, mixture) -> None:
    courses = simulate_courses(orders(3), hyperparameters=DEFAULT, rng=rng).courses
    assert (
        mixture.points[mixture.middle].spread_sd
        == sorted(point.spread_sd for point in mixture.points)[5]
    )
    alone = average_night(courses, hyperparameters=mixture.points[mixture.middle])
    np.testing.assert_allclose(average_night(courses, hyperparameters=mixture), alone, rtol=1e-9)
    view = view_courses(courses, (3,), hyperparameters=mixture)
    np.testing.assert_allclose(view.telling, alone, atol=1e-3)


def test_looking_ahead_begins_where_the_estimate_stands(orders, rng, mixture) -> None:
    """Without drift, what can be said later without practising is what is said now."""
    points = tuple(
        replace(each, drift_sd=0.0, level_drift_sd=0.0, spread_sd=0.3 + each.spread_sd)
        for each in mixture.points
    )
    still = HyperparameterMixture(points, mixture.weights)
    courses = simulate_courses(orders(20, nights=7), hyperparameters=DEFAULT, rng=rng).courses
    found = estimate_preferences(courses, hyperparameters=still)
    ahead = look_ahead(courses, hyperparameters=still)
    away = np.abs(ahead.highest_now - found.p_ahead.max(axis=1))
    assert away.max() < 0.05
    # Several points are taken as one normal: exact enough wherever more nights are a question.
    assert away[found.p_ahead.max(axis=1) < 0.8].max() < 0.01


def test_more_nights_make_the_answer_surer_and_never_worse(orders, rng) -> None:
    courses = simulate_courses(orders(8, nights=7), hyperparameters=DEFAULT, rng=rng).courses
    few, many = (look_ahead(courses, nights=n) for n in (2, 14))
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
    expected = look_ahead(first, nights=7, hyperparameters=still)
    now = estimate_preferences(first, hyperparameters=still).p_best
    then = estimate_preferences(drawn.courses, hyperparameters=still).p_best
    changed = (now.argmax(axis=1) != then.argmax(axis=1)).mean()
    assert abs(expected.highest_then.mean() - then.max(axis=1).mean()) < 0.05
    assert abs(expected.another.mean() - changed) < 0.1


def test_without_a_practised_night_nothing_is_expected(blank) -> None:
    assert np.isnan(look_ahead(blank(2, 7)).highest_then).all()


def test_looking_ahead_to_no_night_is_refused(blank) -> None:
    with pytest.raises(ValueError, match="looked ahead"):
        look_ahead(blank(1, 7), nights=0)


def test_missing_nights_do_not_count_as_telling(orders, rng) -> None:
    gaps = Conduct(missing_night=0.5)
    drawn = simulate_courses(orders(40), hyperparameters=DEFAULT, rng=rng)
    same = np.random.default_rng(20240501)
    thin = simulate_courses(orders(40), hyperparameters=DEFAULT, rng=same, conduct=gaps)
    full, half = (look_ahead(each.courses) for each in (drawn, thin))
    rise = [(each.highest_then - each.highest_now).mean() for each in (full, half)]
    assert rise[1] > 0.5 * rise[0]
