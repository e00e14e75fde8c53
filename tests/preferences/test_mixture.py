"""What a cohort leaves open: plain descriptions, spreads on a grid, and the points of both."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    DEFAULT_PRIOR,
    CohortFit,
    Courses,
    estimate_preferences,
    fit_cohort,
    simulate_courses,
)
from sidelong.preferences.coordinates import N_COORDINATES, PARTS, to_coordinates
from sidelong.preferences.landscape import Landscape
from sidelong.preferences.mixture import leave_open
from sidelong.preferences.nodes import NO_DIFFERENCES, NO_MEANS

ALIKE = replace(DEFAULT, spread_sd=0.0, drift_sd=0.0)


def draw(n: int, *, truth=ALIKE, seed: int = 11, nights: int = 14) -> Courses:
    rng = np.random.default_rng(seed)
    orders = np.argsort(rng.random((n, nights, 5)), axis=2)
    return simulate_courses(orders, hyperparameters=truth, rng=rng).courses


@pytest.fixture(scope="module")
def alike() -> tuple[Courses, CohortFit]:
    """Thirty trainees for whom positions make no difference."""
    courses = draw(30)
    return courses, fit_cohort(courses)


def test_a_cohort_without_differences_is_believed_to_have_none(alike) -> None:
    courses, fit = alike
    assert fit.converged
    assert fit.no_differences > 0.5
    assert fit.no_means > 0.9
    assert fit.hyperparameters.spread_sd < 0.01
    found = estimate_preferences(courses, hyperparameters=fit.mixture)
    np.testing.assert_allclose(found.p_best, 0.2, atol=0.05)


def test_differences_between_trainees_are_never_taken_for_none() -> None:
    fit = fit_cohort(draw(20, truth=replace(DEFAULT, spread_sd=0.5)))
    assert fit.no_differences < 0.01
    spreads = [point.spread_sd for point in fit.mixture.points]
    assert min(spreads) > 0.2
    assert max(spreads) < 0.9


def test_positions_that_differ_on_average_are_seen_and_their_means_kept_open() -> None:
    means = (0.7, -0.4, 0.0, 0.5, -1.0)
    fit = fit_cohort(draw(30, truth=replace(DEFAULT, position_means=means, spread_sd=0.4)))
    assert fit.no_means < 0.01
    found = np.array([point.position_means for point in fit.mixture.points])
    np.testing.assert_allclose(found.mean(axis=0), means, atol=0.4)
    assert 0.03 < found[:, 0].std() < 0.3


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_a_node_never_outweighs_what_was_climbed_by_a_promise_alone(seed) -> None:
    # Far from the top a quadratic promise can be wild; it must be tried before it counts.
    courses = draw(10, seed=seed)
    fit = fit_cohort(courses)
    landscape = Landscape(courses, DEFAULT_PRIOR)
    top = landscape.height(fit.coordinates).value
    found = landscape.height(to_coordinates(fit.hyperparameters))
    bare = fit.hyperparameters.spread_sd < 0.01
    beyond = to_coordinates(fit.hyperparameters)[PARTS["spread_sd"]] - np.log(0.8)
    beyond_drift = to_coordinates(fit.hyperparameters)[PARTS["drift_sd"]] - np.log(0.12)
    # Without differences the prior of the spreads does not apply: it is taken out again.
    width = DEFAULT_PRIOR.widths["spread_sd"]
    away = ((beyond**2 + beyond_drift**2) / width**2).item()
    height = found.value + (0.5 * away if bare else 0.0)
    assert height > top - 5.0


def test_large_cohorts_answer_from_the_likelier_description() -> None:
    fit = fit_cohort(draw(700, nights=5))
    assert fit.no_differences > 0.5
    assert len(fit.mixture.points) == 1
    assert fit.hyperparameters == fit.mixture.points[0]
    assert fit.hyperparameters.position_means == (0.0,) * 5


def test_one_spread_is_integrated_like_a_finer_grid_does(alike, monkeypatch) -> None:
    # Half the step, a wider reach: the chance of no differences must hardly move.
    courses, fit = alike
    steps = np.arange(-12.0, 7.1) * 0.45
    monkeypatch.setattr("sidelong.preferences.nodes._STEPS", steps)
    finer = fit_cohort(courses)
    assert finer.no_differences == pytest.approx(fit.no_differences, abs=0.03)


def test_points_have_the_covariance_they_were_asked_for(rng, blank) -> None:
    # Without answers the posterior is the prior, so all but the grid is known in closed form.
    landscape = Landscape(blank(3, 7), DEFAULT_PRIOR)
    covariance = DEFAULT_PRIOR.covariance
    left = leave_open(landscape, DEFAULT_PRIOR.mean, covariance=covariance, number=64)
    points = np.array([to_coordinates(point) for point in left.mixture.points])
    free = np.setdiff1d(
        np.arange(N_COORDINATES),
        [
            PARTS["spread_sd"].start,
            PARTS["drift_sd"].start,
            *range(PARTS["position_means"].start, PARTS["position_means"].stop),
        ],
    )
    moved = (points - DEFAULT_PRIOR.mean)[:, free]
    np.testing.assert_allclose(moved.mean(axis=0), 0.0, atol=1e-9)
    np.testing.assert_allclose(moved.T @ moved / 64, covariance[np.ix_(free, free)], atol=1e-9)


def test_without_answers_the_plain_descriptions_keep_their_prior_chances(blank) -> None:
    landscape = Landscape(blank(3, 7), DEFAULT_PRIOR)
    left = leave_open(landscape, DEFAULT_PRIOR.mean, covariance=DEFAULT_PRIOR.covariance, number=64)
    assert left.no_differences == pytest.approx(NO_DIFFERENCES, abs=0.01)
    assert left.no_means == pytest.approx(NO_MEANS, abs=0.01)
