"""What else follows from an estimate: against centre, from own nights, and with more nights."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from sidelong.preferences.averaging import mix_moments
from sidelong.preferences.best import chance_best
from sidelong.preferences.courses import BoolArray, Courses, FloatArray
from sidelong.preferences.estimate import PreferenceEstimates
from sidelong.preferences.hyperparameters import CENTRE, DEFAULT, Hyperparameters, Shared, mix
from sidelong.preferences.mode import Posterior, find_mode
from sidelong.preferences.model import (
    drift_covariance,
    first_night_covariance,
    learning_curve,
    learning_curves,
    prepare_evidence,
)
from sidelong.preferences.points import normal_points
from sidelong.preferences.skewness import centre_on_mean

N_FUTURES = 64
"""Ways in which further nights may turn out; fixed points, nothing is drawn."""

_CHUNK = 256
_TINY = 1e-12


@dataclass(frozen=True, eq=False)
class MoreNights:
    """What further nights would be expected to change, before they are practised.

    All of it is for the night after the further ones.

    Parameters
    ----------
    nights : int
        How many.
    highest_now : ndarray of float, shape (n_trainees,)
        Highest chance to be the best that can be given without practising them.
    highest_then : ndarray of float, shape (n_trainees,)
        What it is expected to be after them; never lower but for rounding.
    another : ndarray of float, shape (n_trainees,)
        Chance that another position would then have the highest chance.
    gain : ndarray of float, shape (n_trainees,)
        Ease that is expected to be gained by choosing then and not now, >= 0.
    """

    nights: int
    highest_now: FloatArray
    highest_then: FloatArray
    another: FloatArray
    gain: FloatArray


def chance_better(estimates: PreferenceEstimates, *, than: int = CENTRE) -> FloatArray:
    """Give the chance that each position is easier than one of them.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Of n trainees.
    than : int
        Position to compare with, 0..4; centre where it is not given.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5)
        nan for that position itself and where one of the two is not allowed.
    """
    ahead = estimates.ease - estimates.ease[:, than, None]
    own = np.einsum("nii->ni", estimates.covariance)
    variance = own + own[:, than, None] - 2.0 * estimates.covariance[:, than]
    chance: FloatArray = ndtr(ahead / np.sqrt(np.maximum(variance, _TINY)))
    chance[~estimates.allowed | ~estimates.allowed[:, than, None]] = np.nan
    chance[:, than] = np.nan
    return chance


def share_of_own_nights(
    courses: Courses, estimates: PreferenceEstimates, *, hyperparameters: Shared = DEFAULT
) -> FloatArray:
    """Tell how much of what is known about differences rests on the trainee's own nights.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    estimates : PreferenceEstimates
        Made from it.
    hyperparameters : Hyperparameters or HyperparameterMixture
        That the estimates rest on.

    Returns
    -------
    ndarray of float, shape (n_trainees,)
        Share, 0..1, of the variance of differences between positions that own answers have
        removed: 0 before the first night, where the answer is everyone's; nan with one position.
    """
    open_to, closed = (
        _variance_of_differences(each, estimates.allowed)
        for each in (_before_any_night(courses, hyperparameters), estimates.covariance)
    )
    with np.errstate(invalid="ignore"):
        share = 1.0 - closed / open_to
    share[estimates.allowed.sum(axis=1) < 2] = np.nan
    return np.clip(share, 0.0, 1.0)


def expect_of_more_nights(
    courses: Courses, *, nights: int = 7, hyperparameters: Hyperparameters = DEFAULT
) -> MoreNights:
    """Look ahead to what further nights would be expected to change.

    Further nights are taken to be as telling as the trainee's own practised nights were on
    average. How surely ease is then known follows without any answer; where the estimate then
    lies is spread around where it lies now.

    Parameters
    ----------
    courses : Courses
        What was recorded; trainees without a practised night get nan.
    nights : int
        Further nights, >= 1.
    hyperparameters : Hyperparameters
        Held fixed.

    Returns
    -------
    MoreNights
        Expectations for every trainee.

    Raises
    ------
    ValueError
        If nights is below 1.
    """
    if nights < 1:
        raise ValueError(f"{nights} further nights cannot be looked ahead to")
    starts = range(0, max(courses.n_trainees, 1), _CHUNK)
    parts = [
        _look_ahead(courses.take(slice(start, start + _CHUNK)), nights, hyperparameters)
        for start in starts
    ]
    every = [np.concatenate(each) for each in zip(*parts, strict=True)]
    return MoreNights(nights, *every)


def _before_any_night(courses: Courses, shared: Shared) -> FloatArray:
    """Give the covariance of ease on the night after the plan, without any answer."""
    mixture = mix(shared)
    points, steps = mixture.points, courses.planned[None, :, None, None]
    ease = np.array([point.position_means for point in points])[:, None]
    ease = ease + learning_curves(courses.planned + 1, points)[:, :, None]
    first = np.array([first_night_covariance(point) for point in points])[:, None]
    drift = np.array([drift_covariance(point) for point in points])[:, None]
    return mix_moments(ease, first + steps * drift, weights=np.array(mixture.weights))[1]


def _variance_of_differences(covariance: FloatArray, allowed: BoolArray) -> FloatArray:
    """Sum the variances of the allowed positions around their mean."""
    some = allowed[:, :, None] & allowed[:, None, :]
    kept = np.where(some, covariance, 0.0)
    total: FloatArray = np.einsum("nii->n", kept) - kept.sum(axis=(1, 2)) / allowed.sum(axis=1)
    return total


def _look_ahead(
    courses: Courses, nights: int, hyperparameters: Hyperparameters
) -> tuple[FloatArray, ...]:
    (point,) = mix(hyperparameters).points
    evidence = prepare_evidence(courses, point)
    posterior = centre_on_mean(find_mode(evidence), evidence)
    rows, last = np.arange(courses.n_trainees), courses.planned - 1
    now = posterior.filtered.covariance[last, :, :, rows]
    mean = posterior.filtered.mean[last, :, rows] + np.array(point.position_means)
    mean += learning_curve(courses.planned + nights + 1, point)[:, None]
    drift = drift_covariance(point)
    blind = now + (nights + 1) * drift
    seen = now
    telling = _average_information(posterior, courses)
    for _ in range(nights):
        ahead = seen + drift
        after = np.linalg.solve(np.eye(ahead.shape[1]) + ahead @ telling, ahead)
        seen = np.asarray(0.5 * (after + np.swapaxes(after, 1, 2)), dtype=np.float64)
    answer = _compare(mean, blind, seen + drift, courses.allowed)
    for values in answer:
        values[courses.nights_used == 0] = np.nan
    return answer


def _average_information(posterior: Posterior, courses: Courses) -> FloatArray:
    """Average what one practised night says about ease, shape (n_trainees, 5, 5)."""
    total = sum(posterior.information.dense(night) for night in range(courses.n_nights))
    average: FloatArray = np.moveaxis(np.asarray(total), -1, 0)
    return average / np.maximum(courses.nights_used, 1)[:, None, None]


def _compare(
    mean: FloatArray, blind: FloatArray, then: FloatArray, allowed: BoolArray
) -> tuple[FloatArray, ...]:
    """Compare choosing now with choosing when the further nights are known."""
    n, k = mean.shape
    values, axes = np.linalg.eigh(blind - then)
    root = axes * np.sqrt(np.maximum(values, 0.0))[:, None, :]
    futures = mean[:, None] + np.einsum("nij,qj->nqi", root, normal_points(N_FUTURES, k))
    chance_then = chance_best(
        futures.reshape(-1, k),
        np.repeat(then, N_FUTURES, axis=0),
        allowed=np.repeat(allowed, N_FUTURES, axis=0),
    ).reshape(n, N_FUTURES, k)
    chance_now = chance_best(mean, blind, allowed=allowed)
    chosen = chance_now.argmax(axis=1)
    preferred = chance_then.argmax(axis=2)
    chosen_ease = np.take_along_axis(futures, chosen[:, None, None], axis=2)[..., 0]
    open_to = np.where(allowed[:, None], futures, -np.inf)
    return (
        chance_now.max(axis=1),
        chance_then.max(axis=2).mean(axis=1),
        (preferred != chosen[:, None]).mean(axis=1),
        (open_to.max(axis=2) - chosen_ease).mean(axis=1),
    )
