"""Marks that lie apart from every target: a ring around a word, a tick on a drawing.

A person who marks the word beside its circle has answered, though the circle is empty; such a
field is no blank.
"""

from collections.abc import Collection
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels
from sidelong.paper.reading.lighting import FLAT_PX_PER_MM, PAPER_WHITE
from sidelong.paper.reading.patches import PageView
from sidelong.training.layout import Field, SheetPage

_DARKER, _NOISES = 16.0, 4.0  # grey levels; times the noise
_TRUST_IN_BLUE = 0.6  # cameras see it with most noise, and what is yellow is very dark in it
_PRINTED = 10.0  # grey levels of print, blurred: nothing is looked for there
_OFF_PX = 3  # print may lie 0.5 mm off to either side
_SPOT_PX = 2
_LEAST_MM2 = 1.0
_INSIDE_MM, _AT_A_TARGET_MM, _AT_A_MARK_MM = 2.8, 4.0, 6.5
_BESIDE_MM = 13.0
_MARGIN_PX = round(_BESIDE_MM * FLAT_PX_PER_MM)  # what lies within reach of a target at the edge
_AROUND_CODES_MM = 4.0


class LooseInk:
    """Ink of one page that belongs to none of its targets.

    Parameters
    ----------
    view : PageView
        The page in its photograph.
    darkest : ndarray of uint8, shape (rows, columns)
        As it was printed, ``REFERENCEFLAT_PX_PER_MM`` pixels a millimetre.
    marked : collection of str
        Ids of the targets that are read as marked: a mark reaches beyond its target.
    """

    def __init__(self, view: PageView, darkest: Pixels, *, marked: Collection[str]) -> None:
        spots = _unprinted(view, darkest)
        _clear_what_is_written(spots, view.page)
        joined = cv2.dilate(spots, np.ones((3, 3), np.uint8))
        _, labels, found, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
        stats = np.asarray(found, np.int32)
        areas = np.bincount(labels[spots > 0], minlength=len(stats)) / FLAT_PX_PER_MM**2
        is_loose = areas >= _LEAST_MM2
        is_loose[0] = False
        large = np.flatnonzero(is_loose)
        self._labels = np.pad(np.asarray(labels, np.int32), _MARGIN_PX)
        for field in view.page.fields:
            for target in field.targets:
                # Its outline, left out with all print, cuts a mark across it into several parts.
                is_marked = (
                    target.id in marked or self._around(target.cx, target.cy, _INSIDE_MM).any()
                )
                reach = _AT_A_MARK_MM if is_marked else _AT_A_TARGET_MM
                is_loose[self._around(target.cx, target.cy, reach)] = False
                is_loose[large] &= ~_surrounds(stats[large], target.cx, target.cy)
        self._is_loose = is_loose

    def lies_at(self, field: Field) -> bool:
        """Tell whether a mark lies near one of a field's targets, apart from all targets.

        Parameters
        ----------
        field : Field
            A question of the page.

        Returns
        -------
        bool
            True where a blank is none, perhaps.
        """
        return any(
            self._is_loose[self._around(target.cx, target.cy, _BESIDE_MM)].any()
            for target in field.targets
        )

    def _around(self, x_mm: float, y_mm: float, reach_mm: float) -> NDArray[np.int32]:
        """List what lies within reach of a place, by pixels: parts of ink come more than once."""
        disc = _disc(reach_mm)
        side = len(disc)
        reach = side // 2
        left, top = (round(at * FLAT_PX_PER_MM - 0.5) + _MARGIN_PX - reach for at in (x_mm, y_mm))
        return self._labels[top : top + side, left : left + side][disc]


@cache
def _disc(reach_mm: float) -> NDArray[np.bool_]:
    """Tell which pixels of a square lie within reach of its middle."""
    reach = int(reach_mm * FLAT_PX_PER_MM)
    down, across = np.ogrid[-reach : reach + 1, -reach : reach + 1]
    return np.asarray(across**2 + down**2 < (reach_mm * FLAT_PX_PER_MM) ** 2)


def _unprinted(view: PageView, darkest: Pixels) -> Pixels:
    """Find where the page is darker than paper though nothing was printed there."""
    rows, columns = view.flat.shape[:2]
    # All in whole grey levels: several times as fast on a page of half a million pixels.
    light = cv2.resize(view.light.astype(np.uint8), (columns, rows))
    white = np.uint8(PAPER_WHITE)
    darker = white - np.minimum(cv2.divide(view.flat, light, scale=PAPER_WHITE), white)
    red, green, blue = cv2.split(darker)
    trusted = cv2.max(cv2.max(red, green), cv2.convertScaleAbs(blue, alpha=_TRUST_IN_BLUE))
    sigma = max(view.quality.blur_mm * FLAT_PX_PER_MM, 0.3)
    print_ = cv2.resize(255 - darkest, (columns, rows), interpolation=cv2.INTER_AREA)
    spot = (_SPOT_PX, _SPOT_PX)
    expected = cv2.blur(cv2.GaussianBlur(print_, (0, 0), sigma), spot)
    expected = cv2.dilate(expected, np.ones((_OFF_PX, _OFF_PX), np.uint8))
    limit = max(_DARKER, _NOISES * view.quality.noise)
    found = (cv2.blur(trusted, spot) > limit) & (expected <= _PRINTED)
    return np.asarray(found, np.uint8)


def _clear_what_is_written(spots: Pixels, page: SheetPage) -> None:
    """Leave out, in place, what is meant to be written on, and what is near markers and codes."""
    margins = [(box, 1.0) for box in (*page.note_boxes, *page.free_boxes)]
    margins += [(marker.box, _AROUND_CODES_MM) for marker in page.markers]
    margins += [(code, _AROUND_CODES_MM) for code in page.codes]
    for box, margin in margins:
        left, top = (max(round((at - margin) * FLAT_PX_PER_MM), 0) for at in (box.x, box.y))
        right = round((box.x + box.w + margin) * FLAT_PX_PER_MM)
        bottom = round((box.y + box.h + margin) * FLAT_PX_PER_MM)
        spots[top:bottom, left:right] = 0


def _surrounds(stats: NDArray[np.int32], x_mm: float, y_mm: float) -> NDArray[np.bool_]:
    """Tell which parts of ink have a place inside the rectangle around them."""
    x, y = x_mm * FLAT_PX_PER_MM, y_mm * FLAT_PX_PER_MM
    left, top = stats[:, cv2.CC_STAT_LEFT], stats[:, cv2.CC_STAT_TOP]
    right, bottom = left + stats[:, cv2.CC_STAT_WIDTH], top + stats[:, cv2.CC_STAT_HEIGHT]
    return np.asarray((left < x) & (x < right) & (top < y) & (y < bottom))
