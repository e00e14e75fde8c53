"""What is said of each trainee: chances, expected ratings, verdicts, and the way there."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Self, TypeVar

import numpy as np

from sidelong.preferences.averaging import (
    mix_chances,
    mix_chances_ahead,
    mix_chances_easier,
    mix_moments,
)
from sidelong.preferences.courses import BoolArray, Courses, FloatArray, IntArray
from sidelong.preferences.hyperparameters import (
    DEFAULT,
    N_POSITIONS,
    HyperparameterMixture,
    Hyperparameters,
    Shared,
    mix,
)
from sidelong.preferences.mode import Posterior, find_mode
from sidelong.preferences.model import drift_covariances, learning_curves, prepare_evidence
from sidelong.preferences.ratings import (
    CHART,
    FULL,
    Detail,
    average_piece,
    first_try_chance,
    summarise_rating,
)
from sidelong.preferences.skewness import centre_on_mean
from sidelong.preferences.smoother import smooth_covariances, smooth_means
from sidelong.preferences.verdict import DEFAULT_RULE, VerdictAnswer, VerdictRule, give_verdict

CHUNK = 512
"""Trainees computed side by side: large enough to be fast, small enough to stay in the cache."""

ARRIVED = 1e-3
"""Rise of the log posterior, promised by the last step, at which a search ends.

Newton's steps shrink so fast that no chance is then 1e-5 away from where the search would end.
"""


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
        Chance to have the highest ease, leads below ``UNFELT`` left to chance; rows sum to 1.
    open_to : ndarray of bool, shape (n_trainees, 5)
        Positions that may be suggested: not after a safety event in them, nor while a sign-off
        is missing.
    p_ahead : ndarray of float, shape (n_trainees, 5)
        The same among those alone, 0 elsewhere; ``p_best`` where none of them may be suggested.
    p_easier : ndarray of float, shape (n_trainees, 5, 5)
        Chance that the position of the row has a higher ease than that of the column, leads
        below ``UNFELT`` left to chance; without meaning where one of them is not allowed.
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
    lopsided : ndarray of float, shape (n_trainees,)
        Largest distance between mode and mean of what a piece felt like, averaged over all points;
        from some 0.75 on an answer may be off, see :func:`mend_estimates`.
    """

    ease: FloatArray
    covariance: FloatArray
    allowed: BoolArray
    p_best: FloatArray
    open_to: BoolArray
    p_ahead: FloatArray
    p_easier: FloatArray
    p_first_try: FloatArray
    expected_rating: FloatArray
    sd: FloatArray
    lower: FloatArray
    upper: FloatArray
    nights_used: IntArray
    converged: BoolArray
    log_evidence: FloatArray
    lopsided: FloatArray

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


_Result = TypeVar("_Result", PreferenceEstimates, NightTraces)


def estimate_preferences(
    courses: Courses, *, hyperparameters: Shared = DEFAULT, open_to: BoolArray | None = None
) -> PreferenceEstimates:
    """Estimate every trainee's preference for the night after the plan.

    Parameters
    ----------
    courses : Courses
        What was recorded; a trainee without any night gets the prior.
    hyperparameters : Hyperparameters or HyperparameterMixture
        Held fixed, or averaged over.
    open_to : ndarray of bool, shape (n_trainees, 5), optional
        Positions that may be suggested; all allowed ones where it is not given.

    Returns
    -------
    PreferenceEstimates
        One row per trainee, in the order given.
    """
    shared = mix(hyperparameters)
    may = courses.allowed if open_to is None else open_to
    parts = [(courses.take(rows), may[rows]) for rows in _chunks(courses, shared)]
    return join([_estimate_chunk(some, shared, open_to=each) for some, each in parts])


