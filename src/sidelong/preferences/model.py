"""From hyperparameters and courses to what the engine computes with.

Ease of position p of one trainee on night t::

    x[1]   ~ N(0, level_sd^2 J + spread_sd^2 I)
    x[t+1] = x[t] + N(0, level_drift_sd^2 J + drift_sd^2 I)

What one piece feels like::

    z = position mean + learning(t) + slot + carryover + size + x[t, p] + night + piece noise

with J the matrix of ones. Rating, went-down and felt-best are answers to z, see
:mod:`sidelong.preferences.likelihood`. Inside the engine the trainee axis is the last one, so
that every step works on long contiguous vectors. Its columns may be the same trainees under
several hyperparameters: everything that the engine computes with stands in :class:`Evidence`,
column by column.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray

from sidelong.preferences.courses import FIRST, LATER, NO, Courses, FloatArray
from sidelong.preferences.hyperparameters import (
    N_POSITIONS,
    RATINGS_OF_SCALE,
    REFERENCE_NIGHTS,
    REFERENCE_PIECE_MM,
    Hyperparameters,
)

FAR = 1e3
"""Stands for an infinite cut point: no answer has any weight beyond it."""


@dataclass(frozen=True, eq=False)
class Evidence:
    """Answers, known effects, spreads and weights of some trainees, trainee axis last.

    Parameters
    ----------
    offset : ndarray of float, shape (n_nights, 5, n_trainees)
        Sum of all known effects on each piece.
    rating_low, rating_high : ndarray of float, shape (n_nights, 5, n_trainees)
        Cut points around the rating; -+1000 where there is none.
    went_low, went_high : ndarray of float, shape (n_nights, 5, n_trainees)
        Cut points around the went-down answer on the logit scale; -+1000 where there is none.
    went_gap : ndarray of float, shape (n_trainees,)
        Sum of ``log(1 - exp(low - high))`` over the trainee's went-down answers.
    chosen : ndarray of float, shape (n_nights, 5, n_trainees)
        1 on the night's best.
    bonus : ndarray of float, shape (n_nights, 5, n_trainees)
        Known part of the choice's utility; -1000 on positions that could not be named, 0 on
        all positions of a night without a choice.
    has_choice : ndarray of float, shape (n_nights, n_trainees)
        1 where a best was named among at least two.
    first, drift : ndarray of float, shape (5, 5, n_trainees)
        Covariance of ease on night 1, and of one night's change; may be singular.
    night_sd, piece_sd : ndarray of float, shape (n_trainees,)
        SD of both noises.
    went_slope, choice_slope : ndarray of float, shape (n_trainees,)
        Weight of ease on going down and on being named.
    """

    offset: FloatArray
    rating_low: FloatArray
    rating_high: FloatArray
    went_low: FloatArray
    went_high: FloatArray
    went_gap: FloatArray
    chosen: FloatArray
    bonus: FloatArray
    has_choice: FloatArray
    first: FloatArray
    drift: FloatArray
    night_sd: FloatArray
    piece_sd: FloatArray
    went_slope: FloatArray
    choice_slope: FloatArray

    def take(self, rows: NDArray[np.integer]) -> Self:
        """Pick trainees by their place on the last axis."""
        return type(self)(**{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})

    def beside(self, other: Self) -> Self:
        """Put other trainees, of as many nights, to the right of these."""
        both = {
            f.name: np.concatenate([getattr(self, f.name), getattr(other, f.name)], axis=-1)
            for f in fields(self)
        }
        return type(self)(**both)

    def repeat(self, times: int) -> Self:
        """Put the same trainees side by side several times."""
        return type(self)(**{f.name: np.tile(getattr(self, f.name), times) for f in fields(self)})


def first_night_covariance(hyperparameters: Hyperparameters) -> FloatArray:
    """Give the covariance of ease on night 1, shape (5, 5)."""
    covariance: FloatArray = first_night_covariances((hyperparameters,))[0]
    return covariance


def drift_covariance(hyperparameters: Hyperparameters) -> FloatArray:
    """Give the covariance of one night's change of ease, shape (5, 5)."""
    covariance: FloatArray = drift_covariances((hyperparameters,))[0]
    return covariance


def first_night_covariances(points: Sequence[Hyperparameters]) -> FloatArray:
    """Give the covariance of ease on night 1 under each of m points, shape (m, 5, 5)."""
    return _shared_and_own([(point.level_sd, point.spread_sd) for point in points])


