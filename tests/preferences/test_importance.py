"""Correction by importance sampling: exact where the exact answer is known, honest where not."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import expit, ndtr
from scipy.stats import genpareto

from sidelong.preferences import (
    DEFAULT,
    FIRST,
    LATER,
    Conduct,
    Hyperparameters,
    estimate_preferences,
    simulate_courses,
)
from sidelong.preferences.draws import draw_courses
from sidelong.preferences.importance import (
    LOPSIDED,
    correct_estimates,
    mend_estimates,
)
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.pareto import fit_pareto, smooth_tail
from sidelong.preferences.skewness import centre_on_mean
from sidelong.preferences.smoother import smooth_covariances, smooth_means


def draw(orders, rng, *, n: int, truth=DEFAULT, nights: int = 14):
    return simulate_courses(
        orders(n, nights=nights), hyperparameters=truth, rng=rng, conduct=Conduct()
    ).courses


def test_drawn_courses_have_the_means_and_covariances_of_the_smoother(orders, rng) -> None:
    evidence = prepare_evidence(draw(orders, rng, n=2, nights=4), DEFAULT)
    posterior = centre_on_mean(find_mode(evidence), evidence)
    normals = rng.standard_normal((2, 2, 4, 5, 40_000))
    ease = draw_courses(posterior, evidence, normals=normals).ease
    means, _ = smooth_means(posterior.filtered, posterior.information)
    covariances, _ = smooth_covariances(posterior.filtered, posterior.information)
    np.testing.assert_allclose(ease.mean(axis=-1), means, atol=0.02)
    away = ease - ease.mean(axis=-1, keepdims=True)
    found = np.einsum("tind,tjnd->tijn", away, away) / 40_000
    np.testing.assert_allclose(found, covariances, atol=0.02)


def test_one_probit_trial_is_answered_exactly(blank) -> None:
    # u ~ N(0, 1) and one trial with P(success) = Phi(u): the posterior of Phi(u) is Beta(2, 1).
    # A two-answer form with its cut at 0 is such a trial; closed form: mean 1/sqrt(pi).
    mean, sd = 0.5641895835, 0.8256452712
    point = replace(
        DEFAULT,
        level_sd=1.0,
        spread_sd=0.0,
        drift_sd=0.0,
        level_drift_sd=0.0,
        learning_gain=0.0,
        night_sd=0.0,
        piece_sd=0.0,
        slot_effects=(0.0,) * 5,
        thresholds={**DEFAULT.thresholds, 2: (0.0,)},
    )
    courses = blank(1, 1, scale=2)
    courses.slot[0, 0, 2] = 1
    courses.rating[0, 0, 2] = 4
    evidence = prepare_evidence(courses, point)
    posterior = centre_on_mean(find_mode(evidence), evidence)
    normals = np.random.default_rng(5).standard_normal((1, 2, 1, 5, 60_000))
    drawn = draw_courses(posterior, evidence, normals=normals)
    weight, _ = smooth_tail(drawn.log_weight[0])
    ease = drawn.ease[0, 2, 0]
    assert weight @ ease == pytest.approx(mean, abs=0.01)
    assert np.sqrt(weight @ (ease - weight @ ease) ** 2) == pytest.approx(sd, abs=0.01)


def test_a_corrected_answer_is_that_of_quadrature(blank, monkeypatch) -> None:
    # Two positions, one night, no noise: a plane on which everything can be summed up.
    monkeypatch.setattr("sidelong.preferences.importance.FELT", 0.0)
    still = {"night_sd": 0.0, "piece_sd": 0.0, "learning_gain": 0.0, "slot_effects": (0.0,) * 5}
    point = replace(DEFAULT, level_sd=0.7, spread_sd=1.5, drift_sd=0.3, **still)
    courses = blank(1, 1, allowed=(1, 2))
    courses.slot[0, 0, [1, 2]] = (1, 2)
    courses.previous[0, 0, 2] = 1
    courses.rating[0, 0, [1, 2]] = (5, 3)
    courses.went_down[0, 0, [1, 2]] = (FIRST, LATER)
    found = estimate_preferences(courses, hyperparameters=point)
    held = correct_estimates(courses, found, hyperparameters=point, draws=1 << 15)
    exact = sum_up_plane(point)
    assert held.is_corrected[0]
    said = np.array([held.estimates.p_best[0, 1], *held.estimates.p_first_try[0, [1, 2]]])
    before = np.array([found.p_best[0, 1], *found.p_first_try[0, [1, 2]]])
    np.testing.assert_allclose(said, exact, atol=0.004)
    assert np.abs(said - exact).sum() < np.abs(before - exact).sum()


def sum_up_plane(point: Hyperparameters) -> np.ndarray:
    """Chance that left beats centre, and first-try chances of both, by a sum over a fine grid."""
    axis = np.linspace(-9.0, 9.0, 901)
    left, centre = np.meshgrid(axis, axis, indexing="ij")
    shared, own = point.level_sd**2, point.spread_sd**2
    covariance = shared + own * np.eye(2)
    away = np.stack([left, centre], axis=-1)
    density = np.exp(-0.5 * np.einsum("...i,ij,...j", away, np.linalg.inv(covariance), away))
    cuts, (no, first) = point.thresholds[5], point.went_cuts
    density *= ndtr(left - cuts[3]) * (ndtr(cuts[2] - centre) - ndtr(cuts[1] - centre))
    steep = point.went_slope
    density *= expit(steep * left - first)
    density *= expit(first - steep * centre) - expit(no - steep * centre)
    density /= density.sum()
    drift, unfelt = 2.0 * point.drift_sd**2, 2.0 * 0.1**2
    ahead = (density * ndtr((left - centre) / np.sqrt(drift + unfelt))).sum()
    nodes, weights = np.polynomial.hermite_e.hermegauss(30)
    change = np.hypot(point.drift_sd, point.level_drift_sd) * nodes
    down = expit(steep * (axis[:, None] + change) - first) @ (weights / weights.sum())
    return np.array([ahead, density.sum(axis=1) @ down, density.sum(axis=0) @ down])


def test_steep_answers_come_nearer_to_what_many_more_draws_say(orders, rng) -> None:
    truth = replace(DEFAULT, spread_sd=1.6, choice_slope=4.5, piece_sd=0.9)
    courses = draw(orders, rng, n=16, truth=truth, nights=6)
    found = estimate_preferences(courses, hyperparameters=truth)
    corrected = correct_estimates(courses, found, hyperparameters=truth)
    rows = np.flatnonzero(corrected.is_corrected)
    assert rows.size >= 2
    some = found.take(rows)
    exact = correct_estimates(courses.take(rows), some, hyperparameters=truth, draws=1 << 14)
    before = np.abs(some.p_best - exact.estimates.p_best).mean()
    after = np.abs(corrected.estimates.take(rows).p_best - exact.estimates.p_best).mean()
    assert after < 0.7 * before
    np.testing.assert_allclose(corrected.estimates.p_best.sum(axis=1), 1.0)


def test_answers_that_cannot_be_trusted_are_left_and_flagged(orders, rng) -> None:
    steep = replace(DEFAULT, choice_slope=12.0, piece_sd=1.5, spread_sd=2.5)
    courses = draw(orders, rng, n=8, truth=steep)
    found = estimate_preferences(courses, hyperparameters=steep)
    held = correct_estimates(courses, found, hyperparameters=steep)
    lost = ~held.is_trusted
    assert lost.sum() >= 4
    np.testing.assert_array_equal(held.estimates.p_best[lost], found.p_best[lost])
    assert (held.effective_share[lost] < 0.3).all()


def test_a_trainee_without_answers_needs_no_correction(blank) -> None:
    courses = blank(1, 5)
    found = estimate_preferences(courses)
    held = correct_estimates(courses, found)
    assert held.is_trusted.all()
    assert not held.is_corrected.any()
    assert held.effective_share[0] == pytest.approx(1.0)


def test_the_same_question_has_the_same_answer(orders, rng) -> None:
    courses = draw(orders, rng, n=2, nights=5)
    found = estimate_preferences(courses)
    one, two = (correct_estimates(courses, found, draws=512) for _ in range(2))
    np.testing.assert_array_equal(one.estimates.p_best, two.estimates.p_best)
    np.testing.assert_array_equal(one.tail_shape, two.tail_shape)


def test_too_few_draws_are_refused(blank) -> None:
    courses = blank(1, 5)
    with pytest.raises(ValueError, match="256 or more"):
        correct_estimates(courses, estimate_preferences(courses), draws=100)


@pytest.mark.parametrize("shape", [-0.3, 0.2, 0.5, 0.9])
def test_tail_shapes_of_known_distributions_are_found(shape) -> None:
    # scipy.stats.genpareto, another program's quantiles: evenly spread, nothing drawn.
    beyond = 2.0 * genpareto.ppf((np.arange(2000) + 0.5) / 2000, shape)
    scale, found = fit_pareto(beyond)
    assert found == pytest.approx(shape, abs=0.06)
    assert scale == pytest.approx(2.0, rel=0.06)


def test_only_lopsided_answers_are_looked_at_when_mending(orders, rng) -> None:
    truth = replace(DEFAULT, spread_sd=1.6, choice_slope=4.5, piece_sd=0.9)
    courses = draw(orders, rng, n=8, truth=truth, nights=6)
    found = estimate_preferences(courses, hyperparameters=truth)
    mended = mend_estimates(courses, found, hyperparameters=truth)
    looked = found.lopsided > LOPSIDED
    assert 0 < looked.sum() < 8
    np.testing.assert_array_equal(~np.isnan(mended.tail_shape), looked)
    np.testing.assert_array_equal(mended.estimates.p_best[~looked], found.p_best[~looked])
    alone = correct_estimates(
        courses.take(np.flatnonzero(looked)),
        found.take(np.flatnonzero(looked)),
        hyperparameters=truth,
    )
    np.testing.assert_allclose(mended.estimates.p_best[looked], alone.estimates.p_best)


def test_answers_as_assumed_are_hardly_ever_lopsided(orders, rng) -> None:
    found = estimate_preferences(draw(orders, rng, n=200))
    assert (found.lopsided > LOPSIDED).mean() < 0.1