def estimate_earlier(
    courses: Courses, nights: Sequence[int], *, hyperparameters: Shared = DEFAULT
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
    hyperparameters : Hyperparameters or HyperparameterMixture
        Held fixed, or averaged over.

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


def trace_nights(courses: Courses, *, hyperparameters: Shared = DEFAULT) -> NightTraces:
    """Estimate every position on every night from all nights.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    hyperparameters : Hyperparameters or HyperparameterMixture
        Held fixed, or averaged over.

    Returns
    -------
    NightTraces
        For plots: the first night against the end, and the way between.
    """
    shared = mix(hyperparameters)
    parts = [courses.take(rows) for rows in _chunks(courses, shared)]
    return join([_trace_chunk(some, shared) for some in parts])


def give_verdicts(
    estimates: PreferenceEstimates, *, rule: VerdictRule = DEFAULT_RULE
) -> tuple[VerdictAnswer, ...]:
    """Give every trainee's verdict, on the chances among positions that may be suggested.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Numbers of n trainees.
    rule : VerdictRule
        Thresholds.

    Returns
    -------
    tuple of VerdictAnswer
        One per trainee.
    """
    return tuple(
        give_verdict(
            estimates.p_ahead[row],
            estimates.p_first_try[row],
            expected_rating=estimates.expected_rating[row],
            nights_used=int(estimates.nights_used[row]),
            may_recommend=estimates.open_to[row],
            converged=bool(estimates.converged[row]),
            rule=rule,
        )
        for row in range(estimates.p_ahead.shape[0])
    )


def _estimate_chunk(
    courses: Courses, shared: HyperparameterMixture, *, open_to: BoolArray
) -> PreferenceEstimates:
    posterior = approximate(courses, shared.points)
    return conclude_answers(posterior, courses, shared=shared, open_to=open_to)


def conclude_answers(
    posterior: Posterior,
    courses: Courses,
    *,
    shared: HyperparameterMixture,
    open_to: BoolArray,
    detail: Detail = FULL,
) -> PreferenceEstimates:
    """Read every trainee's answer off an approximation under each of m points.

    Parameters
    ----------
    posterior : Posterior
        Of m n columns, point by point.
    courses : Courses
        Of n trainees.
    shared : HyperparameterMixture
        The m points.
    open_to : ndarray of bool, shape (n_trainees, 5)
        Positions that may be suggested; those not allowed are left out.
    detail : Detail
        How finely ratings are integrated.

    Returns
    -------
    PreferenceEstimates
        Averaged over the points.
    """
    points, weights = shared.points, np.array(shared.weights)
    ease, covariance = _next_night(posterior, courses, points)
    average = ease + average_piece(courses, points)[:, :, None]
    deviation = np.sqrt(np.einsum("knii->kni", covariance))
    rating = summarise_rating(
        average,
        deviation,
        scale=courses.scale,
        points=points,
        weights=weights,
        detail=detail,
    )
    first = first_try_chance(average, deviation, points=points, weights=weights)
    barred = ~courses.allowed
    for values in (first, rating.expected, rating.sd, rating.lower, rating.upper):
        values[barred] = np.nan
    whole_ease, whole_covariance = mix_moments(ease, covariance, weights=weights)
    may = open_to & courses.allowed
    best = mix_chances(ease, covariance, weights=weights, allowed=courses.allowed)
    m, n = len(points), courses.n_trainees
    log_evidence = posterior.log_evidence.reshape(m, n)
    return PreferenceEstimates(
        ease=whole_ease,
        covariance=whole_covariance,
        allowed=courses.allowed,
        p_best=best,
        open_to=may,
        p_ahead=mix_chances_ahead(
            ease, covariance, weights=weights, open_to=may, p_best=best, allowed=courses.allowed
        ),
        p_easier=mix_chances_easier(ease, covariance, weights=weights),
        p_first_try=first,
        expected_rating=rating.expected,
        sd=rating.sd,
        lower=rating.lower,
        upper=rating.upper,
        nights_used=courses.nights_used,
        converged=np.logical_and.reduce(posterior.converged.reshape(m, n), axis=0),
        log_evidence=np.logaddexp.reduce(log_evidence + np.log(weights)[:, None], axis=0),
        lopsided=weights @ posterior.lopsided.reshape(m, n),
    )


def approximate(courses: Courses, points: Sequence[Hyperparameters]) -> Posterior:
    """Approximate every trainee's posterior under each of m points, columns point by point."""
    evidence = prepare_evidence(courses, points)
    return centre_on_mean(find_mode(evidence, tolerance=ARRIVED, measure_again=False), evidence)


def _next_night(
    posterior: Posterior, courses: Courses, points: Sequence[Hyperparameters]
) -> tuple[FloatArray, FloatArray]:
    """Predict ease for the night after each trainee's plan; (m, n, 5) and (m, n, 5, 5)."""
    m, n = len(points), courses.n_trainees
    last, columns = np.tile(courses.planned - 1, m), np.arange(m * n)
    mean = posterior.filtered.mean[last, :, columns].reshape(m, n, N_POSITIONS)
    covariance = posterior.filtered.covariance[last, :, :, columns]
    drift = drift_covariances(points)
    rise = learning_curves(courses.planned + 1, points)
    mean = mean + np.array([point.position_means for point in points])[:, None]
    return mean + rise[:, :, None], covariance.reshape(m, n, *drift.shape[1:]) + drift[:, None]


def _trace_chunk(courses: Courses, shared: HyperparameterMixture) -> NightTraces:
    return conclude_traces(approximate(courses, shared.points), courses, shared=shared)


def conclude_traces(
    posterior: Posterior, courses: Courses, *, shared: HyperparameterMixture
) -> NightTraces:
    """Read every night off an approximation; parameters as in :func:`conclude_answers`."""
    points, weights = shared.points, np.array(shared.weights)
    means, _ = smooth_means(posterior.filtered, posterior.information)
    covariances, _ = smooth_covariances(posterior.filtered, posterior.information)
    nights = np.arange(1, courses.n_nights + 1)
    shape = (len(points), courses.n_trainees, *means.shape[:2])
    ease = np.moveaxis(means, -1, 0).reshape(shape)
    ease = ease + np.array([point.position_means for point in points])[:, None, None]
    ease += learning_curves(nights, points)[:, None, :, None]
    variance = np.moveaxis(np.einsum("tiin->tin", covariances), -1, 0).reshape(shape)
    average = ease + average_piece(courses, points)[:, :, None, None]
    rating = summarise_rating(
        average,
        np.sqrt(variance),
        scale=courses.scale,
        points=points,
        weights=weights,
        detail=CHART,
    )
    for values in (rating.expected, rating.lower, rating.upper):
        values[np.broadcast_to(~courses.allowed[:, None, :], values.shape)] = np.nan
    mean = np.einsum("k,k...->...", weights, ease)
    total = np.einsum("k,k...->...", weights, variance + (ease - mean) ** 2)
    return NightTraces(mean, np.sqrt(total), rating.expected, rating.lower, rating.upper)


def join(parts: Sequence[_Result]) -> _Result:
    """Put results of several groups of trainees together, in their order."""
    if len(parts) == 1:
        return parts[0]
    kind = type(parts[0])
    return kind(
        **{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(kind)}
    )


def _chunks(courses: Courses, shared: HyperparameterMixture) -> list[slice]:
    """Cut a cohort into pieces that are computed side by side under all points."""
    size = max(1, CHUNK // len(shared.points))
    starts = range(0, max(courses.n_trainees, 1), size)
    return [slice(start, start + size) for start in starts]
