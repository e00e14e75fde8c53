"""Laying a photographed page on its printed original, place by place.

Squares of the original are looked for in the photograph near where the plane of the tags puts
them. A mark, a finger or a sticker spoils a square or two; so a smooth field is fitted through all
of them, and squares far off it are left out.
"""

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
_FINE_STEP_MM, _FINE_REACH_MM = 18.0, 0.9
_MOST_ROUNDS = 3
_WELL_FOUND = 0.75  # share of squares recognised after which coarse search is over
_FEWEST_SQUARES = 12
_LEAST_TEXTURE = 6.0  # standard deviation of grey: less is bare paper
_LEAST_LIKENESS = 0.35
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
    """Lay the printed original on the photograph: coarsely as often as it helps, then finely.

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
    coarse = shrink(original, 2)
    for _ in range(_MOST_ROUNDS):
        mapping, likeness = _refine(
            mapping, photograph, page, coarse, reach_mm=_COARSE_REACH_MM, step_mm=_COARSE_STEP_MM
        )
        if likeness.share_found > _WELL_FOUND:
            break
    return _refine(
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
    scale = original.shape[1] / page.width_mm
    whole = Box(0.0, 0.0, page.width_mm, page.height_mm)
    seen = lay_flat(photograph, mapping, area=whole, px_per_mm=scale, channel=1)
    likeness = compare(original, seen, scale=scale, reach_mm=reach_mm, step_mm=step_mm)
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
    points, shifts, scores = [], [], []
    for top in range(reach, rows - side - reach, step):
        for left in range(reach, columns - side - reach, step):
            square = original[top : top + side, left : left + side]
            if float(square.std()) < _LEAST_TEXTURE:
                continue
            around = seen[top - reach : top + side + reach, left - reach : left + side + reach]
            alike = cv2.matchTemplate(around, square, cv2.TM_CCOEFF_NORMED)
            shift, score = _peak(np.asarray(alike, float))
            points.append([(left + side / 2) / scale, (top + side / 2) / scale])
            shifts.append((shift - reach) / scale)
            scores.append(score)
    if not points:
        return Likeness(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0))
    return Likeness(np.array(points), np.array(shifts), np.array(scores))


def _peak(likeness: Points) -> tuple[Points, float]:
    """Find the highest place, between pixels; one at the edge is no peak."""
    _, score, _, (x, y) = cv2.minMaxLoc(likeness)
    rows, columns = likeness.shape
    if not (0 < x < columns - 1 and 0 < y < rows - 1) or not np.isfinite(score):
        return np.array([x, y], float), -1.0
    across = _vertex(likeness[y, x - 1 : x + 2])
    down = _vertex(likeness[y - 1 : y + 2, x])
    return np.array([x + across, y + down]), float(score)


def _vertex(three: Points) -> float:
    """Place the top of the parabola through three values, from the middle one."""
    before, top, after = (float(each) for each in three)
    bend = before - 2 * top + after
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def _to_page(mapping: PageMapping, seen: Points) -> Points:
    back = np.c_[seen, np.ones(len(seen))] @ np.linalg.inv(mapping.homography).T
    return np.asarray(back[:, :2] / back[:, 2:])
