"""Finding the printed tags of a photograph: first in a small copy, then where one is missing.

The tags are AprilTags of the family 36h11, found by OpenCV's detector. The corners of those found
in the small copy are placed again in a finer one.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels

Points = NDArray[np.float64]

_DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
_FIRST_SIDE_PX = 800  # the longer side of the copy that is searched first, at least
_SMALLEST_TAG_PX = 14


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


def find_tags(photograph: Photograph) -> tuple[FoundTag, ...]:
    """Find tags anywhere in a photograph, in a small copy of it.

    Parameters
    ----------
    photograph : Photograph
        Where to look.

    Returns
    -------
    tuple of FoundTag
        In no order that means anything; the same number may stand there twice.
    """
    reduced_by = search_level(photograph)
    return detect(photograph, reduced_by=reduced_by)


def find_small_tags(photograph: Photograph) -> tuple[FoundTag, ...]:
    """Find tags in copies twice as fine, as they are and sharpened: slower, for poor photographs.

    Parameters
    ----------
    photograph : Photograph
        Where to look.

    Returns
    -------
    tuple of FoundTag
        Every tag once.
    """
    finer = max(1, search_level(photograph) // 2)
    found = detect(photograph, reduced_by=finer)
    grey = to_grey(photograph.level(finer))
    return merge([*found, *_detect_in(sharpen(grey), reduced_by=finer)])


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
        for stronger in (_widened(crop), sharpen(_widened(crop))):
            tags = _detect_in(stronger, reduced_by=1, careful=True)
            found += [
                FoundTag(tag.id, (tag.corners + (x0, y0) + 0.5) * reduced_by - 0.5) for tag in tags
            ]
            if tags:
                break
    return merge(found)


def detect(photograph: Photograph, *, reduced_by: int) -> tuple[FoundTag, ...]:
    """Run the detector on one reduced copy."""
    return _detect_in(to_grey(photograph.level(reduced_by)), reduced_by=reduced_by)


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


def sharpen(grey: Pixels) -> Pixels:
    """Undo some blur, and stretch what is dim."""
    soft = cv2.GaussianBlur(grey, (0, 0), 3.0)
    sharp = cv2.addWeighted(grey, 2.5, soft, -1.5, 0)
    return np.asarray(cv2.createCLAHE(2.0, (8, 8)).apply(sharp), np.uint8)


def _widened(crop: Pixels) -> Pixels:
    """Stretch grey levels to the whole range; a tag in a shadow uses a fifth of it."""
    low, high = np.percentile(crop, (2, 98))
    span = max(float(high - low), 1.0)
    return np.asarray(np.clip((crop - low) * (255.0 / span), 0, 255), np.uint8)


def _detect_in(grey: Pixels, *, reduced_by: int, careful: bool = False) -> tuple[FoundTag, ...]:
    corners, ids, _ = _detector(careful=careful).detectMarkers(grey)
    if ids is None:
        return ()
    return tuple(
        FoundTag(int(number), (quad.reshape(4, 2).astype(float) + 0.5) * reduced_by - 0.5)
        for number, quad in zip(ids.ravel(), corners, strict=True)
    )


def _detector(*, careful: bool) -> cv2.aruco.ArucoDetector:
    """Set up OpenCV's detector; it keeps no state, and costs nothing to make."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.adaptiveThreshWinSizeMin = 7
    settings.adaptiveThreshWinSizeMax = 47 if careful else 27
    settings.adaptiveThreshWinSizeStep = 10 if careful else 20
    settings.minMarkerPerimeterRate = 0.01
    settings.perspectiveRemovePixelPerCell = 6
    settings.errorCorrectionRate = 0.4  # two wrong bits of 36; a third makes strangers likely
    return cv2.aruco.ArucoDetector(_DICTIONARY, settings)
