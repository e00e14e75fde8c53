"""The derivative of the log evidence against finite differences of the log evidence."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import DEFAULT, Conduct, Courses, simulate_courses
from sidelong.preferences.coordinates import (
    N_COORDINATES,
    PARTS,
    from_coordinates,
    pull_back,
    to_coordinates,
)
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.score import gather_covariates, score_hyperparameters

POINTS = {
    "default": DEFAULT,
    "all effects": replace(
        DEFAULT,
        position_means=(-0.3, 0.2, 0.0, 0.4, -0.6),
        carryover_effects=(0.3, -0.1, -0.1, 0.2, -0.3),
        choice_again=1.1,
        drift_sd=0.3,
        night_sd=0.7,
        learning_rate=0.4,
    ),
    "almost straight learning": replace(DEFAULT, learning_rate=1e-4),
}


@pytest.fixture
def courses(orders, rng) -> Courses:
    conduct = Conduct(missing_night=0.2, blank_rating=0.2, blank_went_down=0.2, no_best=0.3)
    harder = replace(DEFAULT, went_cuts=(-1.2, 0.3))
    return simulate_courses(
        orders(8, nights=6),
        hyperparameters=harder,
        rng=rng,
        conduct=conduct,
        scale=np.array([5, 4, 3, 2] * 2),
        piece_mm=rng.choice([4.0, 5.0, 7.0], (8, 6)),
    ).courses


def log_evidence(courses: Courses, vectors: np.ndarray) -> np.ndarray:
    """Of every trainee under every point, shape (points, trainees)."""
    points = [from_coordinates(vector) for vector in vectors]
    found = find_mode(prepare_evidence(courses, points), tolerance=1e-13)
    return found.log_evidence.reshape(len(points), -1)


@pytest.mark.parametrize("point", POINTS.values(), ids=POINTS.keys())
def test_every_derivative_equals_finite_differences(point, courses) -> None:
    evidence = prepare_evidence(courses, point)
    posterior = find_mode(evidence, tolerance=1e-13)
    vector = to_coordinates(point)
    scores = score_hyperparameters(posterior, evidence, gather_covariates(courses), points=(point,))

    found = pull_back(scores, vector)

    step = 1e-4
    moves = step * np.eye(N_COORDINATES)
    up, down = log_evidence(courses, vector + moves), log_evidence(courses, vector - moves)
    numeric = (up - down) / (2 * step)
    for name, part in PARTS.items():
        np.testing.assert_allclose(found[part], numeric[part], atol=2e-6, rtol=1e-5, err_msg=name)


def test_every_part_of_the_vector_has_a_derivative_that_is_tested_away_from_0(courses) -> None:
    point = POINTS["all effects"]
    evidence = prepare_evidence(courses, point)
    scores = score_hyperparameters(
        find_mode(evidence), evidence, gather_covariates(courses), points=(point,)
    )
    found = pull_back(scores, to_coordinates(point))
    assert (np.abs(found).max(axis=1) > 1e-3).all()


def test_derivatives_of_several_points_at_once_equal_those_one_by_one(courses) -> None:
    points = tuple(POINTS.values())
    covariates = gather_covariates(courses)
    evidence = prepare_evidence(courses, points)
    together = score_hyperparameters(
        find_mode(evidence), evidence, covariates.repeat(len(points)), points=points
    )
    for place, point in enumerate(points):
        evidence = prepare_evidence(courses, point)
        alone = score_hyperparameters(find_mode(evidence), evidence, covariates, points=(point,))
        for name, values in alone.items():
            part = together[name][:, 8 * place : 8 * place + 8]
            np.testing.assert_allclose(part, values, atol=1e-6, err_msg=name)
