"""The Laplace approximation against closed forms and against dense algebra."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    estimate_preferences,
    simulate_courses,
)
from sidelong.preferences.likelihood import answer_likelihood
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence

PROBIT = replace(
    DEFAULT,
    level_sd=1.0,
    spread_sd=0.0,
    drift_sd=0.0,
    level_drift_sd=0.0,
    learning_gain=0.0,
    night_sd=0.0,
    piece_sd=0.0,
    slot_effects=(0.0, 0.0, 0.0, 0.0, 0.0),
    thresholds={5: (-1.5, -0.5, 0.5, 1.5), 4: (-1.0, 0.0, 1.0), 3: (-1.0, 1.0), 2: (0.0,)},
)
"""One latent normal and unit probit noise: the case with closed forms."""

# u ~ N(0, 1), m probit trials with chance Phi(u), k successes. The exact evidence is the Beta
# function B(k + 1, m - k + 1) (closed form); mode, Laplace evidence and Laplace SD were computed
# with scipy 1.17.1 by direct optimisation.
# m, k, mode of u, Laplace log evidence, Laplace SD, exact log evidence, exact mean, exact SD
TRIALS = [
    (1, 1, 0.50605447, -0.700696, 0.81320104, -0.6931471806, 0.5641895835, 0.8256452712),
    (5, 5, 1.16024644, -1.809890, 0.61834440, -1.7917594692, 1.2672063606, 0.6449241110),
    (5, 1, -0.60584411, -3.408243, 0.52080173, -3.4011973817, -0.6417550388, 0.5287511127),
    (14, 7, 0.0, -10.850968, 0.31761757, -10.8489486617, 0.0, 0.3188959894),
    (14, 10, 0.50301209, -9.619901, 0.33226232, -9.6168049804, 0.5157010430, 0.3344695780),
    (14, 14, 1.61129078, -2.733857, 0.51422854, -2.7080502011, 1.7359134449, 0.5486725529),
    (70, 63, 1.23108659, -25.170355, 0.19673786, -25.1672456825, 1.2443102538, 0.1982567931),
]


def trials(blank: Callable[..., Courses], *, successes: int, failures: int) -> Courses:
    m = successes + failures
    courses = blank(1, m, scale=2, allowed=(2,))
    courses.slot[0, :, 2] = 1
    courses.rating[0, :, 2] = [4] * successes + [2] * failures
    return courses


@pytest.mark.parametrize("row", TRIALS)
def test_probit_trials_have_the_known_mode_evidence_and_sd(row, blank) -> None:
    m, k, mode, evidence, sd, *_ = row
    courses = trials(blank, successes=k, failures=m - k)

    posterior = find_mode(prepare_evidence(courses, PROBIT), tolerance=1e-14)

    assert posterior.converged.all()
    np.testing.assert_allclose(posterior.filtered.mean[-1, 2, 0], mode, atol=2e-8)
    np.testing.assert_allclose(posterior.log_evidence[0], evidence, atol=1e-6)
    np.testing.assert_allclose(np.sqrt(posterior.filtered.covariance[-1, 2, 2, 0]), sd, atol=1e-8)


@pytest.mark.parametrize("row", TRIALS)
def test_the_estimate_lies_as_near_to_the_exact_posterior_as_documented(row, blank) -> None:
    m, k, *_, evidence, mean, sd = row
    found = estimate_preferences(trials(blank, successes=k, failures=m - k), hyperparameters=PROBIT)
    assert abs(found.ease[0, 2] - mean) < 0.005 * sd
    assert 0.988 < np.sqrt(found.covariance[0, 2, 2]) / sd < 1.0
    assert abs(found.log_evidence[0] - evidence) < 0.03


# One rating, u ~ N(0, 1), unit noise, cuts -1.5 -0.5 0.5 1.5: closed forms.
# rating, evidence, E[u], Var[u]
ONE_RATING = [
    (1, 0.144422183173, -1.112936833990, 0.596074229040),
    (3, 0.276326390168, 0.0, 0.520488194807),
    (4, 0.217414621743, 0.479594077940, 0.520242323309),
    (5, 0.144422183173, 1.112936833990, 0.596074229040),
]


@pytest.mark.parametrize(("rating", "evidence", "mean", "variance"), ONE_RATING)
def test_one_rating_comes_near_to_its_closed_form(rating, evidence, mean, variance, blank) -> None:
    courses = blank(1, 1, allowed=(2,))
    courses.slot[0, 0, 2] = 1
    courses.rating[0, 0, 2] = rating

    found = estimate_preferences(courses, hyperparameters=PROBIT)

    assert abs(found.ease[0, 2] - mean) < 0.004
    assert abs(found.covariance[0, 2, 2] - variance) < 0.015
    assert abs(found.log_evidence[0] - np.log(evidence)) < 0.02


def test_without_answers_the_posterior_is_the_prior(blank) -> None:
    posterior = find_mode(prepare_evidence(blank(2, 5), DEFAULT))
    prior = 1.0 + 4 * 0.12**2 + np.eye(5) * (0.64 + 4 * 0.12**2)
    np.testing.assert_allclose(posterior.filtered.covariance[-1, ..., 0], prior, atol=1e-12)
    np.testing.assert_allclose(posterior.log_evidence, 0.0, atol=1e-12)


def log_posterior(centred: np.ndarray, evidence, *, prior: np.ndarray) -> float:
    value = answer_likelihood(evidence.offset + centred, evidence).value[0]
    flat = centred.ravel()
    return float(value - 0.5 * flat @ np.linalg.solve(prior, flat))


def test_no_direction_leads_higher_than_the_mode(orders, rng) -> None:
    nights = 4
    sim = simulate_courses(orders(1, nights=nights), hyperparameters=DEFAULT, rng=rng)
    evidence = prepare_evidence(sim.courses, DEFAULT)
    noise = DEFAULT.night_sd**2 + DEFAULT.piece_sd**2 * np.eye(5)
    first = DEFAULT.level_sd**2 + DEFAULT.spread_sd**2 * np.eye(5)
    drift = DEFAULT.level_drift_sd**2 + DEFAULT.drift_sd**2 * np.eye(5)
    steps = np.minimum.outer(np.arange(nights), np.arange(nights))
    prior = np.kron(np.ones((nights, nights)), first) + np.kron(steps, drift)
    prior += np.kron(np.eye(nights), noise)
    posterior = find_mode(evidence, tolerance=1e-14)

    def height(centred: np.ndarray) -> float:
        return log_posterior(centred, evidence, prior=prior)

    top = height(posterior.centred)
    for _ in range(50):
        direction = rng.normal(size=posterior.centred.shape)
        direction *= 1e-4 / np.linalg.norm(direction)
        up, down = height(posterior.centred + direction), height(posterior.centred - direction)
        assert max(up, down) < top
        assert abs(up - down) < 1e-9


def test_the_search_arrives_from_contradictory_and_extreme_answers(blank) -> None:
    wild = replace(
        DEFAULT,
        level_sd=20.0,
        spread_sd=20.0,
        drift_sd=10.0,
        piece_sd=10.0,
        went_slope=8.0,
        choice_slope=15.0,
        thresholds={**DEFAULT.thresholds, 5: (-30.0, -29.9, 0.0, 25.0)},
    )
    courses = blank(2, 14)
    courses.slot[:] = np.arange(1, 6)
    courses.rating[:] = np.where(np.arange(14)[:, None] % 2, 1, 5)
    courses.went_down[:] = np.where(np.arange(14)[:, None] % 2, 1, 3)
    courses.rating[1, :, 0] = 2
    courses.felt_best[:] = np.arange(14) % 5
    posterior = find_mode(prepare_evidence(courses, wild))
    assert posterior.converged.all()
    assert np.isfinite(posterior.log_evidence).all()


def test_trainees_computed_together_get_what_they_get_alone(orders, rng) -> None:
    conduct = Conduct(missing_night=0.3)
    sim = simulate_courses(
        orders(9), hyperparameters=DEFAULT, rng=rng, conduct=conduct, scale=np.array([5, 3, 2] * 3)
    )
    together = estimate_preferences(sim.courses)
    for row in range(9):
        alone = estimate_preferences(sim.courses.take(np.array([row])))
        np.testing.assert_allclose(alone.ease[0], together.ease[row], atol=1e-6)
        np.testing.assert_allclose(alone.p_best[0], together.p_best[row], atol=1e-6)


def test_two_nights_equal_a_sum_over_a_fine_grid(blank) -> None:
    """One position, drift and shared noise, all by brute force on four dimensions."""
    small = replace(PROBIT, level_sd=0.8, level_drift_sd=0.5, piece_sd=0.6)
    courses = blank(1, 2, allowed=(2,))
    courses.slot[0, :, 2] = 1
    courses.rating[0, :, 2] = [4, 5]
    courses.went_down[0, :, 2] = [2, 1]

    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    weights = weights / weights.sum()
    piece = 0.6 * nodes

    def chance(ease: np.ndarray, low: float, high: float, went: tuple[float, float]) -> np.ndarray:
        felt = ease[:, None] + piece
        rating = norm.cdf(high - felt) - norm.cdf(low - felt)
        logit = DEFAULT.went_slope * felt
        down = 1 / (1 + np.exp(logit - went[1])) - 1 / (1 + np.exp(logit - went[0]))
        return (rating * down) @ weights

    grid = np.linspace(-6, 6, 601)
    first = norm.pdf(grid, scale=0.8) * chance(grid, 0.5, 1.5, DEFAULT.went_cuts)
    move = norm.pdf(grid[:, None], grid, 0.5)
    cuts = (DEFAULT.went_cuts[1], 700.0)
    second = chance(grid, 1.5, 40.0, cuts) * (move @ first) * (grid[1] - grid[0])
    third = move @ second * (grid[1] - grid[0])
    mass = third.sum()
    mean = (grid * third).sum() / mass
    sd = np.sqrt((grid**2 * third).sum() / mass - mean**2)

    found = estimate_preferences(courses, hyperparameters=small)

    assert abs(found.ease[0, 2] - mean) < 0.01
    assert abs(np.sqrt(found.covariance[0, 2, 2]) - sd) < 0.01
    assert abs(found.log_evidence[0] - np.log(mass * (grid[1] - grid[0]))) < 0.06
