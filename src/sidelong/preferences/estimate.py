"""What is said of each trainee: chances, expected ratings, verdicts, and the way there."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from scipy.special import expit, ndtr, ndtri

from sidelong.preferences.best import chance_best
from sidelong.preferences.courses import BoolArray, Courses, FloatArray, IntArray
from sidelong.preferences.hyperparameters import (
    DEFAULT,
    RATINGS_OF_SCALE,
    REFERENCE_PIECE_MM,
    Hyperparameters,
)
from sidelong.preferences.mode import Posterior, find_mode
from sidelong.preferences.model import FAR, drift_covariance, learning_curve, prepare_evidence
from sidelong.preferences.skewness import centre_on_mean
from sidelong.preferences.smoother import smooth_covariances, smooth_means
from sidelong.preferences.verdict import DEFAULT_RULE, VerdictAnswer, VerdictRule, give_verdict

CHUNK = 512
"""Trainees computed side by side: large enough to be fast, small enough to stay in the cache."""

COVERAGE = 0.9
"""Of the intervals ``lower`` to ``upper``."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True, eq=False)
class PreferenceEstimates:
    """Every trainee's answer for the first night after the last one planned.

    Positions that are not allowed have ``p_best`` 0 and nan elsewhere.

    Parameters
    ----------
    ease : ndarray of float, shape (n_trainees, 5)
        Posterior mean of the latent ease of each position, learning included.
    covariance : ndarray of float, shape (n_trainees, 5, 5)
        Its posterior covariance.
    allowed : ndarray of bool, shape (n_trainees, 5)
        Positions compared.
    p_best : ndarray of float, shape (n_trainees, 5)
        Chance to have the highest ease; each row sums to 1.
    p_first_try : ndarray of float, shape (n_trainees, 5)
        Chance that a piece goes down first try.
    expected_rating, sd, lower, upper : ndarray of float, shape (n_trainees, 5)
        Expected rating, 1..5, its posterior SD and 90 % interval.
    nights_used : ndarray of int, shape (n_trainees,)
        Nights with at least one answer.
    converged : ndarray of bool, shape (n_trainees,)
        Whether the search for the mode arrived.
    log_evidence : ndarray of float, shape (n_trainees,)
        Laplace approximation of the log chance of the answers.
    """

    ease: FloatArray
    covariance: FloatArray
    allowed: BoolArray
    p_best: FloatArray
    p_first_try: FloatArray
    expected_rating: FloatArray
    sd: FloatArray
    lower: FloatArray
    upper: FloatArray
    nights_used: IntArray
    converged: BoolArray
    log_evidence: FloatArray

    def __post_init__(self) -> None:
        """Refuse chances that do not sum to 1."""
        if not np.allclose(self.p_best.sum(axis=1), 1.0, atol=1e-9):
            raise ValueError("the chances of being best must sum to 1")

    def take(self, rows: slice | IntArray) -> Self:
        """Pick trainees by row."""
        return type(self)(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})


@dataclass(frozen=True, eq=False)
class NightTraces:
    """Every night of a course, looking back from its end.

    Parameters
    ----------
    ease, ease_sd : ndarray of float, shape (n_trainees, n_nights, 5)
        Posterior mean and SD of the latent ease, learning included.
    expected_rating, lower, upper : ndarray of float, shape (n_trainees, n_nights, 5)
        Expected rating, 1..5, for an average slot, without carryover, at the last piece size;
        with its 90 % interval. nan for positions that are not allowed.
    """

    ease: FloatArray
    ease_sd: FloatArray
    expected_rating: FloatArray
    lower: FloatArray
    upper: FloatArray


def estimate_preferences(
    courses: Courses, *, hyperparameters: Hyperparameters = DEFAULT
) -> PreferenceEstimates:
    """Estimate every trainee's preference for the night after the plan.

    Parameters
    ----------
    courses : Courses
        What was recorded; a trainee without any night gets the prior.
    hyperparameters : Hyperparameters
        Held fixed.

    Returns
    -------
    PreferenceEstimates
        One row per trainee, in the order given.
    """
    parts = [
        _estimate_chunk(courses.take(slice(start, start + CHUNK)), hyperparameters)
        for start in range(0, max(courses.n_trainees, 1), CHUNK)
    ]
    if len(parts) == 1:
        return parts[0]
    return PreferenceEstimates(
        **{
            f.name: np.concatenate([getattr(part, f.name) for part in parts])
            for f in fields(PreferenceEstimates)
        }
    )


