"""Laying a part of a photographed page flat, upright and in millimetres."""

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels
from sidelong.paper.reading.mapping import PageMapping
from sidelong.training.layout import Box

_KNOT_MM = 5.0
_FINE_ENOUGH = 0.7  # decoding a photograph whole costs more than a little sharpness


def lay_flat(
    photograph: Photograph,
    mapping: PageMapping,
    *,
    area: Box,
    px_per_mm: float,
    channel: int | None = None,
) -> Pixels:
    """Lay one area of a page flat.

    Parameters
    ----------
    photograph : Photograph
        The photograph.
    mapping : PageMapping
        Where the page lies in it.
    area : Box
        Part of the page, mm.
    px_per_mm : float
        How fine.
    channel : int or None
        0 red, 1 green, 2 blue; None for all three.

    Returns
    -------
    ndarray of uint8, shape (rows, columns) or (rows, columns, 3)
        White where the photograph does not reach.
    """
    level = level_for(mapping.px_per_mm(_middle(area)), wanted=px_per_mm)
    pixels = photograph.level(level)
    if channel is not None:
        pixels = np.ascontiguousarray(pixels[:, :, channel])
    size = (max(1, round(area.w * px_per_mm)), max(1, round(area.h * px_per_mm)))
    columns, rows = (int(np.ceil(side / _KNOT_MM)) + 1 for side in (area.w, area.h))
    x, y = np.meshgrid(np.arange(columns) * _KNOT_MM, np.arange(rows) * _KNOT_MM)
    knots = mapping.to_photograph(np.stack([x.ravel() + area.x, y.ravel() + area.y], axis=1))
    at = ((knots + 0.5) / level - 0.5).reshape(rows, columns, 2).astype(np.float32)
    # Pixel i lies (i + 0.5) / px_per_mm into the area: knot number (i + 0.5) / per_knot.
    per_knot = px_per_mm * _KNOT_MM
    zoom = np.array([[1 / per_knot, 0, 0.5 / per_knot], [0, 1 / per_knot, 0.5 / per_knot]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    maps = cv2.warpAffine(at, zoom, size, flags=how, borderMode=cv2.BORDER_REPLICATE)
    across, down = np.ascontiguousarray(np.moveaxis(np.asarray(maps, np.float32), 2, 0))
    white, how = (255, 255, 255), cv2.BORDER_CONSTANT
    flat = cv2.remap(pixels, across, down, cv2.INTER_LINEAR, borderMode=how, borderValue=white)
    return np.asarray(flat, np.uint8)


def level_for(px_per_mm: float, *, wanted: float) -> int:
    """Choose the most reduced copy of a photograph that is still fine enough.

    Parameters
    ----------
    px_per_mm : float
        Scale of the whole photograph.
    wanted : float
        Scale that is wanted.

    Returns
    -------
    int
        1, 2, 4 or 8.
    """
    level = 1
    while level < 8 and px_per_mm / (2 * level) >= wanted * _FINE_ENOUGH:
        level *= 2
    return level


def _middle(area: Box) -> NDArray[np.float64]:
    return np.array([area.x + area.w / 2, area.y + area.h / 2])
