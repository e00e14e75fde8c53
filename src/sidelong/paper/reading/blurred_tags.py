"""Which page a blurred sheet is: all its tags weighed together, none of them read alone.

Every pattern that may stand at a place is blurred like the photograph, and laid over it; how well
it fits is its weight. A page weighs what its six patterns weigh together. The weights are those of
a model of equal noise in each cell; so they rank pages well, and a margin between two of them is
calibrated by experiment (``benchmarks/reading``), not taken for a chance.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph
from sidelong.paper.reading.flattening import level_for
from sidelong.paper.reading.mapping import project
from sidelong.paper.reading.squares import Frame, Placement
from sidelong.paper.reading.tags import FoundTag
from sidelong.paper.tag_patterns import TAG_PATTERNS
from sidelong.training.sheet_code import FIELD, N_PLACES, marker_ids

Points = NDArray[np.float64]

_PX_PER_MM = 3.0
_TAG_MM = 14.0
_QUIET_MM = 1.75
_TEMPLATE = round((_TAG_MM + 2 * _QUIET_MM) * _PX_PER_MM)
_REACH_MM = 3.5  # how far around its place a tag is looked for
_NEAR_PX = 2  # how far around the best place of any tag each single pattern may lie
_BLURS_MM = (0.6, 1.1, 1.7, 2.3)
_N_CELLS, _CELLS_ACROSS = 36, 10
_LEAST_LIKE_A_TAG = 0.55
_LIKE_AT_MOST = 0.995
_CLEARLY_BETTER = 6.0  # patterns of the right page fell behind by 5.4 at most


@dataclass(frozen=True)
class Weights:
    """How well every pattern fits at every place.

    Parameters
    ----------
    by_place : ndarray of float, shape (6, 97)
        Weight of each symbol; 0 everywhere at a place where nothing like a tag is seen.
    seen : tuple of int
        Places where something like a tag is seen.
    corners : ndarray of float, shape (6, 4, 2)
        Corners of the tags, px of the whole photograph.
    """

    by_place: Points
    seen: tuple[int, ...]
    corners: Points


@dataclass(frozen=True)
class Told:
    """What the tags of a sheet say together.

    Parameters
    ----------
    night, key : int
        Night and booklet's number of the code word that weighs most, of all that can exist.
    margin : float
        How much more it weighs than the next one.
    tags : tuple of FoundTag
        Its tags, where nothing speaks against them.
    n_against : int
        Places at which another pattern fits clearly better: of another sheet, or not a tag.
    """

    night: int
    key: int
    margin: float
    tags: tuple[FoundTag, ...]
    n_against: int


def weigh_tags(photograph: Photograph, frame: Frame, placement: Placement) -> Weights:
    """Weigh all patterns at all places of a sheet.

    Parameters
    ----------
    photograph : Photograph
        The photograph.
    frame : Frame
        Where the tags stand on the page.
    placement : Placement
        Where the page may lie.

    Returns
    -------
    Weights
        With the blur that suits the sheet best.
    """
    cuts = [_cut(photograph, frame, placement, place) for place in range(N_PLACES)]
    tried = [_weigh(cuts, blur) for blur in range(len(_BLURS_MM))]
    return max(tried, key=lambda weights: float(weights.by_place.max(axis=1).sum()))


def tell_page(weights: Weights) -> Told:
    """Say which of all 912673 pages that can exist weighs most, and by how much.

    Parameters
    ----------
    weights : Weights
        As :func:`weigh_tags` gives them.

    Returns
    -------
    Told
        Pages of other booklets compete as well; so a strange sheet is not taken for one of a kit.
    """
    totals = _all_totals(weights).ravel()
    second, first = np.argpartition(totals, -2)[-2:]
    if totals[second] > totals[first]:
        first, second = second, first
    night, key = divmod(int(first), FIELD**2)
    tags, n_against = [], 0
    for place, number in enumerate(marker_ids(night, key)):
        row = weights.by_place[place]
        if place in weights.seen and row.max() - row[number // N_PLACES] > _CLEARLY_BETTER:
            n_against += 1
        elif place in weights.seen:
            tags.append(FoundTag(number, weights.corners[place]))
    return Told(night, key, float(totals[first] - totals[second]), tuple(tags), n_against)


def _all_totals(weights: Weights) -> NDArray[np.float32]:
    """Weigh every page that can exist: shape (97, 9409), by night and by the booklet's number."""
    x = np.arange(1, N_PLACES + 1)
    a, b = np.divmod(np.arange(FIELD**2)[:, None], FIELD)
    added = (a * x + b * x * x) % FIELD  # to the night, shape (9409, 6)
    turned = (np.arange(FIELD)[:, None] + np.arange(FIELD)) % FIELD
    totals = np.zeros((FIELD, FIELD**2), np.float32)
    for place in weights.seen:
        totals += weights.by_place[place].astype(np.float32)[turned][:, added[:, place]]
    return totals


@dataclass(frozen=True)
class _Cut:
    """The surroundings of one tag, upright, and the way back into the photograph."""

    pixels: NDArray[np.float32]
    inside: float  # share of it that lies in the photograph
    back: Points  # from px of the cut to px of the whole photograph


