"""Hand-made marks: a tool, a path of the hand, and how the ink lies on paper.

Lengths are millimetres on the page; paths are points relative to the centre of a printed outline.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

Points = np.ndarray  # float, shape (n, 2), mm


@dataclass(frozen=True)
class Tool:
    """Something to write with.

    ``darkness`` is how much of the light the ink takes where it lies, ``grain`` the share of paper
    that shows through.
    """

    name: str
    colours: tuple[tuple[int, int, int], ...]
    width_mm: tuple[float, float]
    darkness: tuple[float, float]
    grain: float


TOOLS = (
    Tool("ball pen", ((25, 45, 140), (30, 30, 35), (160, 25, 40)), (0.35, 0.6), (0.75, 0.95), 0.08),
    Tool("gel pen", ((15, 15, 20), (20, 60, 170), (90, 20, 110)), (0.5, 0.9), (0.88, 1.0), 0.0),
    Tool("pencil", ((70, 70, 74), (90, 90, 92)), (0.5, 0.9), (0.45, 0.85), 0.35),
    Tool("faint pencil", ((105, 105, 108),), (0.4, 0.7), (0.25, 0.45), 0.4),
    Tool("felt pen", ((200, 30, 40), (20, 110, 50), (240, 120, 20), (30, 30, 30), (30, 90, 200)),
         (1.0, 2.2), (0.8, 0.95), 0.02),
    Tool("crayon", ((200, 50, 40), (40, 90, 170), (60, 140, 60), (230, 130, 30), (120, 60, 140),
                    (120, 80, 50)), (2.5, 5.0), (0.6, 0.9), 0.45),
    Tool("coloured pencil", ((190, 60, 60), (60, 110, 190), (70, 150, 80), (150, 90, 170)),
         (0.8, 1.4), (0.45, 0.8), 0.4),
)  # fmt: skip
TOOL_SHARES = (0.3, 0.1, 0.2, 0.05, 0.12, 0.13, 0.1)


@dataclass(frozen=True)
class Hand:
    """One tool in one hand, for a whole sheet: how big, how shaky, how far off the mark."""

    tool: Tool
    colour: tuple[int, int, int]
    width_mm: float
    darkness: float
    shake_mm: float
    aim_mm: float
    size: float


def pick_hand(rng: np.random.Generator) -> Hand:
    """Draw who holds what: a small child, an older one or an adult."""
    tool = TOOLS[rng.choice(len(TOOLS), p=TOOL_SHARES)]
    small = rng.random() < 0.35
    return Hand(
        tool=tool,
        colour=tool.colours[rng.integers(len(tool.colours))],
        width_mm=float(rng.uniform(*tool.width_mm)),
        darkness=float(rng.uniform(*tool.darkness)),
        shake_mm=float(rng.uniform(0.25, 0.6) if small else rng.uniform(0.05, 0.25)),
        aim_mm=float(rng.uniform(0.5, 1.0) if small else rng.uniform(0.15, 0.6)),
        size=float(rng.uniform(0.9, 1.25) if small else rng.uniform(0.75, 1.1)),
    )


def lay_ink(
    sheet: np.ndarray,
    paths: list[Points],
    hand: Hand,
    *,
    at: tuple[float, float],
    px_per_mm: float,
    rng: np.random.Generator,
    strength: float = 1.0,
) -> None:
    """Draw paths on a sheet (float RGB, 0..255), in place."""
    points = [_shaken(path, hand.shake_mm, rng) + np.array(at) for path in paths]
    reach = hand.width_mm + 1.0
    low = np.floor((np.min([p.min(axis=0) for p in points], axis=0) - reach) * px_per_mm)
    high = np.ceil((np.max([p.max(axis=0) for p in points], axis=0) + reach) * px_per_mm)
    left, top = np.maximum(low.astype(int), 0)
    right, bottom = np.minimum(high.astype(int), [sheet.shape[1], sheet.shape[0]])
    if right - left < 2 or bottom - top < 2:
        return
    cover = np.zeros((bottom - top, right - left), np.float32)
    for path in points:
        pixels = np.round((path * px_per_mm - (left, top)) * 16).astype(np.int32)
        wide = max(1, round(hand.width_mm * px_per_mm * rng.uniform(0.85, 1.15)))
        layer = np.zeros(cover.shape, np.uint8)
        cv2.polylines(layer, [pixels.reshape(-1, 1, 2)], False, 255, wide, cv2.LINE_AA, shift=4)
        cover = np.maximum(cover, layer.astype(np.float32) / 255)
    if hand.tool.grain:
        tooth = cv2.GaussianBlur(
            rng.random(cover.shape, dtype=np.float32), (0, 0), px_per_mm * 0.09
        )
        tooth = (tooth - tooth.mean()) / (tooth.std() + 1e-6)
        cover *= np.clip(0.5 + (1.3 - 2.2 * hand.tool.grain + tooth) * 0.5, 0, 1)
    alpha = (cv2.GaussianBlur(cover, (0, 0), 0.6) * hand.darkness * strength)[..., None]
    under = sheet[top:bottom, left:right]
    ink = np.array(hand.colour, np.float32) / 255
    sheet[top:bottom, left:right] = under * (1 - alpha + alpha * ink)


def lay_sticker(
    sheet: np.ndarray, *, at: tuple[float, float], px_per_mm: float, rng: np.random.Generator
) -> None:
    """Stick a round or a star-like paper dot over an outline."""
    radius = rng.uniform(3.5, 5.5)
    n = 72 if rng.random() < 0.5 else 10
    angles = np.linspace(0, 2 * np.pi, n, endpoint=False) + rng.uniform(0, 6)
    radii = radius * (1.0 if n == 72 else np.where(np.arange(n) % 2, 0.5, 1.0))
    corners = np.c_[np.cos(angles) * radii, np.sin(angles) * radii] + np.array(at)
    colour = tuple(int(c) for c in rng.choice([(225, 60, 60), (250, 200, 40), (70, 160, 90),
                                               (80, 120, 210), (190, 90, 180)]))  # fmt: skip
    cv2.fillPoly(sheet, [np.round(corners * px_per_mm).astype(np.int32)], colour, cv2.LINE_AA)


def _shaken(path: Points, shake_mm: float, rng: np.random.Generator) -> Points:
    """Walk along a path in small steps, with a slow tremble."""
    steps = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
    n = max(4, int(steps[-1] / 0.35))
    along = np.linspace(0, steps[-1], n)
    fine = np.c_[np.interp(along, steps, path[:, 0]), np.interp(along, steps, path[:, 1])]
    tremble = cv2.GaussianBlur(
        rng.standard_normal((n, 2)).astype(np.float32), (1, 0), 0.01, None, 3
    )
    return fine + tremble / (tremble.std() + 1e-6) * shake_mm


def scribble(r: float, gap: float, rng: np.random.Generator, *, part: float = 1.0) -> list[Points]:
    """Fill a disc to and fro; ``part`` of it from one side."""
    rows = np.arange(-r, r * (2 * part - 1), gap)
    half = np.sqrt(np.maximum(r**2 - rows**2, 0.05)) * rng.uniform(0.85, 1.05, len(rows))
    side = np.where(np.arange(len(rows)) % 2, 1, -1)
    return [turn(np.c_[half * side, rows], rng.uniform(0, 2 * np.pi))]


def tick(r: float, rng: np.random.Generator) -> list[Points]:
    reach = rng.uniform(0.9, 1.7)
    path = np.array([[-0.6, -0.1], [-0.15, 0.55], [0.75 * reach, -0.8 * reach]]) * r
    return [path + rng.normal(0, 0.12 * r, path.shape)]


def cross(r: float, rng: np.random.Generator) -> list[Points]:
    a, b = rng.uniform(0.7, 1.15, 2) * r
    return [
        np.array([[-a, -a], [a, a]]) + rng.normal(0, 0.1 * r, (2, 2)),
        np.array([[b, -b], [-b, b]]) + rng.normal(0, 0.1 * r, (2, 2)),
    ]


def ring(r: float, rng: np.random.Generator) -> list[Points]:
    angles = np.linspace(0, rng.uniform(1.9, 2.3) * np.pi, 40) + rng.uniform(0, 6)
    wide, high = rng.uniform(1.1, 1.5, 2) * r
    return [np.c_[np.cos(angles) * wide, np.sin(angles) * high]]


def dot(r: float, rng: np.random.Generator) -> list[Points]:
    return scribble(r * rng.uniform(0.3, 0.5), 0.4, rng)


def slash(r: float, rng: np.random.Generator) -> list[Points]:
    return [turn(np.array([[-r, 0.0], [r, 0.0]]), rng.uniform(0.4, 1.2))]


def spiral(r: float, rng: np.random.Generator) -> list[Points]:
    angles = np.linspace(0, rng.uniform(4, 7) * np.pi, 90)
    radii = np.linspace(0.1, 1.0, 90) * r
    return [np.c_[np.cos(angles) * radii, np.sin(angles) * radii]]


def turn(path: Points, angle: float) -> Points:
    c, s = np.cos(angle), np.sin(angle)
    return path @ np.array([[c, s], [-s, c]])


Shape = Callable[[float, np.random.Generator], list[Points]]
SIMPLE: tuple[tuple[Shape, float], ...] = (
    (tick, 0.3), (cross, 0.28), (ring, 0.12), (slash, 0.08), (spiral, 0.12), (dot, 0.1),
)  # fmt: skip