def drift_covariances(points: Sequence[Hyperparameters]) -> FloatArray:
    """Give the covariance of one night's change under each of m points, shape (m, 5, 5)."""
    return _shared_and_own([(point.level_drift_sd, point.drift_sd) for point in points])


def _shared_and_own(deviations: list[tuple[float, float]]) -> FloatArray:
    """Give covariances of what all positions share plus what each has of its own."""
    shared, own = np.square(deviations).T[:, :, None, None]
    covariances: FloatArray = shared + own * np.eye(N_POSITIONS)
    return covariances


def learning_curve(nights: NDArray[np.integer], hyperparameters: Hyperparameters) -> FloatArray:
    """Give the mean rise of ease since night 1.

    Parameters
    ----------
    nights : ndarray of int
        Sheet numbers, from 1.
    hyperparameters : Hyperparameters
        Gain from night 1 to night 14 and the rate of levelling off.

    Returns
    -------
    ndarray of float, same shape
        0 on night 1, the gain on night 14.
    """
    curve: FloatArray = learning_curves(nights, (hyperparameters,))[0]
    return curve


def learning_curves(nights: NDArray[np.integer], points: Sequence[Hyperparameters]) -> FloatArray:
    """Give the mean rise since night 1 under each of m points, shape (m, *nights.shape)."""
    elapsed = np.asarray(nights, dtype=float) - 1.0
    span = REFERENCE_NIGHTS - 1.0
    beyond = (-1,) + (1,) * elapsed.ndim
    gain = np.array([point.learning_gain for point in points]).reshape(beyond)
    rate = np.array([point.learning_rate for point in points]).reshape(beyond)
    is_straight = rate * span < 1e-6
    rate = np.where(is_straight, 1.0, rate)
    share = np.expm1(-rate * elapsed) / np.expm1(-rate * span)
    curves: FloatArray = gain * np.where(is_straight, elapsed / span, share)
    return curves


def prepare_evidence(
    courses: Courses, hyperparameters: Hyperparameters | Sequence[Hyperparameters]
) -> Evidence:
    """Lay out answers and known effects for the engine.

    Parameters
    ----------
    courses : Courses
        Nights of n trainees.
    hyperparameters : Hyperparameters or sequence of Hyperparameters
        Supply effects, spreads and cut points. Of m points each gets all trainees: column
        ``k * n + i`` is trainee i under point k.

    Returns
    -------
    Evidence
        Arrays with the trainee axis last, of length n or m n.
    """
    if isinstance(hyperparameters, Hyperparameters):
        hyperparameters = (hyperparameters,)
    points = tuple(hyperparameters)
    rating_low, rating_high = _rating_cuts(courses, points)
    went_low, went_high, went_gap = _went_cuts(courses, points)
    chosen, bonus, has_choice = _choice(courses, points)
    n = courses.n_trainees

    def each(values: list[float]) -> FloatArray:
        return np.repeat(np.array(values, dtype=float), n)

    def blocks(values: FloatArray) -> FloatArray:
        return np.repeat(np.moveaxis(values, 0, -1), n, axis=-1)

    return Evidence(
        offset=_trainee_last(_known_effects(courses, points)),
        rating_low=_trainee_last(rating_low),
        rating_high=_trainee_last(rating_high),
        went_low=_trainee_last(went_low),
        went_high=_trainee_last(went_high),
        went_gap=went_gap,
        chosen=_trainee_last(chosen),
        bonus=_trainee_last(bonus),
        has_choice=_trainee_last(has_choice),
        first=blocks(first_night_covariances(points)),
        drift=blocks(drift_covariances(points)),
        night_sd=each([point.night_sd for point in points]),
        piece_sd=each([point.piece_sd for point in points]),
        went_slope=each([point.went_slope for point in points]),
        choice_slope=each([point.choice_slope for point in points]),
    )


def _trainee_last(values: FloatArray) -> FloatArray:
    """Merge points and trainees, the first two axes, into one last axis."""
    merged = values.reshape(-1, *values.shape[2:])
    return np.ascontiguousarray(np.moveaxis(merged, 0, -1))


