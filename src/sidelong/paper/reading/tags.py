"""Finding the printed tags of a photograph: first in a small copy, then where one is missing.

The tags are AprilTags of the family 36h11, found by OpenCV's detector. The corners of those found
in the small copy are placed again in a finer one.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from sidelong.paper.images import Photograph, Pixels

Points = NDArray[np.float64]

_DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
_FIRST_SIDE_PX = 800  # the longer side of the copy that is searched first, at least
_SMALLEST_TAG_PX = 14
_BLURS_PX = (1.9, 2.8)
_AROUND_PX = 25.0  # surroundings in which contrast is evened: about a tag's width
_LEAST_SPREAD = 3.0


@dataclass(frozen=True)
class FoundTag:
    """One tag in a photograph.

    Parameters
    ----------
    id : int
        Its number.
    corners : ndarray of float, shape (4, 2)
        Corners of the black border, px of the whole photograph: those printed top left, top
        right, bottom right, bottom left.
    """

    id: int
    corners: Points

    @property
    def centre(self) -> Points:
        """Mean of the corners, px, shape (2,)."""
        return np.asarray(self.corners.mean(axis=0))

    @property
    def side_px(self) -> float:
        """Mean length of its sides, px."""
        sides = self.corners - np.roll(self.corners, 1, axis=0)
        return float(np.hypot(sides[:, 0], sides[:, 1]).mean())


def find_tags(photograph: Photograph, *, only_large: bool = False) -> tuple[FoundTag, ...]:
    """Find tags anywhere in a photograph, in a small copy of it.

    Parameters
    ----------
    photograph : Photograph
        Where to look.
    only_large : bool
        Find only those of a sheet that is at least two fifths as long as the photograph. Letters
        and circles are smaller than these tags: to leave them out takes a third of the time.

    Returns
    -------
    tuple of FoundTag
        In no order that means anything; the same number may stand there twice.
    """
    reduced_by = search_level(photograph)
    settings = _LARGE if only_large else _QUICK
    grey = to_grey(photograph.level(reduced_by))
    return _detect_in(grey, reduced_by=reduced_by, settings=settings)


def find_hidden_tags(photograph: Photograph) -> Iterator[tuple[FoundTag, ...]]:
    """Find tags that are small, dim or blurred, with more effort at every step.

    A copy twice as fine as that of :func:`find_tags` is searched first. Then blur is undone, in
    the small copy, where a wide blur is narrow, and in the finer one.

    Parameters
    ----------
    photograph : Photograph
        Where to look.

    Yields
    ------
    tuple of FoundTag
        What each step found.
    """
    small = search_level(photograph)
    finer = max(1, small // 2)
    grey = {level: to_grey(photograph.level(level)) for level in (small, finer)}
    yield _detect_in(grey[finer], reduced_by=finer, settings=_THOROUGH)
    for level in dict.fromkeys((small, finer)):
        for blur_px in _BLURS_PX:
            sharp = undo_blur(grey[level], blur_px)
            yield _detect_in(sharp, reduced_by=level, settings=_THOROUGH)


def find_shapes(photograph: Photograph) -> tuple[Points, ...]:
    """Find what has four corners: tags that are too blurred to be read, codes, sheets of paper.

    Parameters
    ----------
    photograph : Photograph
        Where to look, in its small copy.

    Returns
    -------
    tuple of ndarray, shape (4, 2)
        Corners in the order of the clock, px of the whole photograph.
    """
    reduced_by = search_level(photograph)
    grey = to_grey(photograph.level(reduced_by))
    read, _, unread = _THOROUGH.detector().detectMarkers(grey)
    shapes = (quad.reshape(4, 2).astype(float) for quad in (*read, *unread))
    return tuple(_clockwise((quad + 0.5) * reduced_by - 0.5) for quad in shapes)


def find_tags_near(
    photograph: Photograph, places: Iterable[Points], *, reduced_by: int
) -> tuple[FoundTag, ...]:
    """Look for single tags where they are expected, at full effort.

    Parameters
    ----------
    photograph : Photograph
        Where to look.
    places : iterable of ndarray, shape (4, 2)
        Expected corners, px of the whole photograph.
    reduced_by : int
        Which copy to look in.

    Returns
    -------
    tuple of FoundTag
        Whatever was found near any of the places.
    """
    grey = to_grey(photograph.level(reduced_by))
    found: list[FoundTag] = []
    for corners in places:
        middle = corners.mean(axis=0) / reduced_by
        reach = 1.1 * float(np.ptp(corners, axis=0).max()) / reduced_by
        x0, y0 = np.maximum(np.floor(middle - reach), 0).astype(int)
        x1, y1 = np.ceil(middle + reach).astype(int)
        crop = grey[y0:y1, x0:x1]
        if min(crop.shape, default=0) < _SMALLEST_TAG_PX:
            continue
        for stronger in (_widened(crop), *(undo_blur(crop, blur) for blur in _BLURS_PX)):
            tags = _detect_in(stronger, reduced_by=1, settings=_NEAR)
            found += [
                FoundTag(tag.id, (tag.corners + (x0, y0) + 0.5) * reduced_by - 0.5) for tag in tags
            ]
            if tags:
                break
    return merge(found)


def search_level(photograph: Photograph) -> int:
    """Say by how much the first copy to search is reduced."""
    reduced_by = 1
    while max(photograph.size) / (2 * reduced_by) >= _FIRST_SIDE_PX and reduced_by < 4:
        reduced_by *= 2
    return reduced_by


def merge(tags: Sequence[FoundTag]) -> tuple[FoundTag, ...]:
    """Keep one of several findings of the same tag at the same place."""
    kept: list[FoundTag] = []
    for tag in tags:
        twins = (other for other in kept if other.id == tag.id)
        if all(np.abs(other.centre - tag.centre).max() > 0.5 * tag.side_px for other in twins):
            kept.append(tag)
    return tuple(kept)


def to_grey(pixels: Pixels) -> Pixels:
    """Weigh red, green and blue as the eye does."""
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def undo_blur(grey: Pixels, blur_px: float) -> Pixels:
    """Undo a blur, and bring dim places to the contrast of bright ones.

    Parameters
    ----------
    grey : ndarray of uint8, shape (rows, columns)
        A blurred picture.
    blur_px : float
        Standard deviation of the blur that is undone, px.

    Returns
    -------
    ndarray of uint8, shape (rows, columns)
        Wiener's filter for noise at a fiftieth of the signal's power, then local contrast.
    """
    rows, columns = grey.shape
    tall, wide = fft.next_fast_len(rows, real=True), fft.next_fast_len(columns, real=True)
    padded = cv2.copyMakeBorder(grey, 0, tall - rows, 0, wide - columns, cv2.BORDER_REFLECT)
    down = np.fft.fftfreq(tall).astype(np.float32)[:, None]
    across = np.fft.rfftfreq(wide).astype(np.float32)[None, :]
    passed = np.exp(-2 * (np.pi * blur_px) ** 2 * (down**2 + across**2))
    spectrum = fft.rfft2(np.asarray(padded, np.float32)) * (passed / (passed**2 + 0.02))
    sharp = fft.irfft2(spectrum, s=(tall, wide))[:rows, :columns]
    mean = cv2.GaussianBlur(sharp, (0, 0), _AROUND_PX)
    rest = sharp - mean
    spread = np.sqrt(cv2.GaussianBlur(rest * rest, (0, 0), _AROUND_PX))
    even = 128 + 60 * rest / np.maximum(spread, _LEAST_SPREAD)
    return np.asarray(np.clip(even, 0, 255), np.uint8)


def _clockwise(quad: Points) -> Points:
    x, y = quad.T
    is_clockwise = np.dot(x, np.roll(y, -1)) > np.dot(y, np.roll(x, -1))  # y points down
    return quad if is_clockwise else quad[::-1]


def _widened(crop: Pixels) -> Pixels:
    """Stretch grey levels to the whole range; a tag in a shadow uses a fifth of it."""
    low, high = np.percentile(crop, (2, 98))
    span = max(float(high - low), 1.0)
    return np.asarray(np.clip((crop - low) * (255.0 / span), 0, 255), np.uint8)


def _detect_in(grey: Pixels, *, reduced_by: int, settings: "_Effort") -> tuple[FoundTag, ...]:
    corners, ids, _ = settings.detector().detectMarkers(grey)
    if ids is None:
        return ()
    return tuple(
        FoundTag(int(number), (quad.reshape(4, 2).astype(float) + 0.5) * reduced_by - 0.5)
        for number, quad in zip(ids.ravel(), corners, strict=True)
    )


@dataclass(frozen=True)
class _Effort:
    """How hard OpenCV's detector tries."""

    windows: tuple[int, int, int]  # smallest, largest and step of the thresholds' windows, px
    least_perimeter: float  # of the longer side of the picture
    darker_by: float = 7.0  # than its surroundings, grey levels

    def detector(self) -> cv2.aruco.ArucoDetector:
        """Set it up; it keeps no state, and costs nothing to make."""
        chosen = cv2.aruco.DetectorParameters()
        chosen.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
        smallest, largest, step = self.windows
        chosen.adaptiveThreshWinSizeMin = smallest
        chosen.adaptiveThreshWinSizeMax = largest
        chosen.adaptiveThreshWinSizeStep = step
        chosen.adaptiveThreshConstant = self.darker_by
        chosen.minMarkerPerimeterRate = self.least_perimeter
        chosen.perspectiveRemovePixelPerCell = 6
        # Two wrong bits of 36; with a third, strangers become likely.
        chosen.errorCorrectionRate = 0.4
        return cv2.aruco.ArucoDetector(_DICTIONARY, chosen)


_LARGE = _Effort((7, 27, 20), 0.08)
_QUICK = _Effort((7, 27, 20), 0.05)
_THOROUGH = _Effort((9, 51, 14), 0.03, darker_by=3.0)
_NEAR = _Effort((7, 47, 10), 0.2, darker_by=5.0)
