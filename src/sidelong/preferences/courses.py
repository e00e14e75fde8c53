"""Many trainees' nights as padded arrays: the engine's input.

Trainees are rows, nights and positions the further axes, positions in the listed order down,
left, centre, right, up. A row of a table becomes one cell; what was not recorded stays empty, and
nothing is filled in.
"""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray

from sidelong.preferences.hyperparameters import (
    N_POSITIONS,
    RATINGS_OF_SCALE,
    REFERENCE_PIECE_MM,
)

FIRST, LATER, NO = 1, 2, 3
"""Codes of ``went_down``; 0 where it is blank."""

IntArray = NDArray[np.integer]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Courses:
    """What was recorded for each trainee, night and position.

    Parameters
    ----------
    slot : ndarray of int, shape (n_trainees, n_nights, 5)
        Place in the night's order, 1..5; 0 where the position was not tried.
    rating : ndarray of int, shape (n_trainees, n_nights, 5)
        1 very hard to 5 very easy; 0 where blank.
    went_down : ndarray of int, shape (n_trainees, n_nights, 5)
        1 first try, 2 later try, 3 no; 0 where blank.
    felt_best : ndarray of int, shape (n_trainees, n_nights)
        Position named as the night's best, 0..4; -1 where none was named or all felt the same.
    piece_mm : ndarray of float, shape (n_trainees, n_nights, 5)
        Largest dimension of the piece, mm, > 0; nan where unknown or not tried.
    previous : ndarray of int, shape (n_trainees, n_nights, 5)
        Position tried just before in the same night, 0..4; -1 for the night's first.
    previous_failed : ndarray of bool, shape (n_trainees, n_nights, 5)
        True where the piece just before, in the same night, did not go down.
    allowed : ndarray of bool, shape (n_trainees, 5)
        Positions that the trainee may use; at least one each.
    scale : ndarray of int, shape (n_trainees,)
        Answers that the trainee's form offers: 5, 4, 3 or 2.
    planned : ndarray of int, shape (n_trainees,)
        Nights of the plan, 1..n_nights; the answer is for the night after.

    Raises
    ------
    ValueError
        If shapes disagree or a value is outside its range.
    """

    slot: IntArray
    rating: IntArray
    went_down: IntArray
    felt_best: IntArray
    piece_mm: FloatArray
    previous: IntArray
    previous_failed: BoolArray
    allowed: BoolArray
    scale: IntArray
    planned: IntArray

    def __post_init__(self) -> None:
        """Refuse arrays that do not fit together."""
        if self.slot.ndim != 3 or self.slot.shape[2] != N_POSITIONS:
            raise ValueError(f"slot has shape {self.slot.shape}, not (trainees, nights, 5)")
        n, nights, _ = self.slot.shape
        shapes: dict[str, tuple[int, ...]] = {
            "felt_best": (n, nights),
            "allowed": (n, N_POSITIONS),
            "scale": (n,),
            "planned": (n,),
        }
        for each in fields(self):
            expected = shapes.get(each.name, self.slot.shape)
            if getattr(self, each.name).shape != expected:
                raise ValueError(f"{each.name} does not have shape {expected}")
        self._check_ranges(nights)

    def _check_ranges(self, nights: int) -> None:
        limits = {
            "slot": (0, N_POSITIONS),
            "rating": (0, 5),
            "went_down": (0, NO),
            "felt_best": (-1, N_POSITIONS - 1),
            "previous": (-1, N_POSITIONS - 1),
            "planned": (1, nights),
        }
        for name, (low, high) in limits.items():
            values = getattr(self, name)
            if values.size and not (values.min() >= low and values.max() <= high):
                raise ValueError(f"{name} holds values outside {low}..{high}")
        if not np.isin(self.scale, list(RATINGS_OF_SCALE)).all():
            raise ValueError(f"scale holds values other than {sorted(RATINGS_OF_SCALE)}")
        if not self.allowed.any(axis=1).all():
            raise ValueError("every trainee needs at least one allowed position")
        if not (np.isnan(self.piece_mm) | (self.piece_mm > 0)).all():
            raise ValueError("piece_mm holds a size that is not above 0")
        answered = (self.rating > 0) | (self.went_down > 0)
        if (answered & (self.slot == 0)).any():
            raise ValueError("an answer without a slot")
        if (self.slot.astype(bool) & ~self.allowed[:, None, :]).any():
            raise ValueError("a position was tried that is not allowed")

        after = np.arange(self.slot.shape[1]) >= self.planned[:, None]
        if (after & ((self.slot > 0).any(axis=2) | (self.felt_best >= 0))).any():
            raise ValueError("a night after the last one planned holds an answer")

    @property
    def n_trainees(self) -> int:
        """Number of trainees."""
        return int(self.slot.shape[0])

    @property
    def n_nights(self) -> int:
        """Nights that the arrays have room for."""
        return int(self.slot.shape[1])

    @property
    def nights_used(self) -> IntArray:
        """Nights with at least one answer, shape (n_trainees,)."""
        rows = ((self.rating > 0) | (self.went_down > 0)).any(axis=2)
        used: IntArray = (rows | (self.felt_best >= 0)).sum(axis=1)
        return used

    @property
    def last_piece_mm(self) -> FloatArray:
        """Size of the last known piece, 5 mm where none is known, shape (n_trainees,)."""
        known: BoolArray = np.logical_not(np.isnan(self.piece_mm).all(axis=2))
        night = self.n_nights - 1 - known[:, ::-1].argmax(axis=1)
        largest = np.fmax.reduce(self.piece_mm[np.arange(self.n_trainees), night], axis=1)
        last: FloatArray = np.where(np.any(known, axis=1), largest, REFERENCE_PIECE_MM)
        return last

    def take(self, rows: slice | IntArray) -> Self:
        """Pick trainees.

        Parameters
        ----------
        rows : slice or ndarray of int
            Rows to keep, in the order wanted; a row may come twice.

        Returns
        -------
        Courses
            The trainees picked.
        """
        return type(self)(**{each.name: getattr(self, each.name)[rows] for each in fields(self)})

    def until(self, night: int | IntArray) -> Self:
        """Forget everything recorded after a night, keeping the plan.

        Parameters
        ----------
        night : int or ndarray of int, shape (n_trainees,)
            Last night to keep, from 0.

        Returns
        -------
        Courses
            The same plans with the later nights blank.
        """
        last = np.broadcast_to(np.asarray(night), (self.n_trainees,))
        keep = np.arange(1, self.n_nights + 1) <= last[:, None]
        cells = keep[:, :, None]
        return type(self)(
            slot=np.where(cells, self.slot, 0),
            rating=np.where(cells, self.rating, 0),
            went_down=np.where(cells, self.went_down, 0),
            felt_best=np.where(keep, self.felt_best, -1),
            piece_mm=np.where(cells, self.piece_mm, np.nan),
            previous=np.where(cells, self.previous, -1),
            previous_failed=np.where(cells, self.previous_failed, False),
            allowed=self.allowed,
            scale=self.scale,
            planned=self.planned,
        )
