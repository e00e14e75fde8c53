"""Small upright pictures of single targets, evenly lit: what a classifier of marks looks at."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels
from sidelong.paper.reading.flattening import lay_flat, level_for
from sidelong.paper.reading.lighting import (
    FLAT_PX_PER_MM,
    LIGHT_PX_PER_MM,
    PAPER_WHITE,
    Quality,
    edge_profile,
    judge_quality,
    light_map,
)
from sidelong.paper.reading.mapping import PageMapping
from sidelong.paper.reading.sheets import FoundSheet
from sidelong.training.layout import Box, Field, SheetPage, Target

Points = NDArray[np.float64]

PATCH_MM = 14.0
PATCH_PX_PER_MM = 6.0
PATCH_PX = round(PATCH_MM * PATCH_PX_PER_MM)
_BRIGHTEST_GAIN = 8.0


@dataclass(frozen=True)
class PageView:
    """One page of a photograph, found and measured.

    Parameters
    ----------
    photograph : Photograph
        The photograph.
    page : SheetPage
        Which page it is.
    mapping : PageMapping
        Where it lies.
    flat : ndarray of uint8, shape (2 * rows, 2 * columns, 3)
        The page laid flat, coarsely: ``FLAT_PX_PER_MM`` pixels a millimetre.
    light : ndarray of float, shape (rows, columns, 3)
        Brightness of bare paper, ``LIGHT_PX_PER_MM`` pixels a millimetre.
    quality : Quality
        How well it can be seen.
    """

    photograph: Photograph
    page: SheetPage
    mapping: PageMapping
    flat: Pixels
    light: Points
    quality: Quality


@dataclass(frozen=True)
class FieldContext:
    """What a judge of one field is told beside its patches.

    Parameters
    ----------
    field : Field
        The question; its targets are in the order of the patches.
    quality : Quality
        How well the page can be seen.
    visible : ndarray of float, shape (n_targets,)
        Share of each patch that lies inside the photograph, 0 to 1.
    printed : ndarray of uint8, shape (n_targets, 42, 42), or None
        Darkest channel of the same surroundings as they were printed; None where unknown.
    """

    field: Field
    quality: Quality
    visible: Points
    printed: Pixels | None = None


def view_page(photograph: Photograph, sheet: FoundSheet, mapping: PageMapping) -> PageView:
    """Measure light, blur and noise of a page that was found.

    Parameters
    ----------
    photograph : Photograph
        The photograph.
    sheet : FoundSheet
        The sheet in it.
    mapping : PageMapping
        Where it lies, refined.

    Returns
    -------
    PageView
        Ready for cutting.
    """
    page = sheet.page
    middle = np.array([page.width_mm / 2, page.height_mm / 2])
    profile, step = edge_profile(photograph, mapping, sheet)
    quality = judge_quality(profile, step, px_per_mm=mapping.px_per_mm(middle), noise=0.0)
    whole = Box(0.0, 0.0, page.width_mm, page.height_mm)
    flat = lay_flat(photograph, mapping, area=whole, px_per_mm=FLAT_PX_PER_MM)
    view = PageView(photograph, page, mapping, flat, light_map(flat), quality)
    targets = [target for field in page.fields for target in field.targets]
    patches, _ = cut_patches(view, targets[:: max(1, len(targets) // 16)])
    return replace(view, quality=replace(quality, noise=_noise(patches)))


def cut_patches(view: PageView, targets: Sequence[Target]) -> tuple[Pixels, Points]:
    """Cut the surroundings of targets out of a photograph.

    Parameters
    ----------
    view : PageView
        The page.
    targets : sequence of Target
        Which places.

    Returns
    -------
    patches : ndarray of uint8, shape (n_targets, 84, 84, 3)
        ``PATCH_MM`` around each centre, upright, RGB, with bare paper at ``PAPER_WHITE``.
    visible : ndarray of float, shape (n_targets,)
        Share of each patch that lies inside the photograph.
    """
    patches = np.empty((len(targets), PATCH_PX, PATCH_PX, 3), np.uint8)
    middles = np.array([(target.cx, target.cy) for target in targets]).reshape(-1, 2)
    half = PATCH_MM / 2
    around = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    at = view.mapping.to_photograph((middles[:, None] + around).reshape(-1, 2))
    gains = np.minimum(PAPER_WHITE / view.light, _BRIGHTEST_GAIN).astype(np.float32)
    for place, (middle, corners) in enumerate(zip(middles, at.reshape(-1, 4, 2), strict=True)):
        seen = _cut(view, middle, corners)
        lit = cv2.multiply(seen, _gain_around(gains, middle), dtype=cv2.CV_32F)
        patches[place] = np.minimum(lit, np.float32(255.0))
    return patches, _shares_inside(view, middles)


def cut_crop(view: PageView, area: Box, *, px_per_mm: float = PATCH_PX_PER_MM) -> Pixels:
    """Cut an area out for a person to look at, as it was lit.

    Parameters
    ----------
    view : PageView
        The page.
    area : Box
        What is to be seen, mm; what lies off the page is left out.
    px_per_mm : float
        How fine.

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        RGB.
    """
    left, top = max(area.x, 0.0), max(area.y, 0.0)
    right = min(area.x + area.w, view.page.width_mm)
    bottom = min(area.y + area.h, view.page.height_mm)
    inside = Box(left, top, right - left, bottom - top)
    return lay_flat(view.photograph, view.mapping, area=inside, px_per_mm=px_per_mm)


def field_area(field: Field, *, margin_mm: float = 7.0) -> Box:
    """Give the rectangle around all targets of a field, with a margin."""
    boxes = [target.box for target in field.targets]
    left, top = min(box.x for box in boxes), min(box.y for box in boxes)
    right = max(box.x + box.w for box in boxes)
    bottom = max(box.y + box.h for box in boxes)
    wider = 2 * margin_mm
    return Box(left - margin_mm, top - margin_mm, right - left + wider, bottom - top + wider)


def _cut(view: PageView, middle: Points, corners: Points) -> Pixels:
    """Cut one patch; its middle is given on the page, its corners in the photograph."""
    level = level_for(view.mapping.px_per_mm(middle), wanted=PATCH_PX_PER_MM)
    seen = (corners + 0.5) / level - 0.5
    edge = PATCH_PX - 0.5
    made = np.array([[-0.5, -0.5], [edge, -0.5], [edge, edge], [-0.5, edge]], np.float32)
    homography = cv2.getPerspectiveTransform(made, seen.astype(np.float32))
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    size = (PATCH_PX, PATCH_PX)
    patch = cv2.warpPerspective(
        view.photograph.level(level), homography, size, flags=how, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(patch, np.uint8)


def _gain_around(gains: NDArray[np.float32], middle: Points) -> NDArray[np.float32]:
    """Cut what one patch is made brighter by, and spread it over its pixels."""
    x, y = (float(at) * LIGHT_PX_PER_MM for at in middle)
    side = round(PATCH_MM * LIGHT_PX_PER_MM)
    rows, columns, _ = gains.shape
    top = min(max(round(y - side / 2), 0), rows - side)
    left = min(max(round(x - side / 2), 0), columns - side)
    part = gains[top : top + side, left : left + side]
    wide = cv2.resize(part, (PATCH_PX, PATCH_PX), interpolation=cv2.INTER_LINEAR)
    return np.asarray(wide, np.float32)


def _shares_inside(view: PageView, middles: Points) -> Points:
    """Tell how much of each patch lies in the photograph, by 5 x 5 places in it."""
    step = np.linspace(-PATCH_MM / 2, PATCH_MM / 2, 5)
    x, y = np.meshgrid(step, step)
    around = np.stack([x.ravel(), y.ravel()], axis=1)
    at = view.mapping.to_photograph((middles[:, None] + around).reshape(-1, 2))
    inside = (at >= 0).all(axis=1) & (at < np.array(view.photograph.size)).all(axis=1)
    return np.asarray(inside.reshape(len(middles), len(around)).mean(axis=1))


def _noise(patches: Pixels) -> float:
    """Estimate noise by what differs between neighbours where most pixels are bare paper."""
    # Its answer to unit noise has a standard deviation of 6 (Immerkaer 1996,
    # doi:10.1006/cviu.1996.0060, from memory); the median keeps edges out of it.
    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    rough = [cv2.filter2D(patch[:, :, 1].astype(np.float32), -1, kernel) for patch in patches]
    return float(np.median(np.abs(rough)) / 0.6745 / 6.0)
