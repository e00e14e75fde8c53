"""What draws of one trainee's courses say of the night after the plan."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from sidelong.preferences.averaging import UNFELT
from sidelong.preferences.courses import BoolArray, Courses, FloatArray
from sidelong.preferences.draws import draw_courses
from sidelong.preferences.hyperparameters import (
    N_POSITIONS,
    HyperparameterMixture,
    Hyperparameters,
)
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import learning_curve, prepare_evidence
from sidelong.preferences.pareto import smooth_tail
from sidelong.preferences.ratings import average_piece, expected_ratings, first_try_chances
from sidelong.preferences.skewness import centre_on_mean

_SEED = 20240601  # Of the scrambling: the same question always has the same answer.


@dataclass(frozen=True, eq=False)
class WeighedDraws:
    """What d draws of one trainee mean for the night after the plan.

    Parameters
    ----------
    weight, plain : ndarray of float, shape (d,)
        Of the exact posterior, and of the approximation itself; each sums to 1.
    tail_shape : float
        Pareto shape of the largest weights.
    ease, best, ahead, rating, first : ndarray of float, shape (d, 5)
        Ease, 1 on the best of those allowed, 1 on the best of those that may be suggested, expected
        rating, first-try chance.
    easier : ndarray of float, shape (d, 5, 5)
        1 where the position of the row is easier than that of the column, a half against itself.
    """

    weight: FloatArray
    plain: FloatArray
    tail_shape: float
    ease: FloatArray
    best: FloatArray
    ahead: FloatArray
    easier: FloatArray
    rating: FloatArray
    first: FloatArray


def weigh_draws(
    course: Courses, shared: HyperparameterMixture, *, open_to: BoolArray, draws: int
) -> WeighedDraws:
    """Draw one trainee's courses under all points, and the night after the plan.

    Parameters
    ----------
    course : Courses
        Of one trainee.
    shared : HyperparameterMixture
        Points, each of which gets its share of the draws.
    open_to : ndarray of bool, shape (5,)
        Positions that may be suggested; all allowed ones count where it is none.
    draws : int
        All points together.

    Returns
    -------
    WeighedDraws
        Always the same for the same question.
    """
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
    may = open_to if open_to.any() else course.allowed[0]
    average = ease + average_piece(course, points)[:, :, None]
    rating = expected_ratings(average, scale=np.repeat(course.scale, each), points=points)
    first = first_try_chances(average, np.zeros_like(average), points=points)
    log_weight = drawn.log_weight + np.log(shared.weights)[:, None]
    weight, shape = smooth_tail(log_weight.ravel())
    flat = (-1, N_POSITIONS)
    plain = np.repeat(np.array(shared.weights) / each, each)
    return WeighedDraws(
        weight=weight,
        plain=plain,
        tail_shape=shape,
        ease=ease.reshape(flat),
        best=_on_the_best(blurred, course.allowed[0]).reshape(flat),
        ahead=_on_the_best(blurred, may).reshape(flat),
        easier=_on_the_easier(blurred).reshape(-1, N_POSITIONS, N_POSITIONS),
        rating=rating.reshape(flat),
        first=first.reshape(flat),
    )


def _on_the_best(ease: FloatArray, compared: BoolArray) -> FloatArray:
    """Put 1 on the easiest of those compared, 0 elsewhere."""
    best = np.where(compared, ease, -np.inf).argmax(axis=-1)
    marked: FloatArray = (best[..., None] == np.arange(N_POSITIONS)).astype(np.float64)
    return marked


def _on_the_easier(ease: FloatArray) -> FloatArray:
    """Compare every position with every other."""
    lead: FloatArray = np.sign(ease[..., :, None] - ease[..., None, :])
    return 0.5 * (lead + 1.0)


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
