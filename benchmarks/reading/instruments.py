"""What people write with, and how its stroke lies on paper.

A stroke is a polyline in millimetres. It is drawn into a mask, broken up by the tooth of the paper
and laid over the page: ink lets the print below shine through, wax and stickers hide it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

_SHIFT = 4  # fractional bits of OpenCV's drawing
_TOOTH_SIZE = 1024


@dataclass(frozen=True)
class Instrument:
    """A kind of pen: ranges that one pen of this kind is drawn from.

    ``width`` in mm, ``strength`` the share of light that a stroke takes at most (0..1), ``gaps``
    the share of paper that stays bare inside a stroke, ``grain`` the size of those gaps in mm,
    ``hides`` how far it covers the print below.
    """

    name: str
    width: tuple[float, float]
    strength: tuple[float, float]
    colours: tuple[tuple[int, int, int], ...]
    gaps: tuple[float, float] = (0.0, 0.05)
    grain: float = 0.1
    hides: float = 0.0


_GREYS = ((60, 60, 65), (80, 80, 85), (45, 45, 50))
_INKS = ((25, 40, 140), (20, 20, 25), (180, 25, 30), (20, 60, 170), (15, 110, 60), (90, 30, 120))
_BRIGHTS = (
    (200, 30, 40),
    (30, 80, 190),
    (20, 130, 60),
    (230, 110, 20),
    (110, 40, 140),
    (20, 20, 20),
    (220, 60, 130),
    (110, 60, 30),
    (40, 160, 190),
)

INSTRUMENTS = {
    each.name: each
    for each in (
        Instrument("pencil", (0.4, 0.9), (0.45, 0.8), _GREYS, (0.1, 0.35), 0.09),
        Instrument("faint_pencil", (0.35, 0.8), (0.2, 0.38), _GREYS, (0.15, 0.4), 0.09),
        Instrument("ball_pen", (0.3, 0.65), (0.75, 0.97), _INKS, (0.0, 0.08), 0.08),
        Instrument("gel_pen", (0.4, 0.8), (0.85, 1.0), _INKS),
        Instrument("felt_pen", (0.9, 2.6), (0.65, 0.95), _BRIGHTS, (0.0, 0.04), 0.2),
        Instrument("marker", (2.0, 4.5), (0.8, 1.0), _BRIGHTS),
        Instrument("coloured_pencil", (0.7, 1.6), (0.4, 0.85), _BRIGHTS, (0.2, 0.5), 0.12),
        Instrument("crayon", (1.6, 3.8), (0.55, 0.95), _BRIGHTS, (0.15, 0.45), 0.25, 0.6),
        Instrument(
            "highlighter",
            (2.5, 4.5),
            (0.6, 0.9),
            ((250, 230, 60), (120, 240, 130), (255, 150, 200)),
        ),
    )
}


@dataclass(frozen=True)
class Pen:
    """One pen in one hand: values drawn from an :class:`Instrument`."""

    instrument: str
    width_mm: float
    strength: float
    colour: tuple[int, int, int]
    gaps: float
    grain_mm: float
    hides: float


def draw_pen(rng: np.random.Generator, name: str) -> Pen:
    """Take a pen of one kind."""
    kind = INSTRUMENTS[name]
    colour = np.array(kind.colours[rng.integers(len(kind.colours))]) + rng.normal(0, 10, 3)
    red, green, blue = np.clip(colour, 0, 255).astype(int).tolist()
    return Pen(
        name,
        rng.uniform(*kind.width),
        rng.uniform(*kind.strength),
        (red, green, blue),
        rng.uniform(*kind.gaps),
        kind.grain * rng.uniform(0.7, 1.5),
        kind.hides,
    )


@cache
def _tooth() -> np.ndarray:
    """Heights of the paper's surface, ranks in [0, 1], correlated over two pixels of the tile."""
    heights = np.random.default_rng(20240607).normal(size=(_TOOTH_SIZE, _TOOTH_SIZE))
    smooth = cv2.GaussianBlur(heights.astype(np.float32), (0, 0), 1.0)
    ranks = smooth.ravel().argsort().argsort().reshape(smooth.shape)
    return (ranks / ranks.max()).astype(np.float32)