def _cut(photograph: Photograph, frame: Frame, placement: Placement, place: int) -> _Cut:
    corners = frame.tags[place]
    homography = placement.homography
    if place in placement.squares:  # paper that curls: the square knows its place best
        off = placement.squares[place].mean(axis=0) - project(homography, corners).mean(axis=0)
        homography = np.array([[1, 0, off[0]], [0, 1, off[1]], [0, 0, 1]]) @ homography
    wider = _QUIET_MM + _REACH_MM
    left, top = corners.min(axis=0) - wider
    side = round((_TAG_MM + 2 * wider) * _PX_PER_MM)
    to_mm = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, _PX_PER_MM]]) / _PX_PER_MM
    to_mm = np.array([[1, 0, left], [0, 1, top], [0, 0, 1]]) @ to_mm
    back = homography @ to_mm
    seen = project(homography, corners)
    scale = np.hypot(*(seen - np.roll(seen, 1, axis=0)).T).mean() / _TAG_MM
    level = level_for(float(scale), wanted=_PX_PER_MM)
    to_level = np.array([[1, 0, 0.5 - level / 2], [0, 1, 0.5 - level / 2], [0, 0, level]]) / level
    grey = photograph.level(level)[:, :, 1]
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    cut = cv2.warpPerspective(
        np.ascontiguousarray(grey), to_level @ back, (side, side), flags=how,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    edge = np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side], [side / 2, side / 2]])
    there = project(back, edge)
    inside = ((there >= 0) & (there < np.array(photograph.size))).all(axis=1).mean()
    return _Cut(np.asarray(cut, np.float32), float(inside), back)


def _weigh(cuts: Sequence[_Cut], blur: int) -> Weights:
    by_place, seen, corners = np.zeros((N_PLACES, FIELD)), [], np.zeros((N_PLACES, 4, 2))
    for place, cut in enumerate(cuts):
        likeness, corner = _compare(cut.pixels, place, blur)
        tag = corner + _QUIET_MM * _PX_PER_MM
        far = tag + _TAG_MM * _PX_PER_MM
        square = [[tag[0], tag[1]], [far[0], tag[1]], [far[0], far[1]], [tag[0], far[1]]]
        corners[place] = project(cut.back, np.array(square) - 0.5)
        if cut.inside == 1.0 and likeness.max() >= _LEAST_LIKE_A_TAG:
            seen.append(place)
            like = np.clip(likeness, 0.0, _LIKE_AT_MOST)
            by_place[place] = -0.5 * _N_CELLS * np.log1p(-like * like)
    return Weights(by_place, tuple(seen), corners)


def _compare(cut: NDArray[np.float32], place: int, blur: int) -> tuple[Points, Points]:
    """Lay all patterns of a place over its cut: their correlation, and where they lie best."""
    usual, patterns = _patterns(place, blur)
    alike = cv2.matchTemplate(cut, usual, cv2.TM_CCOEFF_NORMED)
    _, _, _, (x, y) = cv2.minMaxLoc(alike)
    best, corner = np.full(FIELD, -1.0), np.array([x, y], float)
    most = cut.shape[0] - _TEMPLATE
    for top in range(max(0, y - _NEAR_PX), min(most, y + _NEAR_PX) + 1):
        for left in range(max(0, x - _NEAR_PX), min(most, x + _NEAR_PX) + 1):
            here = cut[top : top + _TEMPLATE, left : left + _TEMPLATE].ravel()
            here = here - here.mean()
            size = float(np.linalg.norm(here))
            likeness = patterns @ here / max(size, 1e-6)
            if likeness.max() > best.max():
                corner = np.array([left, top], float)
            best = np.maximum(best, likeness)
    return best, corner


@lru_cache(maxsize=32)
def _patterns(place: int, blur: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Draw what may stand at a place: their mean, and each of 97 centred and of length 1."""
    drawn = np.array([_draw(place + N_PLACES * symbol) for symbol in range(FIELD)])
    soft = _softener(_BLURS_MM[blur] * _PX_PER_MM)
    drawn = (soft @ drawn @ soft.T).astype(np.float32)
    flat = drawn.reshape(FIELD, -1)
    flat = flat - flat.mean(axis=1, keepdims=True)
    return drawn.mean(axis=0), flat / np.linalg.norm(flat, axis=1, keepdims=True)


def _draw(number: int) -> NDArray[np.float32]:
    """Draw one tag with its quiet zone: 0 is black."""
    cells = np.ones((_CELLS_ACROSS, _CELLS_ACROSS), np.float32)
    cells[1:-1, 1:-1] = 0.0
    bits = [TAG_PATTERNS[number] >> (_N_CELLS - 1 - cell) & 1 for cell in range(_N_CELLS)]
    cells[2:-2, 2:-2] = np.array(bits, np.float32).reshape(6, 6)
    finer = 8
    at = (np.arange(_TEMPLATE * finer) * _CELLS_ACROSS) // (_TEMPLATE * finer)
    share = np.zeros((_TEMPLATE, _CELLS_ACROSS), np.float32)
    np.add.at(share, (np.arange(_TEMPLATE * finer) // finer, at), 1 / finer)
    return np.asarray(share @ cells @ share.T)


def _softener(sigma_px: float) -> NDArray[np.float32]:
    """Make the matrix that blurs a column; what lies outside is like the edge."""
    far = int(4 * sigma_px) + 1
    pixel = np.arange(_TEMPLATE)
    reach = np.arange(-far, _TEMPLATE + far)
    weight = np.exp(-0.5 * ((pixel[:, None] - reach[None, :]) / sigma_px) ** 2)
    weight /= weight.sum(axis=1, keepdims=True)
    soft = np.zeros((_TEMPLATE, _TEMPLATE))
    np.add.at(soft.T, np.clip(reach, 0, _TEMPLATE - 1), weight.T)
    return soft.astype(np.float32)
