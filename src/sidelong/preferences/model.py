"""From hyperparameters and courses to what the engine computes with.

Ease of position p of one trainee on night t::

    x[1]   ~ N(0, level_sd^2 J + spread_sd^2 I)
    x[t+1] = x[t] + N(0, level_drift_sd^2 J + drift_sd^2 I)

What one piece feels like::

    z = position mean + learning(t) + slot + carryover + size + x[t, p] + night + piece noise

with J the matrix of ones. Rating, went-down and felt-best are answers to z, see
:mod:`sidelong.preferences.likelihood`. Inside the engine the trainee axis is the last one, so
that every step works on long contiguous vectors.
"""

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
    """Answers and known effects of some trainees, trainee axis last.

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

    def take(self, rows: NDArray[np.integer]) -> Self:
        """Pick trainees by their place on the last axis."""
        return type(self)(**{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})


def first_night_covariance(hyperparameters: Hyperparameters) -> FloatArray:
    """Give the covariance of ease on night 1, shape (5, 5)."""
    shared = np.full((N_POSITIONS, N_POSITIONS), hyperparameters.level_sd**2)
    return shared + hyperparameters.spread_sd**2 * np.eye(N_POSITIONS)


def drift_covariance(hyperparameters: Hyperparameters) -> FloatArray:
    """Give the covariance of one night's change of ease, shape (5, 5)."""
    shared = np.full((N_POSITIONS, N_POSITIONS), hyperparameters.level_drift_sd**2)
    return shared + hyperparameters.drift_sd**2 * np.eye(N_POSITIONS)


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
    elapsed = np.asarray(nights, dtype=float) - 1.0
    span = REFERENCE_NIGHTS - 1.0
    rate = hyperparameters.learning_rate
    if rate * span < 1e-6:
        return hyperparameters.learning_gain * elapsed / span
    share: FloatArray = np.expm1(-rate * elapsed) / np.expm1(-rate * span)
    return hyperparameters.learning_gain * share


def prepare_evidence(courses: Courses, hyperparameters: Hyperparameters) -> Evidence:
    """Lay out answers and known effects for the engine.

    Parameters
    ----------
    courses : Courses
        Nights of n trainees.
    hyperparameters : Hyperparameters
        Supplies effects and cut points.

    Returns
    -------
    Evidence
        Arrays with the trainee axis last.
    """
    rating_low, rating_high = _rating_cuts(courses, hyperparameters)
    went_low, went_high, went_gap = _went_cuts(courses, hyperparameters)
    chosen, bonus, has_choice = _choice(courses, hyperparameters)
    return Evidence(
        offset=_trainee_last(_known_effects(courses, hyperparameters)),
        rating_low=_trainee_last(rating_low),
        rating_high=_trainee_last(rating_high),
        went_low=_trainee_last(went_low),
        went_high=_trainee_last(went_high),
        went_gap=went_gap,
        chosen=_trainee_last(chosen),
        bonus=_trainee_last(bonus),
        has_choice=_trainee_last(has_choice),
    )


def _trainee_last(values: FloatArray) -> FloatArray:
    return np.ascontiguousarray(np.moveaxis(values, 0, -1))


def _known_effects(courses: Courses, hyperparameters: Hyperparameters) -> FloatArray:
    """Sum position mean, learning, slot, carryover and size, shape (n, nights, 5)."""
    slots = np.array((0.0, *hyperparameters.slot_effects))
    before = np.array((*hyperparameters.carryover_effects, 0.0))
    nights = np.arange(1, courses.n_nights + 1)
    effects: FloatArray = slots[courses.slot] + before[courses.previous]
    effects += hyperparameters.carryover_failed * courses.previous_failed
    effects += np.array(hyperparameters.position_means)
    effects += learning_curve(nights, hyperparameters)[:, None]
    size = np.where(
        np.isnan(courses.piece_mm), courses.last_piece_mm[:, None, None], courses.piece_mm
    )
    effects += hyperparameters.size_effect * (size - REFERENCE_PIECE_MM)
    return effects


def _rating_cuts(
    courses: Courses, hyperparameters: Hyperparameters
) -> tuple[FloatArray, FloatArray]:
    """Look up the cut points around each rating; an answer its form lacks is read as nearest."""
    low = np.full((6, 6), -FAR)
    high = np.full((6, 6), FAR)
    for form, ratings in RATINGS_OF_SCALE.items():
        edges = (-FAR, *hyperparameters.thresholds[form], FAR)
        for rating in range(1, 6):
            place = min(range(len(ratings)), key=lambda k: abs(ratings[k] - rating))
            low[form, rating], high[form, rating] = edges[place], edges[place + 1]
    scale = courses.scale[:, None, None]
    return low[scale, courses.rating], high[scale, courses.rating]


def _went_cuts(
    courses: Courses, hyperparameters: Hyperparameters
) -> tuple[FloatArray, FloatArray, FloatArray]:
    below, above = hyperparameters.went_cuts
    low, high = np.full(4, -FAR), np.full(4, FAR)
    high[NO] = low[LATER] = below
    high[LATER] = low[FIRST] = above
    gap = (courses.went_down == LATER).sum(axis=(1, 2)) * np.log(-np.expm1(below - above))
    return low[courses.went_down], high[courses.went_down], gap


def _choice(
    courses: Courses, hyperparameters: Hyperparameters
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find who was named, among whom, and what is known about the naming."""
    places = np.arange(N_POSITIONS)
    named = courses.felt_best[:, :, None] == places
    candidates = ((courses.slot > 0) & (courses.went_down != NO)) | named
    has_choice = (courses.felt_best >= 0) & (candidates.sum(axis=2) > 1)
    again = _named_last_time(courses)[:, :, None] == places
    bonus = np.where(candidates, hyperparameters.choice_again * again, -FAR)
    bonus = np.where(has_choice[:, :, None], bonus, 0.0)
    chosen = named & has_choice[:, :, None]
    return chosen.astype(float), bonus, has_choice.astype(float)


def _named_last_time(courses: Courses) -> NDArray[np.integer]:
    """Carry the last named best forward, shape (n, nights); -1 before the first."""
    last = np.full(courses.felt_best.shape, -1)
    for night in range(1, courses.n_nights):
        named = courses.felt_best[:, night - 1]
        last[:, night] = np.where(named >= 0, named, last[:, night - 1])
    return last
