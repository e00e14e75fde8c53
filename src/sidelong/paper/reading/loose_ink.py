"""Marks that lie apart from every target: a ring around a word, a tick on a drawing.

A person who marks the word beside its circle has answered, though the circle is empty; such a
field is no blank.
"""

from collections.abc import Collection

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels
from sidelong.paper.reading.flattening import lay_flat
from sidelong.paper.reading.lighting import PAPER_WHITE
from sidelong.paper.reading.patches import PageView
from sidelong.paper.reading.reference import REFERENCE_PX_PER_MM
from sidelong.training.layout import Box, Field, SheetPage

_DARKER, _NOISES = 16.0, 4.0  # grey levels; times the noise
_TRUST_IN_BLUE = 0.6  # cameras see it with most noise, and what is yellow is very dark in it
_PRINTED = 10.0  # grey levels of print, blurred: nothing is looked for there
_OFF_PX = 3  # print may lie 0.3 mm off to either side
_LEAST_MM2 = 1.0
_INSIDE_MM, _AT_A_TARGET_MM, _AT_A_MARK_MM = 2.8, 4.0, 6.5
_BESIDE_MM = 13.0
_AROUND_CODES_MM = 4.0


class LooseInk:
    """Ink of one page that belongs to none of its targets.

    Parameters
    ----------
    view : PageView
        The page in its photograph.
    darkest : ndarray of uint8, shape (rows, columns)
        As it was printed, ``REFERENCE_PX_PER_MM`` pixels a millimetre.
    marked : collection of str
        Ids of the targets that are read as marked: a mark reaches beyond its target.
    """

    def __init__(self, view: PageView, darkest: Pixels, *, marked: Collection[str]) -> None:
        spots = _unprinted(view, darkest)
        _clear_what_is_written(spots, view.page)
        joined = cv2.dilate(spots, np.ones((3, 3), np.uint8))
        _, labels, found, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
        stats = np.asarray(found, np.int32)
        areas = np.bincount(labels[spots > 0], minlength=len(stats)) / REFERENCE_PX_PER_MM**2
        is_loose = areas >= _LEAST_MM2
        is_loose[0] = False
        large = np.flatnonzero(is_loose)
        self._labels = np.asarray(labels, np.int32)
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
        rows, columns = self._labels.shape
        x, y, reach = (each * REFERENCE_PX_PER_MM for each in (x_mm, y_mm, reach_mm))
        top, left = max(int(y - reach), 0), max(int(x - reach), 0)
        bottom, right = min(int(y + reach) + 1, rows), min(int(x + reach) + 1, columns)
        down, across = np.ogrid[top:bottom, left:right]
        is_near = (across + 0.5 - x) ** 2 + (down + 0.5 - y) ** 2 < reach**2
        return self._labels[top:bottom, left:right][is_near]


def _unprinted(view: PageView, darkest: Pixels) -> Pixels:
    """Find where the page is darker than paper though nothing was printed there."""
    page = view.page
    whole = Box(0.0, 0.0, page.width_mm, page.height_mm)
    seen = lay_flat(view.photograph, view.mapping, area=whole, px_per_mm=REFERENCE_PX_PER_MM)
    rows, columns = seen.shape[:2]
    # All in whole grey levels: several times as fast on a page of half a million pixels.
    light = cv2.resize(view.light.astype(np.uint8), (columns, rows))
    white = np.uint8(PAPER_WHITE)
    darker = white - np.minimum(cv2.divide(seen, light, scale=PAPER_WHITE), white)
    red, green, blue = cv2.split(darker)
    trusted = cv2.max(cv2.max(red, green), cv2.convertScaleAbs(blue, alpha=_TRUST_IN_BLUE))
    sigma = max(view.quality.blur_mm * REFERENCE_PX_PER_MM, 0.3)
    expected = cv2.GaussianBlur(255 - darkest, (0, 0), sigma)
    expected = cv2.dilate(expected, np.ones((_OFF_PX, _OFF_PX), np.uint8))
    limit = max(_DARKER, _NOISES * view.quality.noise)
    found = (cv2.blur(trusted, (3, 3)) > limit) & (expected[:rows, :columns] <= _PRINTED)
    return np.asarray(found, np.uint8)


def _clear_what_is_written(spots: Pixels, page: SheetPage) -> None:
    """Leave out, in place, what is meant to be written on, and what is near markers and codes."""
    margins = [(box, 1.0) for box in (*page.note_boxes, *page.free_boxes)]
    margins += [(marker.box, _AROUND_CODES_MM) for marker in page.markers]
    margins += [(code, _AROUND_CODES_MM) for code in page.codes]
    for box, margin in margins:
        left, top = (max(round((at - margin) * REFERENCE_PX_PER_MM), 0) for at in (box.x, box.y))
        right = round((box.x + box.w + margin) * REFERENCE_PX_PER_MM)
        bottom = round((box.y + box.h + margin) * REFERENCE_PX_PER_MM)
        spots[top:bottom, left:right] = 0


def _surrounds(stats: NDArray[np.int32], x_mm: float, y_mm: float) -> NDArray[np.bool_]:
    """Tell which parts of ink have a place inside the rectangle around them."""
    x, y = x_mm * REFERENCE_PX_PER_MM, y_mm * REFERENCE_PX_PER_MM
    left, top = stats[:, cv2.CC_STAT_LEFT], stats[:, cv2.CC_STAT_TOP]
    right, bottom = left + stats[:, cv2.CC_STAT_WIDTH], top + stats[:, cv2.CC_STAT_HEIGHT]
    return np.asarray((left < x) & (x < right) & (top < y) & (y < bottom))
