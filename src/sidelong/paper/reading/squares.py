"""Where a sheet lies when its tags cannot be read one by one: by dark squares and its outline.

A blurred tag is still a dark square. Six of them, or the edge of the paper with some of them, lie
as on no other thing; the row in the middle stands nearer to the foot, so that top and foot differ.
What the squares say is not asked here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.reading.mapping import fit_homography, polygon_area, project
from sidelong.paper.reading.sheets import box_corners
from sidelong.training.layout import Box, SheetPage
from sidelong.training.sheet_code import N_PLACES

Points = NDArray[np.float64]

_LEAST_OUTLINE = 0.02  # of the photograph's area
_FEWEST_SQUARES = 3
_MANY_SQUARES = 5
_STRAIGHT = 0.55  # 98 of 100 blurred tags of slanted sheets were less crooked
_MOST_SQUARES = 18
_MOST_PLACEMENTS = 4
_OFF_SIDES = 0.8  # a curled sheet has its tags this far, in sides of a tag, from where a plane has
_LIKE_SIZE = (0.55, 1.6)
_LIKE_DISTANCE = (0.6, 1.7)
_LIKE_ANGLE = np.deg2rad(22.0)


@dataclass(frozen=True)
class Frame:
    """What all pages of one kind have in common.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the page.
    places : tuple of Box
        The tags by place, mm.
    """

    width_mm: float
    height_mm: float
    places: tuple[Box, ...]

    @cached_property
    def tags(self) -> Points:
        """Corners of the tags by place, mm, shape (6, 4, 2)."""
        return np.array([box_corners(box) for box in self.places])

    @cached_property
    def corners(self) -> Points:
        """Corners of the page, mm, shape (4, 2)."""
        return box_corners(Box(0.0, 0.0, self.width_mm, self.height_mm))


@dataclass(frozen=True)
class Placement:
    """Where a sheet may lie.

    Parameters
    ----------
    homography : ndarray of float, shape (3, 3)
        From mm on the page to px.
    squares : dict of int to ndarray, shape (4, 2)
        Corners of the dark squares that were found, px, by place of the tag.
    off : float
        Mean distance of the squares from where the plane has them, in sides.
    """

    homography: Points
    squares: dict[int, Points]
    off: float


def frame_of(page: SheetPage) -> Frame | None:
    """Give the frame of a page; None where it has no tag at one of the six places."""
    boxes = {marker.id % N_PLACES: marker.box for marker in page.markers}
    if len(boxes) != N_PLACES:
        return None
    places = tuple(boxes[place] for place in range(N_PLACES))
    return Frame(page.width_mm, page.height_mm, places)


def place_sheets(
    quads: Sequence[Points], frame: Frame, *, size: tuple[int, int]
) -> tuple[Placement, ...]:
    """Find where a sheet may lie among four-sided shapes.

    Parameters
    ----------
    quads : sequence of ndarray, shape (4, 2)
        Shapes with four corners, clockwise, px.
    frame : Frame
        What is looked for.
    size : tuple of int
        Width and height of the photograph, px.

    Returns
    -------
    tuple of Placement
        The best first, at most four; each has at least three squares at places of tags.
    """
    areas = np.array([polygon_area(quad) for quad in quads])
    is_outline = areas >= _LEAST_OUTLINE * size[0] * size[1]
    squares = [quad for quad, large in zip(quads, is_outline, strict=True) if not large]
    squares = sorted(squares, key=_crookedness)[:_MOST_SQUARES]
    if len(squares) < _FEWEST_SQUARES:
        return ()
    outlines = [quad for quad, large in zip(quads, is_outline, strict=True) if large]
    placed: list[Placement] = []
    straight = [square for square in squares if _crookedness(square) <= _STRAIGHT]
    for guesses in (_by_outline(outlines, frame), _by_pairs(straight, frame)):
        settled = (_settle(guess, squares, frame) for guess in guesses)
        placed += [each for each in settled if each is not None]
        if any(len(each.squares) >= _MANY_SQUARES for each in placed):
            break  # pairs are many: they are for sheets without an outline
    return _best(placed)


def _by_outline(outlines: Sequence[Points], frame: Frame) -> Iterator[Points]:
    for outline in outlines:
        for turn in range(4):
            homography = fit_homography(frame.corners, np.roll(outline, turn, axis=0))
            if homography is not None:
                yield homography


def _by_pairs(squares: Sequence[Points], frame: Frame) -> Iterator[Points]:
    """Take any two squares for any two tags, where their distance and turn allow it."""
    middles, n = frame.tags.mean(axis=1), range(N_PLACES)
    apart = {(a, b): middles[b] - middles[a] for a in n for b in n if a != b}
    side_mm = float(np.ptp(frame.tags[0], axis=0)[0])
    for first, second in combinations(squares, 2):
        across = second.mean(axis=0) - first.mean(axis=0)
        long = float(np.hypot(*across)) * 2 * side_mm / (_side(first) + _side(second))
        for (a, b), there in apart.items():
            if not _LIKE_DISTANCE[0] < long / np.hypot(*there) < _LIKE_DISTANCE[1]:
                continue
            turned = np.arctan2(across[1], across[0]) - np.arctan2(there[1], there[0])
            one, other = _turned_like(first, turned), _turned_like(second, turned)
            if one is None or other is None:
                continue
            page = np.concatenate([frame.tags[a], frame.tags[b]])
            homography = fit_homography(page, np.concatenate([one, other]))
            if homography is not None:
                yield homography


def _settle(homography: Points, squares: Sequence[Points], frame: Frame) -> Placement | None:
    """Look which squares stand at places of tags, and fit the plane to them; twice."""
    placement = None
    for _ in range(2):
        found, off = _at_places(homography, squares, frame)
        if len(found) < _FEWEST_SQUARES:
            return None
        page = np.concatenate([frame.tags[place] for place in found])
        fitted = fit_homography(page, np.concatenate(list(found.values())))
        if fitted is None:
            return None
        homography, placement = fitted, Placement(fitted, found, off)
    return placement


def _at_places(
    homography: Points, squares: Sequence[Points], frame: Frame
) -> tuple[dict[int, Points], float]:
    """List the squares at places of tags, each at one, and their mean distance from there."""
    depth = np.c_[frame.corners, np.ones(4)] @ homography[2]
    if (depth <= 0).any():
        return {}, np.inf
    middles = np.array([square.mean(axis=0) for square in squares])
    sides = np.array([_side(square) for square in squares])
    expected = np.array([project(homography, corners) for corners in frame.tags])
    expected_sides = np.array([_side(corners) for corners in expected])
    apart = middles[None] - expected.mean(axis=1)[:, None]
    off = np.hypot(*np.moveaxis(apart, 2, 0)) / expected_sides[:, None]
    size = sides[None] / expected_sides[:, None]
    off[(size < _LIKE_SIZE[0]) | (size > _LIKE_SIZE[1])] = np.inf
    found: dict[int, Points] = {}
    offs = []
    while (nearest := float(off.min())) < _OFF_SIDES:
        place, square = (int(each) for each in np.argwhere(off == nearest)[0])
        turn = _best_turn(squares[square], expected[place])
        found[place] = np.roll(squares[square], turn, axis=0)
        offs.append(nearest)
        off[place], off[:, square] = np.inf, np.inf
    return found, float(np.mean(offs)) if offs else np.inf


def _best(placed: Sequence[Placement]) -> tuple[Placement, ...]:
    """Keep the best of those that mean the same."""
    kept: list[Placement] = []
    for each in sorted(placed, key=lambda placement: (-len(placement.squares), placement.off)):
        if len(kept) == _MOST_PLACEMENTS:
            break
        if all(not _is_same(each, other) for other in kept):
            kept.append(each)
    return tuple(kept)


def _is_same(one: Placement, other: Placement) -> bool:
    shared = one.squares.keys() & other.squares.keys()
    return bool(shared) and all(
        np.abs(one.squares[place] - other.squares[place]).max() < 1e-6 for place in shared
    )


def _turned_like(quad: Points, turned: float) -> Points | None:
    """Begin a square's corners where its upper edge is turned as the sheet is."""
    edge = quad[1] - quad[0]
    off = turned - np.arctan2(edge[1], edge[0])
    quarter = round(off / (np.pi / 2))
    if abs(off - quarter * np.pi / 2) > _LIKE_ANGLE:
        return None
    return np.asarray(np.roll(quad, -quarter, axis=0))


def _best_turn(quad: Points, expected: Points) -> int:
    around = quad - quad.mean(axis=0)
    wanted = expected - expected.mean(axis=0)
    return max(range(4), key=lambda turn: float((np.roll(around, turn, axis=0) * wanted).sum()))


def _crookedness(quad: Points) -> float:
    """Tell how far a shape is from a slanted square: 0 for a parallelogram of equal sides."""
    bent = np.hypot(*(quad[0] - quad[1] + quad[2] - quad[3]))
    sides = np.hypot(*(quad - np.roll(quad, 1, axis=0)).T)
    return float(bent / sides.mean() + 0.5 * (sides.max() / max(sides.min(), 1e-6) - 1))


def _side(quad: Points) -> float:
    return float(np.hypot(*(quad - np.roll(quad, 1, axis=0)).T).mean())
