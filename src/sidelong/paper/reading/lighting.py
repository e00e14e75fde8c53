"""How the paper is lit, and how well the photograph was taken."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels
from sidelong.paper.reading.flattening import level_for
from sidelong.paper.reading.mapping import PageMapping
from sidelong.paper.reading.sheets import FoundSheet, box_corners

Points = NDArray[np.float64]

PAPER_WHITE = 240.0
FLAT_PX_PER_MM, LIGHT_PX_PER_MM = 2.0, 1.0
_WIDER_THAN_INK_MM = 21  # markers and codes are 16 mm wide at most
_DARKEST = 12.0
_REACH_MM, _STEP_MM = 1.6, 0.1


@dataclass(frozen=True)
class Quality:
    """How well a page can be seen.

    Parameters
    ----------
    px_per_mm : float
        Scale of the photograph at the middle of the page.
    blur_mm : float
        Standard deviation of the blur at the edges of the markers, mm on the page.
    noise : float
        Standard deviation on bare paper, grey levels after flattening to ``PAPER_WHITE``.
    contrast : float
        Ink of the markers against paper: 1 for black on white, 0 for nothing to be seen.
    """

    px_per_mm: float
    blur_mm: float
    noise: float
    contrast: float


def light_map(flat: Pixels) -> Points:
    """Find how bright bare paper is, everywhere on a page and in each colour.

    What is narrower than a marker and darker than its surroundings is ink; what is left is light.

    Parameters
    ----------
    flat : ndarray of uint8, shape (rows, columns, 3)
        The page laid flat, ``FLAT_PX_PER_MM`` pixels a millimetre.

    Returns
    -------
    ndarray of float, shape (rows // 2, columns // 2, 3)
        ``LIGHT_PX_PER_MM`` pixels a millimetre, grey levels.
    """
    rows, columns = flat.shape[0] // 2, flat.shape[1] // 2
    small = cv2.resize(cv2.GaussianBlur(flat, (0, 0), 1.2), (columns, rows))
    wide = np.ones((_WIDER_THAN_INK_MM, _WIDER_THAN_INK_MM), np.uint8)
    closed = cv2.morphologyEx(small, cv2.MORPH_CLOSE, wide)
    smooth = cv2.GaussianBlur(closed, (0, 0), _WIDER_THAN_INK_MM / 4)
    return np.asarray(np.maximum(smooth, _DARKEST), float)


def edge_profile(
    photograph: Photograph, mapping: PageMapping, sheet: FoundSheet
) -> tuple[Points, float]:
    """Average the step from paper to ink over all sides of the markers that were seen.

    Parameters
    ----------
    photograph : Photograph
        The photograph.
    mapping : PageMapping
        Where the page lies in it.
    sheet : FoundSheet
        Whose markers are looked at.

    Returns
    -------
    profile : ndarray of float, shape (n,)
        Grey levels from outside to inside, at steps of ``step``.
    step : float
        Distance of two values, mm.

    Notes
    -----
    Without a marker the profile is flat, as of a photograph in which nothing can be seen.
    """
    if not sheet.tags:
        return np.zeros(round(2 * _REACH_MM / _STEP_MM) + 1), _STEP_MM
    boxes = {marker.id: marker.box for marker in sheet.page.markers}
    along = np.linspace(0.2, 0.8, 9)[:, None, None]
    inwards = np.arange(-_REACH_MM, _REACH_MM + 1e-9, _STEP_MM)[None, :, None]
    places = []
    for tag in sheet.tags:
        corners = box_corners(boxes[tag.id])
        middle = corners.mean(axis=0)
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            normal = middle - (start + end) / 2
            normal /= np.hypot(*normal)
            places.append(start + along * (end - start) + inwards * normal)
    points = np.concatenate(places)  # shape (n_lines, n_steps, 2)
    lines, steps, _ = points.shape
    level = level_for(mapping.px_per_mm(points.mean(axis=(0, 1))), wanted=6.0)
    grey = np.ascontiguousarray(photograph.level(level)[:, :, 1])
    at = (mapping.to_photograph(points.reshape(-1, 2)) + 0.5) / level - 0.5
    maps = at.reshape(lines, steps, 2).astype(np.float32)
    x, y = np.ascontiguousarray(np.moveaxis(maps, 2, 0))
    values = cv2.remap(grey, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(values, float).mean(axis=0), _STEP_MM


def judge_quality(profile: Points, step_mm: float, *, px_per_mm: float, noise: float) -> Quality:
    """Turn the step from paper to ink into figures.

    Parameters
    ----------
    profile : ndarray of float, shape (n,)
        As :func:`edge_profile` gives it.
    step_mm : float
        Distance of two values, mm.
    px_per_mm : float
        Scale of the photograph.
    noise : float
        Standard deviation on bare paper, grey levels.

    Returns
    -------
    Quality
        The blur is that of the normal distribution with the same steepest slope.
    """
    paper, ink = float(profile[:5].mean()), float(profile[-5:].mean())
    steepest = float(np.max(-np.diff(profile))) / step_mm
    fall = max(paper - ink, 0.0)
    blur = fall / (steepest * np.sqrt(2 * np.pi)) if steepest > 0 else _REACH_MM
    contrast = fall / max(paper, 1.0)
    return Quality(px_per_mm, float(min(blur, _REACH_MM)), noise, float(min(contrast, 1.0)))
