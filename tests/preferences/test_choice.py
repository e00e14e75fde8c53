"""The parameters of the choice, found where Laplace's approximation cannot find them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import softmax

from sidelong.preferences import DEFAULT, fit_cohort, simulate_courses
from sidelong.preferences.choice import (
    Namings,
    _spread_out,
    fit_choice,
    leave_namings_out,
    log_chance,
)
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.score import gather_covariates


@pytest.fixture
def namings(orders, rng):
    strong = replace(DEFAULT, choice_slope=3.0, choice_again=0.6)
    courses = simulate_courses(orders(20, nights=7), hyperparameters=strong, rng=rng).courses
    evidence = prepare_evidence(courses, strong)
    return leave_namings_out(find_mode(evidence), evidence, gather_covariates(courses))


def test_the_gradient_equals_finite_differences(namings) -> None:
    felt = _spread_out(namings)
    vector = np.array([0.8, 0.4])
    _, gradient = log_chance(vector, namings, felt=felt)
    for place, step in enumerate(1e-6 * np.eye(2)):
        up, _ = log_chance(vector + step, namings, felt=felt)
        down, _ = log_chance(vector - step, namings, felt=felt)
        np.testing.assert_allclose(gradient[place], (up - down) / 2e-6, rtol=1e-5)


def test_points_have_the_covariance_that_the_other_answers_leave(namings) -> None:
    felt = _spread_out(namings)
    away = felt - felt.mean(axis=1, keepdims=True)
    found = np.einsum("iqn,jqn->nij", away, away) / felt.shape[1]
    wanted = namings.root @ np.swapaxes(namings.root, 1, 2)
    np.testing.assert_allclose(felt.mean(axis=1).T, namings.mean, atol=0.02)
    np.testing.assert_allclose(found, wanted, atol=0.35 * wanted.max())


def test_leaving_a_naming_out_equals_dense_algebra(orders, rng) -> None:
    """One night: the answers without the naming, from their own mode's curvature."""
    courses = simulate_courses(orders(3, nights=1), hyperparameters=DEFAULT, rng=rng).courses
    evidence = prepare_evidence(courses, DEFAULT)
    posterior = find_mode(evidence, tolerance=1e-13)
    found = leave_namings_out(posterior, evidence, gather_covariates(courses))
    prior = DEFAULT.level_sd**2 + DEFAULT.night_sd**2
    prior += (DEFAULT.spread_sd**2 + DEFAULT.piece_sd**2) * np.eye(5)
    for row in range(3):
        ease = (evidence.offset + posterior.centred)[0, :, row]
        utility = DEFAULT.choice_slope * ease + evidence.bonus[0, :, row]
        share = softmax(utility)
        answers = np.linalg.inv(found.root[row] @ found.root[row].T) - np.linalg.inv(prior)
        # What is left is the curvature of ratings and of going down: diagonal, and positive.
        np.testing.assert_allclose(answers - np.diag(np.diag(answers)), 0.0, atol=1e-4)
        assert np.diag(answers).min() > 0
        # And its mean moves against the pull of the naming.
        pull = evidence.chosen[0, :, row] - share
        assert (ease - found.mean[row]) @ pull > 0


def test_the_choice_is_found_from_namings_given_what_was_felt(rng) -> None:
    n = 3000
    felt = rng.normal(0.0, 1.0, (n, 5))
    again = np.eye(5)[rng.integers(0, 5, n)]
    chance = softmax(2.5 * felt + 0.8 * again, axis=1)
    named = (rng.random((n, 1)) > chance.cumsum(axis=1)).sum(axis=1)
    known = Namings(
        mean=felt,
        root=np.zeros((n, 5, 5)),
        named=named,
        candidates=np.ones((n, 5), bool),
        again=again,
    )
    found = fit_choice(known, np.array([0.0, 0.0]), mean=np.zeros(2), precision=1e-6 * np.eye(2))
    deviation = np.sqrt(np.diag(np.linalg.inv(found.information)))
    assert np.abs((found.vector - [np.log(2.5), 0.8]) / deviation).max() < 3.5
    assert deviation.max() < 0.2


@pytest.mark.slow
def test_a_strong_choice_over_noisy_pieces_does_not_run_away(orders, rng) -> None:
    truth = replace(
        DEFAULT, choice_slope=3.5, choice_again=1.2, piece_sd=0.8, spread_sd=1.3, night_sd=0.2
    )
    fit = fit_cohort(simulate_courses(orders(120), hyperparameters=truth, rng=rng).courses)
    assert fit.converged
    assert 2.2 < fit.hyperparameters.choice_slope < 5.5
    assert 0.5 < fit.hyperparameters.choice_again < 2.4
    assert 0.6 < fit.hyperparameters.piece_sd < 1.0
