"""From ease to what a family sees: the expected rating and the chance of going down first try."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import expit, ndtr, ndtri

from sidelong.preferences.courses import Courses, FloatArray, IntArray
from sidelong.preferences.hyperparameters import (
    RATINGS_OF_SCALE,
    REFERENCE_PIECE_MM,
    Hyperparameters,
)
from sidelong.preferences.model import FAR

COVERAGE = 0.9
"""Of the intervals ``lower`` to ``upper``."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Detail:
    """How finely the expected rating is integrated.

    Parameters
    ----------
    nodes : int
        Gauss-Hermite points over one normal.
    quantiles : int
        Taken together from all points of a mixture for an interval.
    """

    nodes: int
    quantiles: int

    @cached_property
    def rule(self) -> tuple[FloatArray, FloatArray]:
        """Nodes, and weights that sum to 1."""
        nodes, weights = np.polynomial.hermite_e.hermegauss(self.nodes)
        return nodes, weights / weights.sum()


FULL = Detail(nodes=21, quantiles=800)
CHART = Detail(nodes=9, quantiles=200)
"""For charts, where nobody reads a third digit."""


@dataclass(frozen=True, eq=False)
class RatingSummary:
    """What is known of the expected rating; all arrays have the shape of the ease given.

    Parameters
    ----------
    expected, sd, lower, upper : ndarray of float, shape (n_trainees, ...)
        Mean, SD and 90 % interval over the posterior, 1..5.
    """

    expected: FloatArray
    sd: FloatArray
    lower: FloatArray
    upper: FloatArray


@dataclass(frozen=True, eq=False)
class _Forms:
    """Cut points and steps of each trainee's form under each point, ready to broadcast."""

    cuts: FloatArray  # (m, n, 4)
    gaps: FloatArray  # (n, 4)
    lowest: FloatArray  # (n,)
    noise: FloatArray  # (m,)


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
    rating: FloatArray = expected_ratings(ease[None], scale=scale, points=(hyperparameters,))[0]
    return rating


def expected_ratings(
    ease: FloatArray, *, scale: IntArray, points: Sequence[Hyperparameters]
) -> FloatArray:
    """Give the mean rating at an ease under each of m points, shape (m, n_trainees, ...)."""
    return _rate(ease, _lay_out_forms(scale, points))


def first_try_chances(
    ease: FloatArray, deviation: FloatArray, *, points: Sequence[Hyperparameters]
) -> FloatArray:
    """Give the chance of going down first try under each of m points, noise averaged over.

    Parameters
    ----------
    ease, deviation : ndarray of float, shape (m, n_trainees, 5)
        Mean and SD of ease with an average piece; the deviation may be 0.
    points : sequence of Hyperparameters
        The m points.

    Returns
    -------
    ndarray of float, shape (m, n_trainees, 5)
        Chances.
    """
    beyond = (1,) * (ease.ndim - 1)
    noise = np.array([point.night_sd**2 + point.piece_sd**2 for point in points])
    slope = np.array([point.went_slope for point in points]).reshape(-1, *beyond, 1)
    cut = np.array([point.went_cuts[1] for point in points]).reshape(-1, *beyond, 1)
    total = np.sqrt(deviation**2 + noise.reshape(-1, *beyond))
    logit = slope * (ease[..., None] + total[..., None] * _NODES) - cut
    chance: FloatArray = expit(logit) @ _WEIGHTS
    return chance


def average_piece(courses: Courses, points: Sequence[Hyperparameters]) -> FloatArray:
    """Give the effect of an average slot and the last piece size.

    Parameters
    ----------
    courses : Courses
        Of n trainees.
    points : sequence of Hyperparameters
        m of them.

    Returns
    -------
    ndarray of float, shape (m, n_trainees)
        To be added to the ease of a position.
    """
    n_slots = courses.allowed.sum(axis=1)
    slots = np.cumsum([point.slot_effects for point in points], axis=1)[:, n_slots - 1] / n_slots
    size = np.array([point.size_effect for point in points])[:, None]
    effect: FloatArray = slots + size * (courses.last_piece_mm - REFERENCE_PIECE_MM)
    return effect


