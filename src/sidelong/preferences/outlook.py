"""What else follows from an estimate: against centre, from own nights, and with more nights.

All of it compares the positions that may be suggested, with the same blur as the chance to be the
best, so that figures beside each other agree: of two positions, the chance to be easier than the
other is the chance to be the best.
"""

from dataclasses import dataclass

import numpy as np

from sidelong.preferences.averaging import blur, mix_moments
from sidelong.preferences.best import POINTS_OF_MANY, chance_best
from sidelong.preferences.courses import BoolArray, Courses, FloatArray
from sidelong.preferences.estimate import PreferenceEstimates, approximate
from sidelong.preferences.hyperparameters import CENTRE, DEFAULT, Shared, mix
from sidelong.preferences.mode import Posterior
from sidelong.preferences.model import drift_covariance, first_night_covariance, learning_curves
from sidelong.preferences.points import normal_points

N_FUTURES = 64
"""Ways in which further nights may turn out; fixed points, nothing is drawn."""


@dataclass(frozen=True, eq=False)
class MoreNights:
    """What further nights would be expected to change, before they are practised.

    All of it is for the night after the further ones, among positions that may be suggested; nan
    without a practised night, or with fewer than two such positions.

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

    Leads that nobody feels are left to chance, and chances are averaged over all points of the
    hyperparameters, as for ``p_best``.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Of n trainees.
    than : int
        Position to compare with, 0..4; centre where it is not given.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5)
        nan for that position itself and where one of the two may not be suggested.
    """
    chance = estimates.p_easier[:, :, than].copy()
    chance[~estimates.open_to | ~estimates.open_to[:, than, None]] = np.nan
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
        removed: 0 before the first night, where the answer is everyone's; nan with fewer than two
        positions that may be suggested.
    """
    before, after = (
        _variance_of_differences(each, estimates.open_to)
        for each in (_before_any_night(courses, hyperparameters), estimates.covariance)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(before > 0, 1.0 - after / before, np.nan)
    share[~_can_compare(estimates)] = np.nan
    return np.clip(share, 0.0, 1.0)


def average_night(courses: Courses, *, hyperparameters: Shared = DEFAULT) -> FloatArray:
    """Average what one practised night says about ease.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    hyperparameters : Hyperparameters or HyperparameterMixture
        Of a mixture its ``middle`` point alone counts.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5, 5)
        Information about ease (inverse variance); 0 without a practised night.
    """
    mixture = mix(hyperparameters)
    posterior = approximate(courses, (mixture.points[mixture.middle],))
    return average_information(posterior, courses)


def average_information(posterior: Posterior, courses: Courses) -> FloatArray:
    """Average what one practised night says, from an approximation of n trainees.

    Parameters
    ----------
    posterior : Posterior
        Under one point.
    courses : Courses
        What was recorded.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5, 5)
        As :func:`average_night`.
    """
    total = sum(posterior.information.dense(night) for night in range(courses.n_nights))
    average: FloatArray = np.moveaxis(np.asarray(total), -1, 0)
    return average / np.maximum(courses.nights_used, 1)[:, None, None]


def expect_of_more_nights(
    estimates: PreferenceEstimates,
    *,
    telling: FloatArray,
    nights: int = 7,
    hyperparameters: Shared = DEFAULT,
) -> MoreNights:
    """Look ahead to what further nights would be expected to change.

    Where ease lies and how surely is taken from the estimates, over all points together. Further
    nights are taken to be as telling as the trainee's own practised nights were on average, and to
    bring the average drift of all points. How surely ease is then known follows without any answer;
    where the estimate then lies is spread around where it lies now.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Of n trainees.
    telling : ndarray of float, shape (n_trainees, 5, 5)
        What one night says, of :func:`average_night`.
    nights : int
        Further nights, >= 1.
    hyperparameters : Hyperparameters or HyperparameterMixture
        That the estimates rest on.

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
    mixture = mix(hyperparameters)
    each = np.array([drift_covariance(point) for point in mixture.points])
    drift = np.einsum("k,kij->ij", mixture.weights, each)
    rows = np.flatnonzero(_can_compare(estimates) & (estimates.nights_used > 0))
    now = estimates.covariance[rows]
    then = _after(now, telling[rows], drift=drift, nights=nights)
    found = _compare(estimates.ease[rows], now + nights * drift, then, estimates.open_to[rows])
    every = np.full((4, estimates.nights_used.size), np.nan)
    every[:, rows] = found
    return MoreNights(nights, *every)


def _can_compare(estimates: PreferenceEstimates) -> BoolArray:
    several: BoolArray = estimates.open_to.sum(axis=1) > 1
    return several


def _before_any_night(courses: Courses, shared: Shared) -> FloatArray:
    """Give the covariance of ease on the night after the plan, without any answer."""
    mixture = mix(shared)
    points, steps = mixture.points, courses.planned[None, :, None, None]
    ease = np.array([point.position_means for point in points])[:, None]
    ease = ease + learning_curves(courses.planned + 1, points)[:, :, None]
    first = np.array([first_night_covariance(point) for point in points])[:, None]
    drift = np.array([drift_covariance(point) for point in points])[:, None]
    return mix_moments(ease, first + steps * drift, weights=np.array(mixture.weights))[1]


def _variance_of_differences(covariance: FloatArray, compared: BoolArray) -> FloatArray:
    """Sum the variances of the positions compared around their mean."""
    some = compared[:, :, None] & compared[:, None, :]
    kept = np.where(some, covariance, 0.0)
    number = np.maximum(compared.sum(axis=1), 1)
    total: FloatArray = np.einsum("nii->n", kept) - kept.sum(axis=(1, 2)) / number
    return total


def _after(
    covariance: FloatArray, telling: FloatArray, *, drift: FloatArray, nights: int
) -> FloatArray:
    """Give the covariance on the night after some further nights, from that of the first one."""
    ahead = covariance
    for _ in range(nights):
        seen = np.linalg.solve(np.eye(ahead.shape[1]) + ahead @ telling, ahead)
        ahead = np.asarray(0.5 * (seen + np.swapaxes(seen, 1, 2)), dtype=np.float64) + drift
    return ahead


def _compare(
    mean: FloatArray, blind: FloatArray, then: FloatArray, compared: BoolArray
) -> tuple[FloatArray, ...]:
    """Compare choosing now with choosing when the further nights are known."""
    n, k = mean.shape
    values, axes = np.linalg.eigh(blind - then)
    root = axes * np.sqrt(np.maximum(values, 0.0))[:, None, :]
    futures = mean[:, None] + np.einsum("nij,qj->nqi", root, normal_points(N_FUTURES, k))
    chance_then = chance_best(
        futures.reshape(-1, k),
        np.repeat(blur(then), N_FUTURES, axis=0),
        allowed=np.repeat(compared, N_FUTURES, axis=0),
        nodes=POINTS_OF_MANY,
    ).reshape(n, N_FUTURES, k)
    chance_now = chance_best(mean, blur(blind), allowed=compared)
    chosen = chance_now.argmax(axis=1)
    preferred = chance_then.argmax(axis=2)
    chosen_ease = np.take_along_axis(futures, chosen[:, None, None], axis=2)[..., 0]
    open_to = np.where(compared[:, None], futures, -np.inf)
    return (
        chance_now.max(axis=1),
        chance_then.max(axis=2).mean(axis=1),
        (preferred != chosen[:, None]).mean(axis=1),
        (open_to.max(axis=2) - chosen_ease).mean(axis=1),
    )
