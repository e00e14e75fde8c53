"""Derivatives against finite differences, values against plain formulas."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.special import expit, log_ndtr
from scipy.stats import norm

from sidelong.preferences import DEFAULT, Conduct, simulate_courses
from sidelong.preferences.likelihood import (
    answer_likelihood,
    rating_likelihood,
    went_likelihood,
)
from sidelong.preferences.model import Evidence, prepare_evidence


@pytest.fixture
def evidence(orders, rng) -> Evidence:
    conduct = Conduct(missing_night=0.2, blank_rating=0.2, blank_went_down=0.2, no_best=0.3)
    scale = np.array([5, 4, 3, 2] * 3)
    sim = simulate_courses(
        orders(12, nights=6), hyperparameters=DEFAULT, rng=rng, conduct=conduct, scale=scale
    )
    return prepare_evidence(sim.courses, DEFAULT)


def test_gradient_equals_finite_differences_of_the_value(evidence, rng) -> None:
    ease = rng.normal(0.0, 2.0, evidence.offset.shape)
    analytic = answer_likelihood(ease, evidence).gradient
    step = 1e-6
    for night in range(ease.shape[0]):
        for place in range(5):
            moved = np.zeros_like(ease)
            moved[night, place] = step
            up = answer_likelihood(ease + moved, evidence).value
            down = answer_likelihood(ease - moved, evidence).value
            np.testing.assert_allclose(
                analytic[night, place], (up - down) / (2 * step), atol=2e-7, rtol=1e-6
            )


def test_curvature_equals_finite_differences_of_the_gradient(evidence, rng) -> None:
    ease = rng.normal(0.0, 2.0, evidence.offset.shape)
    found = answer_likelihood(ease, evidence)
    step = 1e-6
    for place in range(5):
        moved = np.zeros_like(ease)
        moved[:, place] = step
        up = answer_likelihood(ease + moved, evidence).gradient
        down = answer_likelihood(ease - moved, evidence).gradient
        numeric = -(up - down) / (2 * step)
        unit = np.zeros((1, 5, 1))
        unit[0, place] = 1.0
        analytic = unit * found.curvature - found.rank_one * found.rank_one[:, place, None]
        np.testing.assert_allclose(analytic, numeric, atol=2e-7)


def test_answers_to_one_question_have_chances_that_sum_to_1(rng) -> None:
    ease = rng.normal(0.0, 3.0, 50)
    edges = np.array([-1e3, *DEFAULT.thresholds[5], 1e3])
    total = sum(
        np.exp(rating_likelihood(ease, np.full(50, low), high=np.full(50, high))[0])
        for low, high in pairwise(edges)
    )
    np.testing.assert_allclose(total, 1.0, atol=1e-13)


def test_rating_equals_the_plain_difference_of_two_normal_probabilities(rng) -> None:
    ease = rng.normal(0.0, 2.0, 200)
    value, slope, _ = rating_likelihood(ease, np.full(200, -0.4), high=np.full(200, 0.6))
    chance = norm.cdf(0.6 - ease) - norm.cdf(-0.4 - ease)
    np.testing.assert_allclose(value, np.log(chance), atol=1e-10)
    np.testing.assert_allclose(
        slope, (norm.pdf(-0.4 - ease) - norm.pdf(0.6 - ease)) / chance, atol=1e-8
    )


@pytest.mark.parametrize("ease", [-300.0, -40.0, -9.0, 9.0, 40.0, 300.0])
def test_rating_stays_exact_far_away(ease: float) -> None:
    at = np.array([ease])
    value, slope, curvature = rating_likelihood(at, np.array([0.5]), high=np.array([1e3]))
    np.testing.assert_allclose(value, log_ndtr(at - 0.5), rtol=1e-12, atol=1e-12)
    assert np.isfinite(slope).all()
    assert (curvature >= 0).all()


def test_a_blank_answer_says_nothing() -> None:
    ease = np.linspace(-8, 8, 33)
    far = np.full(33, 1e3)
    for found in (
        rating_likelihood(ease, -far, high=far),
        went_likelihood(ease, -far, high=far),
    ):
        for part in found:
            np.testing.assert_allclose(part, 0.0, atol=1e-12)


def test_went_down_equals_the_plain_difference_of_two_logistic_probabilities() -> None:
    logit = np.linspace(-6, 6, 41)
    low, high = -2.4, -1.2
    value, *_ = went_likelihood(logit, np.full(41, low), high=np.full(41, high))
    chance = expit(high - logit) - expit(low - logit)
    np.testing.assert_allclose(value + np.log(-np.expm1(low - high)), np.log(chance), atol=1e-12)


def test_best_is_chosen_among_the_positions_that_went_down(blank) -> None:
    courses = blank(1, 1)
    courses.slot[0, 0] = [1, 2, 3, 0, 0]
    courses.went_down[0, 0] = [1, 2, 3, 0, 0]
    courses.felt_best[0, 0] = 0
    evidence = prepare_evidence(courses, DEFAULT)
    quiet = prepare_evidence(courses.until(1), DEFAULT)
    ease = np.array([0.3, -0.2, 5.0, 5.0, 5.0]).reshape(1, 5, 1)

    found = answer_likelihood(ease, evidence)

    expected = 1.0 / (1.0 + np.exp(-DEFAULT.choice_slope * 0.5))
    went = expit(1.3 * 0.3 + 1.2), expit(-1.2 + 0.26) - expit(-2.4 + 0.26), expit(-2.4 - 6.5)
    np.testing.assert_allclose(found.value, np.log(expected) + np.log(went).sum(), atol=1e-12)
    np.testing.assert_array_equal(quiet.chosen, evidence.chosen)


def test_a_favourite_that_did_not_go_down_is_kept(blank) -> None:
    courses = blank(1, 1)
    courses.slot[0, 0] = [1, 2, 3, 0, 0]
    courses.went_down[0, 0] = [3, 1, 1, 0, 0]
    courses.felt_best[0, 0] = 0
    evidence = prepare_evidence(courses, DEFAULT)
    assert evidence.has_choice.item() == 1.0
    assert (evidence.bonus[0, :3, 0] > -1.0).all()


def test_naming_the_only_candidate_says_nothing(blank) -> None:
    courses = blank(1, 1)
    courses.slot[0, 0, 0] = 1
    courses.went_down[0, 0, 0] = 1
    courses.felt_best[0, 0] = 0
    evidence = prepare_evidence(courses, DEFAULT)
    assert evidence.has_choice.item() == 0.0
    assert evidence.chosen.sum() == 0.0


def test_the_last_named_best_has_a_bonus_even_after_a_night_without_one(blank) -> None:
    courses = blank(1, 3)
    courses.slot[0] = np.arange(1, 6)
    courses.felt_best[0] = [3, -1, 1]
    evidence = prepare_evidence(courses, DEFAULT)
    np.testing.assert_array_equal(evidence.bonus[2, :, 0], [0, 0, 0, DEFAULT.choice_again, 0])
