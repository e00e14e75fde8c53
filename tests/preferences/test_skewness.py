"""The correction from mode to mean: against finite differences and dense algebra."""

import numpy as np
import pytest

from sidelong.preferences import DEFAULT, Conduct, simulate_courses
from sidelong.preferences.likelihood import answer_likelihood
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import (
    Evidence,
    drift_covariance,
    first_night_covariance,
    prepare_evidence,
)
from sidelong.preferences.skewness import piece_covariances, skewness_pull
from sidelong.preferences.smoother import smooth_covariances


@pytest.fixture
def evidence(orders, rng) -> Evidence:
    conduct = Conduct(missing_night=0.2, blank_rating=0.2, blank_went_down=0.2, no_best=0.3)
    sim = simulate_courses(
        orders(8, nights=5),
        hyperparameters=DEFAULT,
        rng=rng,
        conduct=conduct,
        scale=np.array([5, 4, 3, 2] * 2),
    )
    return prepare_evidence(sim.courses, DEFAULT)


def test_pull_equals_finite_differences_of_the_trace_of_curvature(evidence, rng) -> None:
    ease = rng.normal(0.0, 2.0, evidence.offset.shape)
    factor = rng.normal(size=(5, 5, 5, 8))
    spread = np.einsum("tikn,tjkn->tijn", factor, factor)

    def half_trace(at: np.ndarray) -> np.ndarray:
        found = answer_likelihood(at, evidence)
        own = np.einsum("tiin,tin->tn", spread, found.curvature)
        return 0.5 * (own - np.einsum("tin,tijn,tjn->tn", found.rank_one, spread, found.rank_one))

    analytic = skewness_pull(ease, evidence, spread)
    step = 1e-5
    for place in range(5):
        moved = np.zeros_like(ease)
        moved[:, place] = step
        numeric = -(half_trace(ease + moved) - half_trace(ease - moved)) / (2 * step)
        np.testing.assert_allclose(analytic[:, place], numeric, atol=2e-7, rtol=1e-6)


def test_covariance_of_pieces_equals_dense_algebra(evidence) -> None:
    posterior = find_mode(evidence)
    found = piece_covariances(
        smooth_covariances(posterior.filtered, posterior.information)[0],
        posterior.information,
        night_sd=evidence.night_sd,
        piece_sd=evidence.piece_sd,
    )
    nights = 5
    steps = np.minimum.outer(np.arange(nights), np.arange(nights))
    prior = np.kron(np.ones((nights, nights)), first_night_covariance(DEFAULT))
    prior += np.kron(steps, drift_covariance(DEFAULT))
    noise = DEFAULT.night_sd**2 + DEFAULT.piece_sd**2 * np.eye(5)
    prior += np.kron(np.eye(nights), noise)
    local = answer_likelihood(evidence.offset + posterior.centred, evidence)
    for trainee in range(8):
        curvature = np.zeros((5 * nights, 5 * nights))
        for night in range(nights):
            at = slice(5 * night, 5 * night + 5)
            r = local.rank_one[night, :, trainee]
            curvature[at, at] = np.diag(local.curvature[night, :, trainee]) - np.outer(r, r)
        dense = np.linalg.inv(np.linalg.inv(prior) + curvature)
        for night in range(nights):
            at = slice(5 * night, 5 * night + 5)
            np.testing.assert_allclose(found[night, ..., trainee], dense[at, at], atol=1e-9)
