"""Each trainee's answer held against the exact posterior, and corrected where it is off.

Courses are drawn from the normal approximation and weighed by the exact chance of the answers
(importance sampling). The same draws answer twice, with weights and without; the difference
corrects the approximation's own answer, so that what the draws have by chance cancels. How heavy
the tail of the weights is tells whether any of it can be trusted: the shape ``k`` of a generalised
Pareto distribution fitted to the largest weights [1]_ [2]_. Below 0.7 the corrected answer stands;
above, or where few effective draws are left, neither answer can be relied on, and the one of the
approximation is kept and flagged.

References
----------
.. [1] Vehtari, A., Simpson, D., Gelman, A., Yao, Y., Gabry, J. (2024). Pareto smoothed importance
   sampling. Journal of Machine Learning Research 25. (cited from memory)
.. [2] Zhang, J., Stephens, M. A. (2009). A new and efficient estimation method for the generalized
   Pareto distribution. Technometrics 51, 316-325. (cited from memory)
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from sidelong.preferences.averaging import UNFELT
from sidelong.preferences.courses import BoolArray, Courses, FloatArray
from sidelong.preferences.draws import draw_courses
from sidelong.preferences.estimate import PreferenceEstimates
from sidelong.preferences.hyperparameters import (
    DEFAULT,
    N_POSITIONS,
    HyperparameterMixture,
    Hyperparameters,
    Shared,
    mix,
)
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import learning_curve, prepare_evidence
from sidelong.preferences.pareto import smooth_tail
from sidelong.preferences.ratings import (
    COVERAGE,
    average_piece,
    expected_ratings,
    first_try_chances,
)
from sidelong.preferences.skewness import centre_on_mean

N_DRAWS = 2048
"""Draws for each trainee, over all points of the mixture together."""

TRUSTED = 0.7
"""Tail shape of the weights from which nothing can be relied on [1]_."""

FEWEST = 100
"""Effective draws below which the correction would be chance."""

FELT = 0.02
"""Change of a chance below which the approximation's own answer is left: what 2,048 draws have by
chance is half of it."""

_SEED = 20240601  # Of the scrambling: the same question always has the same answer.


@dataclass(frozen=True, eq=False)
class CorrectedEstimates:
    """Estimates held against the exact posterior.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Corrected where the approximation was off and the weights can be trusted.
    tail_shape : ndarray of float, shape (n_trainees,)
        Pareto shape k of the largest weights; below 0.5 good, from 0.7 on not to be trusted.
    effective_share : ndarray of float, shape (n_trainees,)
        Effective draws over draws, (0, 1]: 1 where the approximation is exact.
    moved : ndarray of float, shape (n_trainees,)
        Largest change of a chance, to be the best or to go down first try, that the weights ask
        for.
    is_corrected : ndarray of bool, shape (n_trainees,)
        Whether the estimates were changed.
    is_trusted : ndarray of bool, shape (n_trainees,)
        Whether the tail is light enough and enough effective draws are left.
    """

    estimates: PreferenceEstimates
    tail_shape: FloatArray
    effective_share: FloatArray
    moved: FloatArray
    is_corrected: BoolArray
    is_trusted: BoolArray


@dataclass(frozen=True, eq=False)
class _Pictured:
    """What each draw of one trainee means; both weights sum to 1."""

    weight: FloatArray
    plain: FloatArray  # of the approximation itself
    tail_shape: float
    ease: FloatArray  # (d, 5), the next night's
    best: FloatArray  # (d, 5), 1 on the best
    rating: FloatArray  # (d, 5)
    first: FloatArray  # (d, 5)


def correct_estimates(
    courses: Courses,
    estimates: PreferenceEstimates,
    *,
    hyperparameters: Shared = DEFAULT,
    draws: int = N_DRAWS,
) -> CorrectedEstimates:
    """Hold estimates against the exact posterior, trainee by trainee.

    Costs some 20 times as much as the estimates themselves; meant for the answer that a follow-up
    begins with, not for scoring many.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    estimates : PreferenceEstimates
        Made from it.
    hyperparameters : Hyperparameters or HyperparameterMixture
        That the estimates rest on.
    draws : int
        For each trainee; a power of 2, at least 256.

    Returns
    -------
    CorrectedEstimates
        One row per trainee.

    Raises
    ------
    ValueError
        If there are too few draws to know the tail.
    """
    if draws < 256:
        raise ValueError(f"{draws} draws cannot tell how heavy the tail is; take 256 or more")
    shared = mix(hyperparameters)
    pictures = [
        _picture(courses.take(np.array([row])), shared, draws=draws)
        for row in range(courses.n_trainees)
    ]
    shape = np.array([picture.tail_shape for picture in pictures])
    share = np.array([1.0 / (p.weight**2).sum() / p.weight.size for p in pictures])
    changed = [_correct(estimates.take(np.array([row])), p) for row, p in enumerate(pictures)]
    moved = np.array(
        [_largest_change(estimates, after, row=row) for row, after in enumerate(changed)]
    )
    trusted = (shape < TRUSTED) & (share * draws >= FEWEST)
    corrected = trusted & (moved >= FELT)
    return CorrectedEstimates(
        estimates=_take_over(estimates, changed, corrected),
        tail_shape=shape,
        effective_share=share,
        moved=moved,
        is_corrected=corrected,
        is_trusted=trusted,
    )


def _picture(course: Courses, shared: HyperparameterMixture, *, draws: int) -> _Pictured:
    """Draw one trainee's courses under all points, and the night after the plan."""
    points, nights = shared.points, course.n_nights
    each = max(2, draws // len(points))
    normals = _normals(len(points), each, 2 * nights + 2)
    evidence = prepare_evidence(course, points)
    posterior = centre_on_mean(find_mode(evidence), evidence)
    some = normals[:, :-2].reshape(len(points), 2, nights, N_POSITIONS, each)
    drawn = draw_courses(posterior, evidence, normals=some)
    last = int(course.planned[0]) - 1
    # From (5, m, d) to (m, d, 5): every draw stands as a trainee of its own.
    ease = np.moveaxis(drawn.ease[last], 0, -1)
    ease = ease + _one_more_night(course, points, normals[:, -2])
    blurred = ease + UNFELT * np.swapaxes(normals[:, -1], 1, 2)
    open_to = np.where(course.allowed[0], blurred, -np.inf)
    best = (open_to.argmax(axis=2)[..., None] == np.arange(N_POSITIONS)).astype(float)
    average = ease + average_piece(course, points)[:, :, None]
    rating = expected_ratings(average, scale=np.repeat(course.scale, each), points=points)
    first = first_try_chances(average, np.zeros_like(average), points=points)
    log_weight = drawn.log_weight + np.log(shared.weights)[:, None]
    weight, shape = smooth_tail(log_weight.ravel())
    flat = (-1, N_POSITIONS)
    plain = np.repeat(np.array(shared.weights) / each, each)
    return _Pictured(
        weight=weight,
        plain=plain,
        tail_shape=shape,
        ease=ease.reshape(flat),
        best=best.reshape(flat),
        rating=rating.reshape(flat),
        first=first.reshape(flat),
    )


def _normals(columns: int, draws: int, blocks: int) -> FloatArray:
    """Spread standard normals evenly, shape (columns, blocks, 5, draws)."""
    number = 1 << (columns * draws - 1).bit_length()
    sequence = qmc.Sobol(blocks * N_POSITIONS, scramble=True, rng=_SEED).random(number)
    points = ndtri(sequence[: columns * draws]).reshape(draws, columns, blocks, N_POSITIONS)
    return np.ascontiguousarray(points.transpose(1, 2, 3, 0))


def _one_more_night(
    course: Courses, points: Sequence[Hyperparameters], normals: FloatArray
) -> FloatArray:
    """Add one night's change, learning and the positions' means, shape (m, d, 5)."""
    shared, own = np.array([(p.level_drift_sd**2, p.drift_sd**2) for p in points]).T[..., None]
    total = normals.sum(axis=1) / np.sqrt(N_POSITIONS)
    inside = normals - normals.mean(axis=1, keepdims=True)
    # Of one shared normal and five own ones only the mean and the differences matter.
    step = (np.sqrt(shared + own / N_POSITIONS) * total)[:, None] + np.sqrt(own)[..., None] * inside
    rise = np.array([learning_curve(course.planned + 1, point)[0] for point in points])
    means = np.array([point.position_means for point in points])
    moved: FloatArray = np.swapaxes(step, 1, 2) + (means + rise[:, None])[:, None]
    return moved


def _correct(estimates: PreferenceEstimates, pictured: _Pictured) -> PreferenceEstimates:
    """Add what the weights change to one trainee's own answer."""
    new, old = pictured.weight, pictured.plain
    difference = new - old
    ratings = pictured.rating
    centre, before = new @ ratings, old @ ratings
    spread = new @ (ratings - centre) ** 2 - old @ (ratings - before) ** 2
    away, away_before = pictured.ease - new @ pictured.ease, pictured.ease - old @ pictured.ease
    covariance = (away.T * new) @ away - (away_before.T * old) @ away_before
    chances = np.clip(estimates.p_best[0] + difference @ pictured.best, 0.0, 1.0)
    tail = 0.5 * (1.0 - COVERAGE)
    low, high = (
        _quantiles(ratings, new, at=at) - _quantiles(ratings, old, at=at) for at in (tail, 1 - tail)
    )
    expected = estimates.expected_rating[0] + centre - before
    return replace(
        estimates,
        ease=estimates.ease + difference @ pictured.ease,
        covariance=estimates.covariance + covariance,
        p_best=(chances / chances.sum())[None],
        p_first_try=np.clip(estimates.p_first_try + difference @ pictured.first, 0.0, 1.0),
        expected_rating=expected[None],
        sd=np.sqrt(np.maximum(estimates.sd**2 + spread, 0.25 * estimates.sd**2)),
        lower=np.minimum(estimates.lower + low, expected),
        upper=np.maximum(estimates.upper + high, expected),
    )


def _largest_change(
    estimates: PreferenceEstimates, after: PreferenceEstimates, *, row: int
) -> float:
    """Tell how far the chances of one trainee move."""
    best = np.abs(after.p_best[0] - estimates.p_best[row]).max()
    return float(max(best, np.nanmax(np.abs(after.p_first_try[0] - estimates.p_first_try[row]))))


def _quantiles(values: FloatArray, weight: FloatArray, *, at: float) -> FloatArray:
    """Read weighted quantiles off draws, shape (5,)."""
    order = values.argsort(axis=0)
    reached = np.cumsum(weight[order], axis=0)
    place = np.minimum((reached < at).sum(axis=0), len(values) - 1)
    columns = np.arange(values.shape[1])
    found: FloatArray = values[order[place, columns], columns]
    return found


def _take_over(
    estimates: PreferenceEstimates, changed: list[PreferenceEstimates], corrected: BoolArray
) -> PreferenceEstimates:
    """Put corrected rows in the place of the approximation's."""
    rows = {
        f.name: np.concatenate(
            [
                getattr(each if corrected[k] else estimates.take(np.array([k])), f.name)
                for k, each in enumerate(changed)
            ]
        )
        for f in fields(PreferenceEstimates)
    }
    return PreferenceEstimates(**rows)
