"""Draw courses from the model, with the truth beside them.

For the demo, for benchmarks and for planning studies. Simulated figures say how the method does
on trainees who follow the model; they are never shown as clinical accuracy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from sidelong.preferences.courses import FIRST, LATER, NO, BoolArray, Courses, FloatArray, IntArray
from sidelong.preferences.hyperparameters import (
    N_POSITIONS,
    RATINGS_OF_SCALE,
    REFERENCE_PIECE_MM,
    Hyperparameters,
)
from sidelong.preferences.model import learning_curve


@dataclass(frozen=True)
class Conduct:
    """How families keep to the plan; every value is an assumption.

    Parameters
    ----------
    missing_night : float
        Chance that a night was not practised, [0, 1].
    cut_night : float
        Chance that a practised night ended early, after a number of positions drawn evenly.
    blank_rating, blank_went_down, no_best : float
        Chance that one answer was left blank, [0, 1].
    stop_after_failed : int
        Positions that may fail in one night before the rest is not tried.
    """

    missing_night: float = 0.15
    cut_night: float = 0.05
    blank_rating: float = 0.02
    blank_went_down: float = 0.02
    no_best: float = 0.1
    stop_after_failed: int = 2

    def __post_init__(self) -> None:
        """Refuse chances outside [0, 1]."""
        for name in ("missing_night", "cut_night", "blank_rating", "blank_went_down", "no_best"):
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise ValueError(f"{name} {getattr(self, name)} is not a chance")
        if self.stop_after_failed < 1:
            raise ValueError("stop_after_failed is below 1")


FAITHFUL = Conduct(
    missing_night=0.0, cut_night=0.0, blank_rating=0.0, blank_went_down=0.0, no_best=0.0
)
"""Every piece of the plan is recorded, save for nights that had to stop."""


@dataclass(frozen=True, eq=False)
class SimulatedCourses:
    """Courses and what they were drawn from.

    Parameters
    ----------
    courses : Courses
        What would have been recorded.
    ease : ndarray of float, shape (n_trainees, n_nights + 1, 5)
        True latent ease of each position on every night and the night after, learning included.
    next_ease : ndarray of float, shape (n_trainees, 5)
        True ease on the night after each trainee's plan.
    best : ndarray of int, shape (n_trainees,)
        The allowed position with the highest ease on that night.
    """

    courses: Courses
    ease: FloatArray
    next_ease: FloatArray
    best: IntArray


def simulate_courses(
    orders: IntArray,
    *,
    hyperparameters: Hyperparameters,
    rng: np.random.Generator,
    piece_mm: FloatArray | float = REFERENCE_PIECE_MM,
    scale: IntArray | int = 5,
    conduct: Conduct = FAITHFUL,
    ease: FloatArray | None = None,
    rating_shift: FloatArray | None = None,
) -> SimulatedCourses:
    """Draw trainees and let them practise planned orders.

    Parameters
    ----------
    orders : ndarray of int, shape (n_trainees, n_nights, n_slots)
        Position 0..4 in each slot; -1 in slots and nights that the plan lacks. The positions
        that occur are those allowed; nights are planned from the first one without gaps.
    hyperparameters : Hyperparameters
        What all trainees share.
    rng : numpy.random.Generator
        Source of chance.
    piece_mm : ndarray of float, shape (n_trainees, n_nights), or float
        Piece sizes, mm.
    scale : ndarray of int, shape (n_trainees,), or int
        Form of the rating.
    conduct : Conduct
        What goes missing.
    ease : ndarray of float, shape (n_trainees, n_nights + 1, 5), optional
        True ease where it is not to be drawn from the model, learning included.
    rating_shift : ndarray of float, shape (n_trainees, n_nights), optional
        What is added to ease when it is rated, for raters whose use of the form changes.

    Returns
    -------
    SimulatedCourses
        Records and truth.
    """
    n, nights, _ = orders.shape
    planned = (orders[:, :, 0] >= 0).sum(axis=1)
    allowed = (orders[..., None] == np.arange(N_POSITIONS)).any(axis=(1, 2))
    if ease is None:
        ease = draw_ease(n, nights + 1, hyperparameters=hyperparameters, rng=rng)
    shift = np.zeros((n, nights)) if rating_shift is None else rating_shift
    forms = np.broadcast_to(np.asarray(scale), (n,)).astype(int)
    sizes = np.broadcast_to(np.asarray(piece_mm, dtype=float), (n, nights))
    night_effect = hyperparameters.night_sd * rng.standard_normal((n, nights))
    practised = rng.random((n, nights)) >= conduct.missing_night
    cut = rng.random((n, nights)) < conduct.cut_night
    record = _Record.blank(n, nights)
    for night in range(nights):
        base = ease[:, night] + night_effect[:, night, None]
        base = base + hyperparameters.size_effect * (sizes[:, night, None] - REFERENCE_PIECE_MM)
        length = np.where(cut[:, night], rng.integers(1, N_POSITIONS + 1, n), N_POSITIONS)
        length = length * practised[:, night]
        _practise(
            record,
            night,
            orders[:, night],
            base=base,
            sizes=sizes[:, night],
            length=length,
            forms=forms,
            shift=shift[:, night],
            hyperparameters=hyperparameters,
            conduct=conduct,
            rng=rng,
        )
    courses = Courses(
        slot=record.slot,
        rating=record.rating,
        went_down=record.went_down,
        felt_best=record.felt_best,
        piece_mm=record.piece_mm,
        previous=record.previous,
        previous_failed=record.previous_failed,
        allowed=allowed,
        scale=forms,
        planned=planned,
    )
    next_ease = ease[np.arange(n), planned]
    best = np.where(allowed, next_ease, -np.inf).argmax(axis=1)
    return SimulatedCourses(courses, ease, next_ease, best)


def draw_ease(
    n_trainees: int, n_nights: int, *, hyperparameters: Hyperparameters, rng: np.random.Generator
) -> FloatArray:
    """Draw the latent ease of new trainees.

    Parameters
    ----------
    n_trainees, n_nights : int
        How many.
    hyperparameters : Hyperparameters
        Means, spread, drift and learning.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    ndarray of float, shape (n_trainees, n_nights, 5)
        Ease with position means and learning.
    """
    # Plain sums of normals: a factorised covariance would draw differently on another machine.
    shared = np.full((n_nights, 1), hyperparameters.level_drift_sd)
    own = np.full((n_nights, 1), hyperparameters.drift_sd)
    shared[0], own[0] = hyperparameters.level_sd, hyperparameters.spread_sd
    steps = shared * rng.standard_normal((n_trainees, n_nights, 1))
    steps = steps + own * rng.standard_normal((n_trainees, n_nights, N_POSITIONS))
    rise = learning_curve(np.arange(1, n_nights + 1), hyperparameters)
    means = np.array(hyperparameters.position_means)
    ease: FloatArray = steps.cumsum(axis=1) + means + rise[:, None]
    return ease


@dataclass(eq=False)
class _Record:
    """Arrays being filled, as in Courses."""

    slot: NDArray[np.int8]
    rating: NDArray[np.int8]
    went_down: NDArray[np.int8]
    felt_best: NDArray[np.int8]
    piece_mm: FloatArray
    previous: NDArray[np.int8]
    previous_failed: BoolArray

    @classmethod
    def blank(cls, n: int, nights: int) -> "_Record":
        cells = (n, nights, N_POSITIONS)
        return cls(
            slot=np.zeros(cells, np.int8),
            rating=np.zeros(cells, np.int8),
            went_down=np.zeros(cells, np.int8),
            felt_best=np.full((n, nights), -1, np.int8),
            piece_mm=np.full(cells, np.nan),
            previous=np.full(cells, -1, np.int8),
            previous_failed=np.zeros(cells, np.bool_),
        )


def _practise(
    record: _Record,
    night: int,
    order: IntArray,
    *,
    base: FloatArray,
    sizes: FloatArray,
    length: IntArray,
    forms: IntArray,
    shift: FloatArray,
    hyperparameters: Hyperparameters,
    conduct: Conduct,
    rng: np.random.Generator,
) -> None:
    """Play one night of every trainee, slot by slot, and write it down."""
    n = order.shape[0]
    everyone = np.arange(n)
    felt = np.full((n, N_POSITIONS), -np.inf)
    failures = np.zeros(n, dtype=int)
    previous = np.full(n, -1)
    failed_before, failure_written = np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    carried = np.array((*hyperparameters.carryover_effects, 0.0))
    for slot in range(order.shape[1]):
        position = order[:, slot]
        goes = (position >= 0) & (slot < length) & (failures < conduct.stop_after_failed)
        who, where = everyone[goes], position[goes]
        ease = base[who, where] + hyperparameters.slot_effects[slot] + carried[previous[who]]
        ease = ease + hyperparameters.carryover_failed * failed_before[who]
        ease = ease + hyperparameters.piece_sd * rng.standard_normal(who.size)
        went = draw_went_down(ease, hyperparameters=hyperparameters, rng=rng)
        written = went * (rng.random(who.size) >= conduct.blank_went_down)
        rating = draw_rating(
            ease + shift[who], forms[who], hyperparameters=hyperparameters, rng=rng
        )
        cell = (who, night, where)
        record.slot[cell] = slot + 1
        record.piece_mm[cell] = sizes[who]
        record.previous[cell] = previous[who]
        record.previous_failed[cell] = failure_written[who]
        record.rating[cell] = rating * (rng.random(who.size) >= conduct.blank_rating)
        record.went_down[cell] = written
        felt[who, where] = np.where(went == NO, -np.inf, ease)
        failures[who] += went == NO
        previous[who] = where
        failed_before[who] = went == NO
        failure_written[who] = written == NO
    _name_best(record, night, felt, hyperparameters=hyperparameters, conduct=conduct, rng=rng)


def draw_went_down(
    ease: FloatArray, *, hyperparameters: Hyperparameters, rng: np.random.Generator
) -> IntArray:
    """Draw whether pieces go down: 1 first try, 2 later try, 3 no; same shape as ease."""
    logit = hyperparameters.went_slope * ease
    chance = rng.random(ease.shape)
    cut_no, cut_first = hyperparameters.went_cuts
    result: IntArray = np.where(
        chance < expit(cut_no - logit),
        NO,
        np.where(chance < expit(cut_first - logit), LATER, FIRST),
    )
    return result


def draw_rating(
    ease: FloatArray, scale: IntArray, *, hyperparameters: Hyperparameters, rng: np.random.Generator
) -> IntArray:
    """Draw ratings 1..5 for pieces of this ease, each on its own form; same shape as ease."""
    judged = ease + rng.standard_normal(ease.shape)
    rating = np.zeros(ease.shape, dtype=int)
    for form, answers in RATINGS_OF_SCALE.items():
        place = np.searchsorted(hyperparameters.thresholds[form], judged)
        rating = np.where(scale == form, np.array(answers)[place], rating)
    return rating


def _name_best(
    record: _Record,
    night: int,
    felt: FloatArray,
    *,
    hyperparameters: Hyperparameters,
    conduct: Conduct,
    rng: np.random.Generator,
) -> None:
    """Let each trainee name the night's best among the positions that went down."""
    n = felt.shape[0]
    again = np.full(n, -1)
    for earlier in range(night):
        named = record.felt_best[:, earlier]
        again = np.where(named >= 0, named, again)
    utility = hyperparameters.choice_slope * np.where(np.isinf(felt), 0.0, felt)
    utility = utility + hyperparameters.choice_again * (again[:, None] == np.arange(N_POSITIONS))
    utility = utility + rng.gumbel(size=felt.shape)
    utility = np.where(np.isinf(felt), -np.inf, utility)
    names = ~np.isinf(utility).all(axis=1) & (rng.random(n) >= conduct.no_best)
    record.felt_best[:, night] = np.where(names, utility.argmax(axis=1), -1)