def estimate_earlier(
    courses: Courses, nights: Sequence[int], *, hyperparameters: Hyperparameters = DEFAULT
) -> tuple[PreferenceEstimates, ...]:
    """Give what would have been said after each of some nights: the filter view.

    Each is the estimate for the same night after the plan, from the answers up to that night
    alone.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    nights : sequence of int
        Sheet numbers; 0 gives what is said before any practice.
    hyperparameters : Hyperparameters
        Held fixed.

    Returns
    -------
    tuple of PreferenceEstimates
        One per night asked for, in that order.
    """
    n = courses.n_trainees
    repeated = courses.take(np.tile(np.arange(n), len(nights)))
    every = estimate_preferences(
        repeated.until(np.repeat(np.asarray(nights, dtype=int), n)), hyperparameters=hyperparameters
    )
    return tuple(every.take(slice(k * n, (k + 1) * n)) for k in range(len(nights)))


def trace_nights(courses: Courses, *, hyperparameters: Hyperparameters = DEFAULT) -> NightTraces:
    """Estimate every position on every night from all nights.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    hyperparameters : Hyperparameters
        Held fixed.

    Returns
    -------
    NightTraces
        For plots: the first night against the end, and the way between.
    """
    parts = [
        _trace_chunk(courses.take(slice(start, start + CHUNK)), hyperparameters)
        for start in range(0, max(courses.n_trainees, 1), CHUNK)
    ]
    return NightTraces(
        **{
            f.name: np.concatenate([getattr(part, f.name) for part in parts])
            for f in fields(NightTraces)
        }
    )


def give_verdicts(
    estimates: PreferenceEstimates,
    *,
    may_recommend: BoolArray | None = None,
    rule: VerdictRule = DEFAULT_RULE,
) -> tuple[VerdictAnswer, ...]:
    """Give every trainee's verdict.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Numbers of n trainees.
    may_recommend : ndarray of bool, shape (n_trainees, 5), optional
        False after a safety event in a position or without a sign-off it needs. The chances that
        count are recomputed among the positions left. All allowed ones where it is not given.
    rule : VerdictRule
        Thresholds.

    Returns
    -------
    tuple of VerdictAnswer
        One per trainee.
    """
    open_to = estimates.allowed if may_recommend is None else estimates.allowed & may_recommend
    p_best = estimates.p_best.copy()
    fewer = open_to.any(axis=1) & (open_to != estimates.allowed).any(axis=1)
    if fewer.any():
        p_best[fewer] = chance_best(
            estimates.ease[fewer], estimates.covariance[fewer], allowed=open_to[fewer]
        )
    return tuple(
        give_verdict(
            p_best[row],
            estimates.p_first_try[row],
            expected_rating=estimates.expected_rating[row],
            nights_used=int(estimates.nights_used[row]),
            may_recommend=open_to[row],
            converged=bool(estimates.converged[row]),
            rule=rule,
        )
        for row in range(p_best.shape[0])
    )


def _estimate_chunk(courses: Courses, hyperparameters: Hyperparameters) -> PreferenceEstimates:
    posterior = _approximate(courses, hyperparameters)
    ease, covariance = _next_night(posterior, courses, hyperparameters)
    average = ease + _average_piece(courses, hyperparameters)[:, None]
    deviation = np.sqrt(np.einsum("nii->ni", covariance))
    rating = _rating_summary(
        average, deviation, scale=courses.scale, hyperparameters=hyperparameters
    )
    first = _first_try(average, deviation, hyperparameters)
    barred = ~courses.allowed
    for values in (first, *rating):
        values[barred] = np.nan
    return PreferenceEstimates(
        ease=ease,
        covariance=covariance,
        allowed=courses.allowed,
        p_best=chance_best(ease, covariance, allowed=courses.allowed),
        p_first_try=first,
        expected_rating=rating[0],
        sd=rating[1],
        lower=rating[2],
        upper=rating[3],
        nights_used=courses.nights_used,
        converged=posterior.converged,
        log_evidence=posterior.log_evidence,
    )


def _approximate(courses: Courses, hyperparameters: Hyperparameters) -> Posterior:
    evidence = prepare_evidence(courses, hyperparameters)
    return centre_on_mean(find_mode(evidence), evidence)


def _next_night(
    posterior: Posterior, courses: Courses, hyperparameters: Hyperparameters
) -> tuple[FloatArray, FloatArray]:
    """Predict ease for the night after each trainee's plan."""
    last = courses.planned - 1
    rows = np.arange(courses.n_trainees)
    mean = posterior.filtered.mean[last, :, rows]
    covariance = posterior.filtered.covariance[last, :, :, rows] + drift_covariance(hyperparameters)
    mean = mean + np.array(hyperparameters.position_means)
    return mean + learning_curve(courses.planned + 1, hyperparameters)[:, None], covariance


