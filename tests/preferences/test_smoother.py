"""The night-by-night passes against one dense matrix over all nights."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import DEFAULT, Hyperparameters
from sidelong.preferences.likelihood import Likelihood
from sidelong.preferences.model import drift_covariance, first_night_covariance
from sidelong.preferences.smoother import (
    filter_forward,
    integrate_noise,
    smooth_covariances,
    smooth_means,
)

NIGHTS, TRAINEES = 6, 4


def dense_prior(hyperparameters: Hyperparameters, nights: int = NIGHTS) -> tuple[np.ndarray, ...]:
    """Covariance of ease over all nights, and of night and piece noise."""
    first = first_night_covariance(hyperparameters)
    drift = drift_covariance(hyperparameters)
    steps = np.minimum.outer(np.arange(nights), np.arange(nights))
    ease = np.kron(np.ones((nights, nights)), first) + np.kron(steps, drift)
    noise = hyperparameters.night_sd**2 * np.ones((5, 5)) + hyperparameters.piece_sd**2 * np.eye(5)
    return ease, np.kron(np.eye(nights), noise)


def draw_likelihood(rng: np.random.Generator) -> Likelihood:
    shape = (NIGHTS, 5, TRAINEES)
    chance = rng.dirichlet(np.ones(5), (NIGHTS, TRAINEES)).transpose(0, 2, 1)
    chance = chance * (rng.random((NIGHTS, 1, TRAINEES)) < 0.7)
    own = rng.exponential(0.8, shape) * (rng.random(shape) < 0.7)
    weight = 1.8
    return Likelihood(
        value=np.zeros(TRAINEES),
        gradient=rng.normal(size=shape),
        curvature=own + weight**2 * chance,
        rank_one=weight * chance,
    )


def dense_curvature(likelihood: Likelihood, trainee: int) -> np.ndarray:
    blocks = [
        np.diag(d) - np.outer(r, r)
        for d, r in zip(
            likelihood.curvature[..., trainee], likelihood.rank_one[..., trainee], strict=True
        )
    ]
    whole = np.zeros((5 * NIGHTS, 5 * NIGHTS))
    for night, block in enumerate(blocks):
        at = slice(5 * night, 5 * night + 5)
        whole[at, at] = block
    return whole


CASES = {
    "default": DEFAULT,
    "no drift": replace(DEFAULT, drift_sd=0.0, level_drift_sd=0.0),
    "no noise": replace(DEFAULT, night_sd=0.0, piece_sd=0.0),
    "no differences": replace(DEFAULT, spread_sd=0.0, drift_sd=0.0),
    "wide": replace(DEFAULT, level_sd=5.0, spread_sd=4.0, drift_sd=2.0, night_sd=3.0, piece_sd=3.0),
}


@pytest.mark.parametrize("hyperparameters", CASES.values(), ids=CASES.keys())
def test_both_passes_equal_dense_algebra(hyperparameters: Hyperparameters, rng) -> None:
    likelihood = draw_likelihood(rng)
    centred = rng.normal(size=likelihood.gradient.shape)

    information = integrate_noise(
        likelihood,
        centred,
        night_sd=np.full(TRAINEES, hyperparameters.night_sd),
        piece_sd=np.full(TRAINEES, hyperparameters.piece_sd),
    )
    filtered = filter_forward(
        information,
        first=np.repeat(first_night_covariance(hyperparameters)[..., None], TRAINEES, axis=2),
        drift=np.repeat(drift_covariance(hyperparameters)[..., None], TRAINEES, axis=2),
    )
    means, pull = smooth_means(filtered, information)
    covariances, later = smooth_covariances(filtered, information)

    ease, noise = dense_prior(hyperparameters)
    for trainee in range(TRAINEES):
        H = dense_curvature(likelihood, trainee)
        h = likelihood.gradient[..., trainee].ravel() + H @ centred[..., trainee].ravel()
        K = ease + noise
        target = np.linalg.solve(np.eye(K.shape[0]) + K @ H, K @ h)
        dual = h - H @ target
        smoothed = ease @ dual
        total = np.linalg.inv(np.eye(K.shape[0]) + H @ K)
        covariance = ease - ease @ total @ H @ ease
        np.testing.assert_allclose(pull[..., trainee].ravel(), dual, atol=1e-9)
        np.testing.assert_allclose(means[..., trainee].ravel(), smoothed, atol=1e-9)
        contradiction = (total @ H).reshape(NIGHTS, 5, NIGHTS, 5)
        for night in range(NIGHTS):
            at = slice(5 * night, 5 * night + 5)
            np.testing.assert_allclose(
                later[night, ..., trainee],
                contradiction[night:, :, night:].sum(axis=(0, 2)),
                atol=1e-9,
            )
            np.testing.assert_allclose(
                covariances[night, ..., trainee], covariance[at, at], atol=1e-9
            )
        last = slice(5 * NIGHTS - 5, None)
        np.testing.assert_allclose(
            filtered.covariance[-1, ..., trainee], covariance[last, last], atol=1e-9
        )
        np.testing.assert_allclose(filtered.mean[-1, :, trainee], smoothed[last], atol=1e-9)
        np.testing.assert_allclose(
            information.log_det[trainee] + filtered.log_det[trainee],
            np.linalg.slogdet(np.eye(K.shape[0]) + K @ H)[1],
            atol=1e-9,
        )


def test_the_precision_over_all_nights_is_block_tridiagonal() -> None:
    ease, _ = dense_prior(DEFAULT)
    precision = np.linalg.inv(ease).reshape(NIGHTS, 5, NIGHTS, 5)
    for night in range(NIGHTS):
        for other in range(NIGHTS):
            if abs(night - other) > 1:
                np.testing.assert_allclose(precision[night, :, other], 0.0, atol=1e-9)
