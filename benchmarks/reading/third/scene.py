"""The picture before the lens: the sheet on what it lies on."""

from collections.abc import Callable

import cv2
import numpy as np

from third.camera import View
from third.paper import PX_PER_MM

OVERSAMPLED = 1.25  # px of the reduced sheet to one of the picture
SHADE_CELLS = (106, 150)  # across and down
SHADE_LIMITS = (0.35, 1.25)
LIDS = (250, 235, 60)  # a scanner's, grey levels
TABLES = ((150, 110, 75), (205, 190, 170), (90, 85, 80), (230, 225, 220), (70, 90, 120),
          (120, 60, 50))  # fmt: skip
CHEQUERED = 0.2
CHECK_MM = (8, 25)


def draw_lid(view: View, rng: np.random.Generator) -> np.ndarray:
    """Draw the even grey of a scanner's lid."""
    return np.full((view.height_px, view.width_px, 3), rng.choice(LIDS), np.float32)


def draw_table(view: View, rng: np.random.Generator) -> np.ndarray:
    """Draw wood or cloth, sometimes chequered."""
    wide, high = view.width_px, view.height_px
    colour = np.array(TABLES[rng.integers(len(TABLES))], np.float32)
    noise = rng.normal(0, 1, (max(high // 16, 4), max(wide // 3, 4))).astype(np.float32)
    grain = cv2.resize(
        cv2.GaussianBlur(noise, (0, 0), 2), (wide, high), interpolation=cv2.INTER_CUBIC
    )
    if rng.random() < 0.5:
        grain = cv2.resize(np.ascontiguousarray(grain.T), (wide, high))
    table = colour + grain[..., None] * rng.uniform(10, 40)
    if rng.random() < CHEQUERED:
        cell = int(view.px_per_mm * rng.uniform(*CHECK_MM))
        row, column = np.arange(high)[:, None] // cell, np.arange(wide)[None] // cell
        table *= np.where((row + column) % 2, 1, 0.75).astype(np.float32)[..., None]
    return table


def place_sheet(
    paper: np.ndarray,
    view: View,
    draw_background: Callable[[View, np.random.Generator], np.ndarray],
    rng: np.random.Generator,
) -> np.ndarray:
    """Show a sheet in the picture, shaded by how it bends; float RGB."""
    x, y = view.looked_at()
    sheet, px_per_mm = _reduced(paper, view)
    shade = _shade(view, rng, size=(sheet.shape[1], sheet.shape[0]))
    sheet = np.minimum(cv2.multiply(sheet, cv2.merge([shade] * 3), dtype=cv2.CV_32F), 255)
    shown = cv2.remap(
        sheet,
        x * px_per_mm - 0.5,
        y * px_per_mm - 0.5,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    width, height = view.surface.width, view.surface.height
    inside = ((x > 0) & (x < width) & (y > 0) & (y < height)).astype(np.float32)
    inside = cv2.GaussianBlur(inside, (0, 0), 0.7)
    return cv2.blendLinear(shown, draw_background(view, rng), inside, 1 - inside)


def _reduced(paper: np.ndarray, view: View) -> tuple[np.ndarray, float]:
    """Bring a sheet near the picture's resolution, and give its own."""
    share = float(min(view.px_per_mm * OVERSAMPLED / PX_PER_MM, 1.0))
    small = cv2.resize(
        paper.astype(np.uint8), None, fx=share, fy=share, interpolation=cv2.INTER_AREA
    )
    return small, PX_PER_MM * share


def _shade(view: View, rng: np.random.Generator, *, size: tuple[int, int]) -> np.ndarray:
    surface = view.surface
    at = np.meshgrid(
        np.linspace(0, surface.height, SHADE_CELLS[1]),
        np.linspace(0, surface.width, SHADE_CELLS[0]),
        indexing="ij",
    )
    shade = surface.interpolate(surface.shade(rng))(np.stack(at, axis=-1))
    return np.clip(cv2.resize(shade.astype(np.float32), size), *SHADE_LIMITS)
