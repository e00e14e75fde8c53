"""The fit: recovery, small and odd cohorts, and what is left open."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    DEFAULT_PRIOR,
    CohortFit,
    Conduct,
    Courses,
    HyperparameterMixture,
    estimate_preferences,
    fit_cohort,
    simulate_courses,
)
from sidelong.preferences.coordinates import N_COORDINATES, PARTS, to_coordinates
from sidelong.preferences.fit import spread_evenly
from sidelong.preferences.landscape import Landscape

TRUTH = replace(
    DEFAULT,
    position_means=(0.5, -0.3, 0.0, 0.4, -0.7),
    level_sd=1.4,
    spread_sd=0.5,
    drift_sd=0.2,
    carryover_effects=(0.2, -0.2, 0.1, 0.1, -0.2),
)


def draw(orders, rng, *, n: int, nights: int = 14, truth=TRUTH, **more) -> Courses:
    conduct = Conduct(missing_night=0.15)
    return simulate_courses(
        orders(n, nights=nights), hyperparameters=truth, rng=rng, conduct=conduct, **more
    ).courses


def test_the_summed_gradient_equals_finite_differences_of_the_height(orders, rng) -> None:
    landscape = Landscape(draw(orders, rng, n=6, nights=5), DEFAULT_PRIOR)
    vector = DEFAULT_PRIOR.mean + rng.normal(0.0, 0.2, N_COORDINATES)
    gradient = landscape.height(vector, tolerance=1e-13).gradient
    for place in range(N_COORDINATES):
        step = np.zeros(N_COORDINATES)
        step[place] = 1e-4
        up = landscape.height(vector + step, tolerance=1e-13).value
        down = landscape.height(vector - step, tolerance=1e-13).value
        np.testing.assert_allclose(gradient[place], (up - down) / 2e-4, atol=2e-5, rtol=1e-5)


@pytest.mark.slow
def test_a_fit_of_many_trainees_recovers_what_they_were_drawn_from(orders, rng) -> None:
    fit = fit_cohort(draw(orders, rng, n=400))
    found, truth = fit.coordinates, to_coordinates(TRUTH)
    deviation = np.sqrt(np.diag(fit.covariance))
    assert fit.converged
    for name in ("position_means", "slot_effects", "carryover_effects", "learning_gain"):
        assert np.abs((found - truth) / deviation)[PARTS[name]].max() < 4.0, name
    # Laplace's approximation draws noises and weights a little to 0: some 0.1 on the logarithm.
    for name in ("level_sd", "spread_sd", "drift_sd", "night_sd", "piece_sd", "choice_slope"):
        assert abs(found - truth)[PARTS[name]].max() < 0.25, name


def test_a_fit_is_the_top_in_every_direction(small, rng) -> None:
    courses, fit = small
    landscape = Landscape(courses, DEFAULT_PRIOR)
    top = landscape.height(fit.coordinates).value
    deviation = np.sqrt(np.diag(fit.covariance))
    assert fit.converged
    assert fit.log_evidence + fit.log_prior == pytest.approx(top, abs=1e-3)
    for _ in range(10):
        away = fit.coordinates + deviation * rng.choice([-1.0, 1.0], N_COORDINATES)
        assert landscape.height(away).value < top


@pytest.fixture(scope="module")
def small() -> tuple[Courses, CohortFit]:
    """A dozen trainees of one week."""
    rng = np.random.default_rng(7)

    def orders(n: int, nights: int) -> np.ndarray:
        return np.argsort(rng.random((n, nights, 5)), axis=2)

    courses = draw(orders, rng, n=12, nights=7)
    return courses, fit_cohort(courses)


def test_small_cohorts_leave_more_open_and_say_so(small, orders, rng) -> None:
    few, more = small[1], fit_cohort(draw(orders, rng, n=48, nights=7))
    where = [PARTS[name].start for name in ("spread_sd", "level_sd", "position_means")]
    spread = [np.sqrt(np.diag(fit.covariance))[where] for fit in (few, more)]
    assert (spread[0] > 1.3 * spread[1]).all()
    assert len(few.mixture.points) == 32


def test_averaging_over_what_is_open_widens_the_answer(small) -> None:
    courses, fit = small
    alone = estimate_preferences(courses, hyperparameters=fit.hyperparameters)
    averaged = estimate_preferences(courses, hyperparameters=fit.mixture)
    assert averaged.sd.mean() > alone.sd.mean()
    assert (averaged.upper - averaged.lower).mean() > (alone.upper - alone.lower).mean()
    np.testing.assert_allclose(averaged.p_best.sum(axis=1), 1.0)


def test_a_mixture_of_equal_points_answers_like_the_point(orders, rng) -> None:
    courses = draw(orders, rng, n=5, nights=6)
    alone = estimate_preferences(courses, hyperparameters=TRUTH)
    many = HyperparameterMixture((TRUTH,) * 4, (0.25,) * 4)
    together = estimate_preferences(courses, hyperparameters=many)
    for name in ("ease", "covariance", "p_best", "p_first_try", "expected_rating", "sd"):
        np.testing.assert_allclose(getattr(together, name), getattr(alone, name), atol=1e-7)
    np.testing.assert_allclose(together.lower, alone.lower, atol=0.01)
    np.testing.assert_allclose(together.upper, alone.upper, atol=0.01)


def test_without_answers_the_fit_is_the_prior(blank) -> None:
    fit = fit_cohort(blank(10, 7))
    np.testing.assert_allclose(fit.coordinates, DEFAULT_PRIOR.mean, atol=1e-9)
    np.testing.assert_allclose(fit.covariance, DEFAULT_PRIOR.covariance, atol=1e-6)


def test_forms_that_nobody_used_keep_the_gaps_of_the_prior(small) -> None:
    _, fit = small
    unused = PARTS["thresholds_4"]
    gaps = slice(unused.start + 1, unused.stop)
    np.testing.assert_allclose(fit.coordinates[gaps], DEFAULT_PRIOR.mean[gaps], atol=1e-3)
    deviation = np.sqrt(np.diag(fit.covariance))[gaps]
    np.testing.assert_allclose(deviation, 0.4, rtol=0.02)


def test_one_position_and_one_category_are_fitted(blank) -> None:
    courses = blank(10, 7, allowed=(2,))
    courses.slot[:, :, 2] = 1
    courses.rating[:, :, 2] = 5
    courses.went_down[:, :, 2] = 1
    fit = fit_cohort(courses)
    found = estimate_preferences(courses, hyperparameters=fit.mixture)
    assert fit.converged
    assert (found.p_first_try[:, 2] > 0.8).all()
    assert np.isfinite(found.expected_rating[:, 2]).all()


def test_a_fit_does_not_depend_on_chance_or_on_the_order_of_trainees(small) -> None:
    courses, first = small
    again = fit_cohort(courses)
    turned = fit_cohort(courses.take(np.arange(12)[::-1]))
    np.testing.assert_array_equal(first.coordinates, again.coordinates)
    np.testing.assert_allclose(first.coordinates, turned.coordinates, atol=1e-4)


def test_trainees_are_chosen_evenly_over_the_order_of_enrolment() -> None:
    assert spread_evenly(10, 5).tolist() == [1, 3, 5, 7, 9]
    assert spread_evenly(3, 5).tolist() == [0, 1, 2]


def test_no_trainees_cannot_be_fitted(blank) -> None:
    with pytest.raises(ValueError, match="without trainees"):
        fit_cohort(blank(1, 7).take(slice(0, 0)))


def test_weights_that_are_no_distribution_are_refused() -> None:
    with pytest.raises(ValueError, match="sum to 1"):
        HyperparameterMixture((DEFAULT, DEFAULT), (0.5, 0.6))
    with pytest.raises(ValueError, match="weights"):
        HyperparameterMixture((DEFAULT,), (0.5, 0.5))