def paper_tooth(shape: tuple[int, int], grain_px: float, rng: np.random.Generator) -> np.ndarray:
    """Cut a piece of the paper's surface: ranks in [0, 1], about ``grain_px`` coarse."""
    zoom = max(grain_px, 0.5) / 2.0
    rows, columns = (min(int(np.ceil(side / zoom)) + 2, _TOOTH_SIZE) for side in shape)
    y, x = (rng.integers(_TOOTH_SIZE - side + 1) for side in (rows, columns))
    piece = _tooth()[y : y + rows, x : x + columns]
    return cv2.resize(piece, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)


@dataclass(frozen=True)
class Canvas:
    """A page that is drawn on: RGB uint8, ``px_per_mm`` pixels to the millimetre."""

    pixels: np.ndarray
    px_per_mm: float

    def window(self, low: np.ndarray, high: np.ndarray) -> tuple[slice, slice]:
        """Rows and columns of the pixels between two corners (x, y) in mm."""
        height, width = self.pixels.shape[:2]
        x0, y0 = np.floor(np.asarray(low) * self.px_per_mm).astype(int)
        x1, y1 = np.ceil(np.asarray(high) * self.px_per_mm).astype(int)
        return slice(max(y0, 0), min(max(y1, 0), height)), slice(max(x0, 0), min(max(x1, 0), width))

    def around(self, x: float, y: float, radius: float) -> tuple[slice, slice]:
        """Rows and columns of a square around a point, mm."""
        return self.window(np.array([x - radius, y - radius]), np.array([x + radius, y + radius]))


def lay_strokes(
    canvas: Canvas, strokes: Sequence[np.ndarray], pen: Pen, rng: np.random.Generator
) -> None:
    """Draw polylines (n, 2) in mm with one pen, in place."""
    points = np.concatenate(strokes)
    margin = pen.width_mm + 0.5
    rows, columns = canvas.window(points.min(0) - margin, points.max(0) + margin)
    height, width = rows.stop - rows.start, columns.stop - columns.start
    if height <= 0 or width <= 0:
        return
    mask = np.zeros((height, width), np.uint8)
    origin = np.array([columns.start, rows.start])
    for stroke in strokes:
        pressure = int(255 * rng.uniform(0.8, 1.0))
        thickness = max(1, round(pen.width_mm * rng.uniform(0.9, 1.1) * canvas.px_per_mm))
        fixed = ((stroke * canvas.px_per_mm - origin) * 2**_SHIFT).round().astype(np.int32)
        cv2.polylines(
            mask, [fixed.reshape(-1, 1, 2)], False, pressure, thickness, cv2.LINE_AA, _SHIFT
        )
    lay_mask(canvas, (rows, columns), mask.astype(np.float32) / 255, pen=pen, rng=rng)


def lay_mask(
    canvas: Canvas,
    window: tuple[slice, slice],
    mask: np.ndarray,
    *,
    pen: Pen,
    rng: np.random.Generator,
) -> None:
    """Lay a pen's colour over a window where ``mask`` (0..1) says so, in place."""
    cover = mask * pen.strength
    if pen.gaps > 0.01:
        tooth = paper_tooth(mask.shape, pen.grain_mm * canvas.px_per_mm, rng)
        cover *= np.clip((tooth - pen.gaps) * 4 + 0.5, 0.06, 1.0)
    below = canvas.pixels[window].astype(np.float32)
    colour = np.array(pen.colour, np.float32)
    through = below * (1 - cover[..., None] * (1 - colour / 255))
    over = below + (colour - below) * cover[..., None]
    mixed = through * (1 - pen.hides) + over * pen.hides
    canvas.pixels[window] = np.clip(mixed + 0.5, 0, 255).astype(np.uint8)