def piece_sizes(courses: Courses) -> FloatArray:
    """Give every piece's size beyond 5 mm, the last known one where it is blank; (n, nights, 5)."""
    is_blank = np.isnan(courses.piece_mm)
    size = np.where(is_blank, courses.last_piece_mm[:, None, None], courses.piece_mm)
    beyond: FloatArray = size - REFERENCE_PIECE_MM
    return beyond


def _known_effects(courses: Courses, points: Sequence[Hyperparameters]) -> FloatArray:
    """Sum position mean, learning, slot, carryover and size, shape (m, n, nights, 5)."""
    slots = np.array([(0.0, *point.slot_effects) for point in points])
    before = np.array([(*point.carryover_effects, 0.0) for point in points])
    nights = np.arange(1, courses.n_nights + 1)
    rise = learning_curves(nights, points)
    means = np.array([point.position_means for point in points])
    failed = np.array([point.carryover_failed for point in points])
    size = np.array([point.size_effect for point in points])
    effects: FloatArray = slots[:, courses.slot]
    effects += before[:, courses.previous]
    effects += failed[:, None, None, None] * courses.previous_failed
    effects += means[:, None, None] + rise[:, None, :, None]
    effects += size[:, None, None, None] * piece_sizes(courses)
    return effects


def rating_places() -> NDArray[np.integer]:
    """Give the place of each rating among its form's answers, from 0; a lacking one as nearest.

    Returns
    -------
    ndarray of int, shape (6, 6)
        Indexed by form and rating; -1 where the rating is blank.
    """
    places = np.full((6, 6), -1)
    for form, ratings in RATINGS_OF_SCALE.items():
        for rating in range(1, 6):
            places[form, rating] = min(
                range(len(ratings)), key=lambda place: abs(ratings[place] - rating)
            )
    return places


def _rating_cuts(
    courses: Courses, points: Sequence[Hyperparameters]
) -> tuple[FloatArray, FloatArray]:
    """Look up the cut points around each rating, shape (m, n, nights, 5)."""
    low = np.full((len(points), 6, 6), -FAR)
    high = np.full((len(points), 6, 6), FAR)
    places = rating_places()
    for form in RATINGS_OF_SCALE:
        edges = np.array([(-FAR, *point.thresholds[form], FAR) for point in points])
        low[:, form, 1:] = edges[:, places[form, 1:]]
        high[:, form, 1:] = edges[:, places[form, 1:] + 1]
    scale = courses.scale[:, None, None]
    return low[:, scale, courses.rating], high[:, scale, courses.rating]


def _went_cuts(
    courses: Courses, points: Sequence[Hyperparameters]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    below, above = np.array([point.went_cuts for point in points]).T
    low, high = np.full((len(points), 4), -FAR), np.full((len(points), 4), FAR)
    high[:, NO] = low[:, LATER] = below
    high[:, LATER] = low[:, FIRST] = above
    n_later = (courses.went_down == LATER).sum(axis=(1, 2))
    gap = np.log(-np.expm1(below - above))[:, None] * n_later
    return low[:, courses.went_down], high[:, courses.went_down], gap.ravel()


def _choice(
    courses: Courses, points: Sequence[Hyperparameters]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find who was named, among whom, and what is known about the naming."""
    shape = (len(points), *courses.slot.shape)
    named = courses.felt_best[:, :, None] == np.arange(N_POSITIONS)
    candidates = ((courses.slot > 0) & (courses.went_down != NO)) | named
    has_choice = (courses.felt_best >= 0) & (candidates.sum(axis=2) > 1)
    bonus = np.array([point.choice_again for point in points])[:, None, None, None]
    bonus = np.where(candidates, bonus * named_again(courses), -FAR)
    bonus = np.where(has_choice[:, :, None], bonus, 0.0)
    chosen = np.broadcast_to(named & has_choice[:, :, None], shape)
    return chosen.astype(float), bonus, np.broadcast_to(has_choice, shape[:3]).astype(float)


def named_again(courses: Courses) -> NDArray[np.bool_]:
    """Tell which position was named the last time before each night, shape (n, nights, 5)."""
    last = np.full(courses.felt_best.shape, -1)
    for night in range(1, courses.n_nights):
        named = courses.felt_best[:, night - 1]
        last[:, night] = np.where(named >= 0, named, last[:, night - 1])
    again: NDArray[np.bool_] = last[:, :, None] == np.arange(N_POSITIONS)
    return again
