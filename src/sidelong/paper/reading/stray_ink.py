"""Ink where nothing was printed: what a sheet shows beside what its kit's PDF says it shows.

A network that has seen no such words and drawings must leave a pale mark on them to chance; laid
beside the printed original, any ink but the printed one is plain.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels, darkest_channel
from sidelong.paper.reading.ink import quantile
from sidelong.paper.reading.lighting import PAPER_WHITE
from sidelong.paper.reading.mark_nets import SIDE_PX
from sidelong.paper.reading.patches import PATCH_MM

_PX_PER_MM = SIDE_PX / PATCH_MM
_REACH_MM = 6.9
_SHIFT_PX = 2  # how far print may lie off, which is 0.7 mm
_LEAST_PX, _LEAST_BARE_PX = 60, 40
_BARE, _PRINTED = 8.0, 60.0  # grey levels of print: nothing, and a line or a letter
_TINT_MARGIN = 1.2
_SOLID, _LEAST_SOLID_PX = 150.0, 18  # of drawings such as heads
_DARKEST_SHARE = 0.99

_AXIS = (np.arange(SIDE_PX) + 0.5) / _PX_PER_MM - PATCH_MM / 2
_WITHIN = np.hypot(*np.meshgrid(_AXIS, _AXIS)) < _REACH_MM
_EDGE, _INNER = np.ones((3, 3), np.uint8), np.ones((5, 5), np.uint8)

UNSEEN = 99.0
"""What is said of a place that is printed all over, grey levels."""


def stray_ink(small: Pixels, printed: Pixels, *, blur_mm: float) -> NDArray[np.float64]:
    """Tell how dark the darkest spot is where nothing was printed, or much paler.

    Parameters
    ----------
    small : ndarray of uint8, shape (n, 42, 42, 3)
        Surroundings of places, 3 px to the millimetre, bare paper at 240.
    printed : ndarray of uint8, shape (n, 42, 42)
        The darkest channel of the same surroundings as they were printed; white is 255.
    blur_mm : float
        How blurred the photograph is: standard deviation, mm on the paper.

    Returns
    -------
    ndarray of float, shape (n,)
        Grey levels, over a spot of 1 mm; about 0 on an empty place, 99 where print hides all.
    """
    darker = np.maximum(np.float32(PAPER_WHITE) - darkest_channel(small), 0.0)
    pairs = zip(darker, 255 - printed, strict=True)
    return np.array([_stray(seen, print_, blur_mm) for seen, print_ in pairs], float)


def _stray(darker: NDArray[np.float32], print_: Pixels, blur_mm: float) -> float:
    expected = _laid_on(darker, print_).astype(np.float32)
    sigma = blur_mm * _PX_PER_MM
    if sigma > 0.2:  # a kernel of a single pixel otherwise
        expected = np.asarray(cv2.GaussianBlur(expected, (0, 0), sigma), np.float32)
    expected = np.asarray(cv2.dilate(expected, _EDGE), np.float32)
    is_watched = _WITHIN & (expected <= _PRINTED)
    if is_watched.sum() < _LEAST_PX:
        return UNSEEN
    is_bare = is_watched & (expected < _BARE)
    paper = (
        quantile(darker[is_bare], 0.5)
        if is_bare.sum() > _LEAST_BARE_PX
        else quantile(darker[is_watched], 0.25)
    )
    tint = np.where(expected < _BARE, 0.0, _TINT_MARGIN * expected)
    stray = np.where(expected <= _PRINTED, darker - paper - tint, 0.0).astype(np.float32)
    share = cv2.blur((expected <= _PRINTED).astype(np.float32), (3, 3))
    spots = cv2.blur(stray, (3, 3)) / np.maximum(share, 0.5)
    counted = spots[is_watched & (share > 0.5)]
    if not counted.size:
        return UNSEEN
    return max(quantile(counted, _DARKEST_SHARE), _on_drawing(darker, expected))


def _on_drawing(darker: NDArray[np.float32], expected: NDArray[np.float32]) -> float:
    """Tell how much darker than the rest of it a spot of a dark drawing is."""
    is_solid = _WITHIN & (cv2.erode(expected, _INNER) > _SOLID)
    if is_solid.sum() < _LEAST_SOLID_PX:
        return 0.0
    spots = cv2.blur(darker, (3, 3))[is_solid]
    return quantile(spots, _DARKEST_SHARE) - quantile(spots, 0.5)


def _laid_on(darker: NDArray[np.float32], print_: Pixels) -> Pixels:
    """Move print by up to ``_SHIFT_PX`` to where it is seen: a sheet is never quite flat."""
    wide = np.pad(print_, _SHIFT_PX)
    if not wide.any():
        return print_
    likeness = cv2.matchTemplate(
        wide.astype(np.float32), np.ascontiguousarray(darker), cv2.TM_CCOEFF_NORMED
    )
    down, across = np.unravel_index(int(np.argmax(likeness)), likeness.shape)
    return wide[down : down + SIDE_PX, across : across + SIDE_PX]
