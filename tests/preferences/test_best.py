"""The chance to be the best against published, closed-form and simulated values."""

from itertools import permutations

import numpy as np
import pytest
from scipy.special import ndtr

from sidelong.preferences import chance_best
from sidelong.preferences.best import orthant_probability

EVERY = np.ones((1, 5), bool)


def test_independent_normals_have_the_known_chances() -> None:
    # Best of five independent normals, SD 0.3: computed by 1-D quadrature with scipy 1.17.1.
    mean = np.array([[0.0, -0.3, -0.2, 0.4, 0.6]])
    known = [0.03750111, 0.00443781, 0.00962218, 0.29854734, 0.64989156]
    found = chance_best(mean, 0.09 * np.eye(5)[None], allowed=EVERY)
    np.testing.assert_allclose(found[0], known, atol=1e-4)


def test_two_positions_have_their_closed_form() -> None:
    allowed = np.array([[False, True, False, True, False]])
    mean = np.array([[9.0, 0.4, 9.0, 0.6, 9.0]])
    found = chance_best(mean, 0.09 * np.eye(5)[None], allowed=allowed)
    second = ndtr(0.2 / (0.3 * np.sqrt(2.0)))
    np.testing.assert_allclose(found[0], [0.0, 1.0 - second, 0.0, second, 0.0], atol=1e-9)
    assert abs(found[0, 3] - 0.6813240559) < 1e-9


def test_three_equally_correlated_normals_have_their_closed_form() -> None:
    # P(all > 0) = 1/8 + 3 asin(rho) / (4 pi); the fourth dimension is surely above 0.
    for rho in (0.2, 0.5, 0.8):
        matrix = np.eye(4)
        matrix[:3, :3] = rho + (1 - rho) * np.eye(3)
        found = orthant_probability(np.array([[0.0, 0.0, 0.0, 40.0]]), matrix[None])
        assert abs(found[0] - (0.125 + 3 * np.arcsin(rho) / (4 * np.pi))) < 3e-4


def test_exchangeable_positions_are_equally_likely() -> None:
    covariance = 0.5 + 0.3 * np.eye(5)
    found = chance_best(np.zeros((1, 5)), covariance[None], allowed=EVERY)
    np.testing.assert_allclose(found, 0.2, atol=1e-12)


def test_positions_that_cannot_differ_are_equally_likely() -> None:
    found = chance_best(np.full((1, 5), 0.7), np.full((1, 5, 5), 2.0), allowed=EVERY)
    np.testing.assert_allclose(found, 0.2, atol=1e-9)


def test_the_only_position_is_the_best() -> None:
    allowed = np.array([[False, False, True, False, False]])
    found = chance_best(np.zeros((1, 5)), np.eye(5)[None], allowed=allowed)
    np.testing.assert_array_equal(found, [[0, 0, 1, 0, 0]])


def random_case(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    factor = rng.normal(size=(5, 5))
    covariance = factor @ factor.T / 5 + np.diag(rng.uniform(0.02, 0.6, 5))
    return rng.normal(0.0, 0.6, 5), covariance


def test_any_posterior_agrees_with_many_draws(rng) -> None:
    cases = [random_case(rng) for _ in range(12)]
    mean, covariance = (np.array(part) for part in zip(*cases, strict=True))
    found = chance_best(mean, covariance, allowed=np.ones((12, 5), bool))
    draws = rng.standard_normal((400_000, 5))
    for row in range(12):
        ease = mean[row] + draws @ np.linalg.cholesky(covariance[row]).T
        share = np.bincount(ease.argmax(axis=1), minlength=5) / draws.shape[0]
        # Four standard errors of the draws are 3.2e-3 at the most.
        np.testing.assert_allclose(found[row], share, atol=3.5e-3)


def test_the_fixed_points_are_enough(rng, monkeypatch) -> None:
    cases = [random_case(rng) for _ in range(60)]
    mean, covariance = (np.array(part) for part in zip(*cases, strict=True))
    allowed = np.ones((60, 5), bool)
    found = chance_best(mean, covariance, allowed=allowed)
    monkeypatch.setattr("sidelong.preferences.best.POINTS", 40)
    fine = chance_best(mean, covariance, allowed=allowed)
    assert np.abs(found - fine).max() < 1e-3


def test_relabelling_positions_relabels_the_chances(rng) -> None:
    mean, covariance = random_case(rng)
    whole = chance_best(mean[None], covariance[None], allowed=EVERY)[0]
    for order in list(permutations(range(5)))[::7]:
        at = np.array(order)
        found = chance_best(mean[None, at], covariance[None][:, at[:, None], at], allowed=EVERY)
        np.testing.assert_allclose(found[0], whole[at], atol=1e-12)


@pytest.mark.parametrize("row", range(5))
def test_a_far_better_position_is_surely_the_best(row: int) -> None:
    mean = np.zeros((1, 5))
    mean[0, row] = 30.0
    found = chance_best(mean, np.eye(5)[None], allowed=EVERY)
    assert found[0, row] > 1 - 1e-12
    assert np.isfinite(found).all()
