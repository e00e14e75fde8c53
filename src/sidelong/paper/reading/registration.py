"""Laying a photographed page on its printed original, place by place.

Squares of the original are looked for in the photograph near where the plane of the tags puts
them. A mark, a finger or a sticker spoils a square or two; so a smooth field is fitted through all
of them, and squares far off it are left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels, shrink
from sidelong.paper.reading.flattening import lay_flat
from sidelong.paper.reading.mapping import PageMapping
from sidelong.paper.reading.sheets import FoundSheet, box_corners
from sidelong.training.layout import Box, SheetPage

Points = NDArray[np.float64]

_SQUARE_MM = 22.0
_COARSE_STEP_MM, _COARSE_REACH_MM = 20.0, 6.0
_FINE_STEP_MM, _FINE_STEP_FLAT_MM, _FINE_REACH_MM = 18.0, 24.0, 0.9
_FLAT_MM = 0.1  # what scans and pressed sheets show
_MOST_ROUNDS = 3
_WELL_FOUND = 0.75  # share of squares recognised after which coarse search is over
_FEWEST_SQUARES = 12
_LEAST_TEXTURE = 6.0  # standard deviation of grey: less is bare paper
_LEAST_LIKENESS = 0.35
_WITNESSES, _LEAST_WITNESSES = 6, 4  # the nearest squares to a place; those recognised
_SMOOTHING = 2e-3


@dataclass(frozen=True)
class Likeness:
    """How squares of the original were found again.

    Parameters
    ----------
    points : ndarray of float, shape (n, 2)
        Their centres, mm.
    shifts : ndarray of float, shape (n, 2)
        Where they were found, mm from where they were looked for.
    scores : ndarray of float, shape (n,)
        Normalised correlation, -1 to 1.
    """

    points: Points
    shifts: Points
    scores: Points

    @property
    def share_found(self) -> float:
        """Share of the squares that were recognised."""
        return float((self.scores >= _LEAST_LIKENESS).mean()) if len(self.scores) else 0.0

    def vouches_for(self, places: Points, *, written_on: Sequence[Box]) -> NDArray[np.bool_]:
        """Tell at which places print was recognised, so that the mapping is known to hold there.

        Parameters
        ----------
        places : ndarray of float, shape (n, 2)
            Places on the page, mm.
        written_on : sequence of Box
            Where handwriting may hide print: squares there need not be recognised.

        Returns
        -------
        ndarray of bool, shape (n,)
            Whether at least four of the nearest six squares were recognised.
        """
        is_recognised = self.scores >= _LEAST_LIKENESS
        is_excused = np.zeros(len(self.points), bool)
        for box in written_on:
            apart = np.abs(self.points - (box.x + box.w / 2, box.y + box.h / 2))
            is_excused |= (apart < (np.array([box.w, box.h]) + _SQUARE_MM) / 2).all(axis=1)
        counts = is_recognised | ~is_excused
        apart = np.abs(places[:, None] - self.points[counts]).max(axis=2)
        nearest = np.argsort(apart, axis=1)[:, :_WITNESSES]
        return np.asarray(is_recognised[counts][nearest].sum(axis=1) >= _LEAST_WITNESSES)


def bend_to_tags(mapping: PageMapping, sheet: FoundSheet) -> PageMapping:
    """Let the paper curl as far as its own tags show it."""
    if len(sheet.tags) < 4:
        return mapping
    boxes = {marker.id: box_corners(marker.box) for marker in sheet.page.markers}
    page = np.array([boxes[tag.id].mean(axis=0) for tag in sheet.tags])
    seen = np.array([tag.centre for tag in sheet.tags])
    back = _to_page(mapping, seen)
    trust = np.full(len(page), 1e-3)
    return mapping.shifted_more(page, back - page, smoothing=trust)


def register(
    mapping: PageMapping, photograph: Photograph, page: SheetPage, original: Pixels
) -> tuple[PageMapping, Likeness]:
    """Lay the printed original on the photograph, finely; where that fails, coarsely before it.

    A scan, and a flat sheet whose six tags are seen, lie within the fine search's reach already.

    Parameters
    ----------
    mapping : PageMapping
        As far as the tags tell.
    photograph : Photograph
        The photograph.
    page : SheetPage
        The page.
    original : ndarray of uint8, shape (rows, columns)
        The page in grey, ``REFERENCE_PX_PER_MM`` px/mm.

    Returns
    -------
    mapping : PageMapping
        Refined where the print was recognised, else as it was.
    likeness : Likeness
        What was found in the last, fine search.
    """
    step_mm = _FINE_STEP_FLAT_MM if _is_flat(mapping) else _FINE_STEP_MM
    fine = {"reach_mm": _FINE_REACH_MM, "step_mm": step_mm}
    refined, likeness = _refine(mapping, photograph, page, original, **fine)
    if likeness.share_found > _WELL_FOUND:
        return refined, likeness
    coarse = shrink(original, 2)
    for _ in range(_MOST_ROUNDS):
        mapping, likeness = _refine(
            mapping, photograph, page, coarse, reach_mm=_COARSE_REACH_MM, step_mm=_COARSE_STEP_MM
        )
        if likeness.share_found > _WELL_FOUND:
            break
    return _refine(mapping, photograph, page, original, **fine)


def _is_flat(mapping: PageMapping) -> bool:
    """Tell whether four tags or more have shown that a page lies flat; else nothing was shifted."""
    return 0.0 < float(np.abs(mapping.shift).max()) <= _FLAT_MM


def confirm(
    mapping: PageMapping, photograph: Photograph, page: SheetPage, original: Pixels
) -> Likeness:
    """Look once more for the printed original where a refined mapping lays it.

    Print that lay farther off than the last search reaches was not recognised in it, though what
    surrounds it has brought it to its place since.

    Parameters
    ----------
    mapping : PageMapping
        As :func:`register` gives it.
    photograph : Photograph
        The photograph.
    page : SheetPage
        The page.
    original : ndarray of uint8, shape (rows, columns)
        The page in grey, ``REFERENCE_PX_PER_MM`` px/mm.

    Returns
    -------
    Likeness
        Of a fine search.
    """
    return _search(
        mapping, photograph, page, original, reach_mm=_FINE_REACH_MM, step_mm=_FINE_STEP_MM
    )


def _refine(
    mapping: PageMapping,
    photograph: Photograph,
    page: SheetPage,
    original: Pixels,
    *,
    reach_mm: float,
    step_mm: float,
) -> tuple[PageMapping, Likeness]:
    """Search once, and shift the mapping by what was found."""
    likeness = _search(mapping, photograph, page, original, reach_mm=reach_mm, step_mm=step_mm)
    good = likeness.scores >= _LEAST_LIKENESS
    points, shifts = likeness.points[good], likeness.shifts[good]
    trust = _SMOOTHING / np.maximum(likeness.scores[good], 0.1) ** 2
    fitted = mapping
    for _ in range(2):
        if len(points) < _FEWEST_SQUARES:
            return mapping, likeness
        fitted = mapping.shifted_more(points, shifts, smoothing=trust)
        off = fitted.shift_at(points) - mapping.shift_at(points) - shifts
        distance = np.hypot(off[:, 0], off[:, 1])
        near = distance <= max(3.0 * float(np.median(distance)), 0.25)
        if near.all():
            break
        points, shifts, trust = points[near], shifts[near], trust[near]
    return fitted, likeness


def _search(
    mapping: PageMapping,
    photograph: Photograph,
    page: SheetPage,
    original: Pixels,
    *,
    reach_mm: float,
    step_mm: float,
) -> Likeness:
    scale = original.shape[1] / page.width_mm
    whole = Box(0.0, 0.0, page.width_mm, page.height_mm)
    seen = lay_flat(photograph, mapping, area=whole, px_per_mm=scale, channel=1)
    return compare(original, seen, scale=scale, reach_mm=reach_mm, step_mm=step_mm)


def compare(
    original: Pixels, seen: Pixels, *, scale: float, reach_mm: float, step_mm: float
) -> Likeness:
    """Look for squares of the original in the flattened page.

    Parameters
    ----------
    original, seen : ndarray of uint8, shape (rows, columns)
        The page as printed, and as photographed.
    scale : float
        Pixels a millimetre.
    reach_mm : float
        How far around its place a square is looked for.
    step_mm : float
        Distance of the squares.

    Returns
    -------
    Likeness
        Of every square that has something printed in it.
    """
    side, reach = round(_SQUARE_MM * scale), max(2, round(reach_mm * scale))
    step = max(1, round(step_mm * scale))
    original = np.asarray(cv2.GaussianBlur(original, (0, 0), 0.35 * scale), np.uint8)
    rows, columns = (min(pair) for pair in zip(original.shape, seen.shape, strict=True))
    tops = np.arange(reach, rows - side - reach, step)
    lefts = np.arange(reach, columns - side - reach, step)
    has_print = _spread(original, tops, lefts, side) >= _LEAST_TEXTURE
    corners = np.array([(lefts[j], tops[i]) for i, j in np.argwhere(has_print)])
    if not len(corners):
        return Likeness(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0))
    shifts, scores = np.zeros((len(corners), 2)), np.full(len(corners), -1.0)
    for place, (left, top) in enumerate(corners):
        square = original[top : top + side, left : left + side]
        around = seen[top - reach : top + side + reach, left - reach : left + side + reach]
        alike = cv2.matchTemplate(around, square, cv2.TM_CCOEFF_NORMED)
        shift, score = _peak(np.asarray(alike, np.float32))
        shifts[place], scores[place] = (shift - reach) / scale, score
    return Likeness((corners + side / 2) / scale, shifts, scores)


def _spread(
    grey: Pixels, tops: NDArray[np.int_], lefts: NDArray[np.int_], side: int
) -> NDArray[np.float64]:
    """Give the standard deviation of all squares at once, from sums over rectangles."""
    sums = cv2.integral2(grey)
    corners = np.ix_(tops, lefts), np.ix_(tops + side, lefts + side)
    crossed = np.ix_(tops, lefts + side), np.ix_(tops + side, lefts)
    mean, square = (
        (each[corners[0]] + each[corners[1]] - each[crossed[0]] - each[crossed[1]]) / side**2
        for each in np.asarray(sums, float)
    )
    return np.asarray(np.sqrt(np.maximum(square - mean**2, 0.0)))


def _peak(likeness: NDArray[np.float32]) -> tuple[Points, float]:
    """Find the highest place, between pixels; one at the edge is no peak."""
    _, score, _, (x, y) = cv2.minMaxLoc(likeness)
    rows, columns = likeness.shape
    if not (0 < x < columns - 1 and 0 < y < rows - 1) or not np.isfinite(score):
        return np.array([x, y], float), -1.0
    across = _vertex(*likeness[y, x - 1 : x + 2].tolist())
    down = _vertex(*likeness[y - 1 : y + 2, x].tolist())
    return np.array([x + across, y + down]), float(score)


def _vertex(before: float, top: float, after: float) -> float:
    """Place the top of the parabola through three values, from the middle one."""
    bend = before - 2 * top + after
    return 0.0 if bend >= 0 else min(max(0.5 * (before - after) / bend, -0.5), 0.5)


def _to_page(mapping: PageMapping, seen: Points) -> Points:
    back = np.c_[seen, np.ones(len(seen))] @ np.linalg.inv(mapping.homography).T
    return np.asarray(back[:, :2] / back[:, 2:])