def _average_piece(courses: Courses, hyperparameters: Hyperparameters) -> FloatArray:
    """Give the effect of an average slot and the last piece size, shape (n_trainees,)."""
    n_slots = courses.allowed.sum(axis=1)
    slots = np.cumsum(hyperparameters.slot_effects)[n_slots - 1] / n_slots
    effect: FloatArray = slots + hyperparameters.size_effect * (
        courses.last_piece_mm - REFERENCE_PIECE_MM
    )
    return effect


def expected_rating(
    ease: FloatArray, *, scale: IntArray, hyperparameters: Hyperparameters
) -> FloatArray:
    """Give the mean rating at an ease, averaged over night, piece and rating noise.

    Parameters
    ----------
    ease : ndarray of float, shape (n_trainees, ...)
        Latent ease of a piece before noise.
    scale : ndarray of int, shape (n_trainees,)
        Form of the rating; the mean is over the answers which that form offers.
    hyperparameters : Hyperparameters
        Thresholds and noise.

    Returns
    -------
    ndarray of float, same shape as ease
        Within 1..5.
    """
    most = max(RATINGS_OF_SCALE) - 1
    cuts = np.full((most + 2, most), FAR)
    gaps = np.zeros((most + 2, most))
    lowest = np.zeros(most + 2)
    for form, ratings in RATINGS_OF_SCALE.items():
        cuts[form, : len(ratings) - 1] = hyperparameters.thresholds[form]
        gaps[form, : len(ratings) - 1] = np.diff(ratings)
        lowest[form] = ratings[0]
    noise = np.sqrt(1.0 + hyperparameters.night_sd**2 + hyperparameters.piece_sd**2)
    shape = (-1, *(1,) * (ease.ndim - 1))
    total = np.broadcast_to(lowest[scale].reshape(shape), ease.shape).copy()
    for place in range(most):
        cut, gap = cuts[scale, place].reshape(shape), gaps[scale, place].reshape(shape)
        total += gap * ndtr((ease - cut) / noise)
    return total


def _rating_summary(
    mean: FloatArray,
    deviation: FloatArray,
    *,
    scale: IntArray,
    hyperparameters: Hyperparameters,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Give mean, SD and interval of the expected rating over the posterior of ease."""

    def rate(ease: FloatArray) -> FloatArray:
        return expected_rating(ease, scale=scale, hyperparameters=hyperparameters)

    values = rate(mean[..., None] + deviation[..., None] * _NODES)
    centre = values @ _WEIGHTS
    spread = np.sqrt((values - centre[..., None]) ** 2 @ _WEIGHTS)
    reach = ndtri(0.5 + 0.5 * COVERAGE) * deviation
    lower = np.minimum(rate(mean - reach), centre)
    return centre, spread, lower, np.maximum(rate(mean + reach), centre)


def _first_try(
    mean: FloatArray, deviation: FloatArray, hyperparameters: Hyperparameters
) -> FloatArray:
    """Give the chance of going down first try, over posterior, night and piece noise."""
    noise = hyperparameters.night_sd**2 + hyperparameters.piece_sd**2
    total = np.sqrt(deviation**2 + noise)
    logit = hyperparameters.went_slope * (mean[..., None] + total[..., None] * _NODES)
    chance: FloatArray = expit(logit - hyperparameters.went_cuts[1]) @ _WEIGHTS
    return chance


def _trace_chunk(courses: Courses, hyperparameters: Hyperparameters) -> NightTraces:
    posterior = _approximate(courses, hyperparameters)
    means, _ = smooth_means(posterior.filtered, posterior.information)
    covariances = smooth_covariances(posterior.filtered, posterior.information)
    nights = np.arange(1, courses.n_nights + 1)
    ease = np.moveaxis(means, -1, 0) + np.array(hyperparameters.position_means)
    ease += learning_curve(nights, hyperparameters)[:, None]
    deviation = np.sqrt(np.moveaxis(np.einsum("tiin->tin", covariances), -1, 0))
    average = ease + _average_piece(courses, hyperparameters)[:, None, None]
    rating, _, lower, upper = _rating_summary(
        average, deviation, scale=courses.scale, hyperparameters=hyperparameters
    )
    for values in (rating, lower, upper):
        values[np.broadcast_to(~courses.allowed[:, None, :], values.shape)] = np.nan
    return NightTraces(ease, deviation, rating, lower, upper)
