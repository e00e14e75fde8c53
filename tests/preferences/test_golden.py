"""The estimate against a general-purpose sampler of the exact posterior.

``tests/golden/preferences/nuts.json`` is made by ``script/golden``: 30 simulated trainees, the
hyperparameters fixed, sampled with NUTS (NumPyro) from a model written a second time in
``research/preferences/sample_posterior.py``. The trainees are drawn again here from the same seed.
"""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    PreferenceEstimates,
    correct_estimates,
    estimate_preferences,
    simulate_courses,
)

GOLDEN = Path(__file__).parents[1] / "golden" / "preferences" / "nuts.json"
TRUTH = replace(
    DEFAULT,
    position_means=(0.2, -0.1, 0.0, 0.1, -0.3),
    carryover_effects=(0.1, -0.1, 0.0, 0.1, -0.1),
    choice_again=0.5,
)


@pytest.fixture(scope="module")
def golden() -> dict:
    return json.loads(GOLDEN.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def courses(golden) -> Courses:
    rng = np.random.default_rng(golden["seed"])
    orders = np.argsort(rng.random((30, 14, 5)), axis=2)
    return simulate_courses(
        orders,
        hyperparameters=TRUTH,
        rng=rng,
        scale=np.resize([5, 5, 5, 4, 3, 2], 30),
        piece_mm=rng.choice([4.0, 5.0, 6.0], (30, 14)),
        conduct=Conduct(missing_night=0.2),
    ).courses


@pytest.fixture(scope="module")
def found(courses) -> PreferenceEstimates:
    return estimate_preferences(courses, hyperparameters=TRUTH)


def test_the_sampler_had_arrived(golden) -> None:
    assert golden["largest_rhat"] < 1.01
    assert golden["smallest_effective_sample"] > 1000


def test_chances_are_those_of_the_exact_posterior(golden, found) -> None:
    away = np.abs(found.p_best - np.array(golden["p_best"]))
    assert away.mean() <= 0.015
    assert away.max() <= 0.06


def test_means_and_sds_of_differences_are_those_of_the_exact_posterior(golden, found) -> None:
    mean, sd = np.array(golden["mean"]), np.array(golden["sd"])
    known = found.ease - found.ease.mean(axis=1, keepdims=True)
    exact = mean - mean.mean(axis=1, keepdims=True)
    assert np.abs((known - exact) / sd).mean() < 0.06
    ratio = np.sqrt(np.einsum("nii->ni", found.covariance)) / sd
    assert abs(ratio.mean() - 1.0) < 0.04


def test_importance_weights_find_these_answers_right_and_leave_them_near(
    courses, golden, found
) -> None:
    held = correct_estimates(courses, found, hyperparameters=TRUTH)
    exact = np.array(golden["p_best"])
    assert held.is_trusted.all()
    assert (held.tail_shape < 0.7).all()
    assert held.effective_share.min() > 0.5
    assert np.abs(held.estimates.p_best - exact).mean() <= 0.0075
    assert np.abs(held.estimates.p_best - exact).max() <= 0.03