def summarise_rating(
    mean: FloatArray,
    deviation: FloatArray,
    *,
    scale: IntArray,
    points: Sequence[Hyperparameters],
    weights: FloatArray,
    detail: Detail = FULL,
) -> RatingSummary:
    """Describe the expected rating over the posterior of ease and of the hyperparameters.

    Parameters
    ----------
    mean, deviation : ndarray of float, shape (m, n_trainees, ...)
        Posterior mean and SD of ease with an average piece, under each of m points.
    scale : ndarray of int, shape (n_trainees,)
        Form of the rating.
    points : sequence of Hyperparameters
        The m points.
    weights : ndarray of float, shape (m,)
        Their weights, which sum to 1.
    detail : Detail
        How finely it is integrated.

    Returns
    -------
    RatingSummary
        Over all points together.
    """
    forms = _lay_out_forms(scale, points)
    nodes, share = detail.rule
    values = _rate(mean[..., None] + deviation[..., None] * nodes, forms)
    centre = np.einsum("k,k...q,q->...", weights, values, share)
    spread = np.einsum("k,k...q,q->...", weights, (values - centre[None, ..., None]) ** 2, share)
    if len(points) == 1:
        reach = ndtri(0.5 + 0.5 * COVERAGE) * deviation
        lower, upper = _rate(mean - reach, forms)[0], _rate(mean + reach, forms)[0]
    else:
        lower, upper = _pooled_interval(
            mean, deviation, forms=forms, weights=weights, pooled=detail.quantiles
        )
    return RatingSummary(
        centre, np.sqrt(spread), np.minimum(lower, centre), np.maximum(upper, centre)
    )


def first_try_chance(
    mean: FloatArray,
    deviation: FloatArray,
    *,
    points: Sequence[Hyperparameters],
    weights: FloatArray,
) -> FloatArray:
    """Give the chance of going down first try, over posterior, night and piece noise.

    Parameters
    ----------
    mean, deviation : ndarray of float, shape (m, n_trainees, 5)
        Posterior mean and SD of ease with an average piece, under each of m points.
    points : sequence of Hyperparameters
        The m points.
    weights : ndarray of float, shape (m,)
        Their weights, which sum to 1.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5)
        Chances.
    """
    every = first_try_chances(mean, deviation, points=points)
    chance: FloatArray = np.einsum("k,knp->np", weights, every)
    return chance


def _lay_out_forms(scale: IntArray, points: Sequence[Hyperparameters]) -> _Forms:
    most = max(RATINGS_OF_SCALE) - 1
    cuts = np.full((len(points), most + 2, most), FAR)
    gaps, lowest = np.zeros((most + 2, most)), np.zeros(most + 2)
    for form, ratings in RATINGS_OF_SCALE.items():
        cuts[:, form, : len(ratings) - 1] = [point.thresholds[form] for point in points]
        gaps[form, : len(ratings) - 1] = np.diff(ratings)
        lowest[form] = ratings[0]
    noise = [np.sqrt(1.0 + point.night_sd**2 + point.piece_sd**2) for point in points]
    return _Forms(cuts[:, scale], gaps[scale], lowest[scale], np.array(noise))


def _rate(ease: FloatArray, forms: _Forms) -> FloatArray:
    """Give the mean rating at an ease of shape (m, n_trainees, ...)."""
    beyond = (1,) * (ease.ndim - 2)
    noise = forms.noise.reshape(-1, 1, *beyond)
    total = np.broadcast_to(forms.lowest.reshape(1, -1, *beyond), ease.shape).copy()
    for place in range(forms.gaps.shape[1]):
        cut = forms.cuts[:, :, place].reshape(*forms.cuts.shape[:2], *beyond)
        gap = forms.gaps[:, place].reshape(1, -1, *beyond)
        total += gap * ndtr((ease - cut) / noise)
    return total


def _pooled_interval(
    mean: FloatArray, deviation: FloatArray, *, forms: _Forms, weights: FloatArray, pooled: int
) -> tuple[FloatArray, FloatArray]:
    """Take the interval from the quantiles of all points together."""
    number = max(9, pooled // mean.shape[0])
    places = ndtri((np.arange(number) + 0.5) / number)
    values = _rate(mean[..., None] + deviation[..., None] * places, forms)
    every = np.moveaxis(values, 0, -2).reshape(*mean.shape[1:], -1)
    weight = np.repeat(weights / number, number)
    order = np.argsort(every, axis=-1)
    every = np.take_along_axis(every, order, axis=-1)
    reached = np.cumsum(weight[order], axis=-1) - 0.5 * weight[order]
    tail = 0.5 * (1.0 - COVERAGE)
    return _quantile(every, reached, at=tail), _quantile(every, reached, at=1.0 - tail)


def _quantile(values: FloatArray, reached: FloatArray, *, at: float) -> FloatArray:
    """Read a weighted quantile off sorted values, between neighbours in proportion."""
    above = np.clip((reached < at).sum(axis=-1, keepdims=True), 1, values.shape[-1] - 1)
    low, high = (np.take_along_axis(reached, above - k, axis=-1) for k in (1, 0))
    left, right = (np.take_along_axis(values, above - k, axis=-1) for k in (1, 0))
    share = np.clip((at - low) / (high - low), 0.0, 1.0)
    between: FloatArray = (left + share * (right - left))[..., 0]
    return between
