"""The marks of a family, each drawn on a printed outline; paths are millimetres on the page."""

import math
from dataclasses import dataclass

import numpy as np

from sidelong.training.layout import Target
from third.paper import Paper, Points
from third.tools import Tool

# What a family marks with when it has no reason for anything else, and how often.
SHAPES = ("tick", "cross", "fill", "ring", "half", "dot", "slash")
SHAPE_SHARES = (0.29, 0.23, 0.27, 0.11, 0.04, 0.03, 0.03)
STICKERS = ((235, 200, 40), (220, 60, 70), (60, 140, 220), (70, 180, 90), (170, 90, 190))
OFF_MM = 0.5  # spread of a mark around its outline at a sloppiness of 1
CRAYON_REACH_MM = 0.9  # how far a crayon goes over the edge

Centre = tuple[float, float]


def draw_shape(rng: np.random.Generator) -> str:
    """Draw a shape of mark."""
    return str(rng.choice(SHAPES, p=SHAPE_SHARES))


def scribble(
    centre: Centre,
    radius: float,
    pitch: float,
    rng: np.random.Generator,
    *,
    angle: float | None = None,
) -> Points:
    """Go to and fro within a circle, at an angle drawn unless given."""
    angle = rng.uniform(0, np.pi) if angle is None else angle
    turns: list[tuple[float, float]] = []
    y, side = -radius, 1
    while y <= radius:
        half = math.sqrt(max(radius * radius - y * y, 0)) * rng.uniform(0.85, 1.08)
        turns += [(-side * half, y), (side * half, y + pitch * 0.5)]
        side, y = -side, y + pitch
    path = np.array(turns)
    c, s = math.cos(angle), math.sin(angle)
    return np.c_[
        centre[0] + path[:, 0] * c - path[:, 1] * s, centre[1] + path[:, 0] * s + path[:, 1] * c
    ]


def ellipse(
    centre: Centre,
    half_axes: tuple[float, float],
    rng: np.random.Generator,
    *,
    turns: float = 1.08,
) -> Points:
    """Go around, a little more than once, drifting outwards or inwards."""
    start = rng.uniform(0, 6.28)
    angles = np.linspace(start, start + 6.28 * turns, 70)
    drift = np.linspace(1, rng.uniform(0.93, 1.1), 70)
    return np.c_[
        centre[0] + half_axes[0] * drift * np.cos(angles),
        centre[1] + half_axes[1] * drift * np.sin(angles),
    ]


def crossed(centre: Centre, half: float) -> list[Points]:
    """Two straight strokes through a place, as somebody strikes out."""
    (x, y), s = centre, half
    return [
        np.array([(x - s, y - s), (x + s, y + s)]),
        np.array([(x + s, y - s), (x - s, y + s)]),
    ]


@dataclass(frozen=True)
class Place:
    """Where a mark was aimed at: a centre and half the size of what is printed there, mm."""

    x: float
    y: float
    radius: float

    @classmethod
    def of(cls, target: Target) -> "Place":
        return cls(target.cx, target.cy, min(target.w, target.h) / 2)


def mark(
    paper: Paper, shape: str, place: Place, tool: Tool, *, sloppy: float, rng: np.random.Generator
) -> None:
    """Draw one mark, off its place by as much as the hand is sloppy."""
    at = (place.x + rng.normal(0, OFF_MM * sloppy), place.y + rng.normal(0, OFF_MM * sloppy))
    if shape == "sticker":
        colour = STICKERS[rng.integers(len(STICKERS))]
        radius = place.radius * rng.uniform(1.0, 1.6)
        is_star = str(rng.choice(["star", "round"])) == "star"
        paper.stick(at, radius_mm=radius, colour=colour, is_star=is_star)
        return
    wobble = 0.05 if shape in ("dot", "bar") else 0.1 + 0.12 * sloppy
    paper.draw(_PATHS[shape](at, place.radius, tool, rng), tool, wobble)


def _fill(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    over = CRAYON_REACH_MM if tool.name == "crayon" else 0
    reach = max(r * rng.uniform(0.72, 1.02) + over - tool.width_mm / 2, 0.8)
    return [scribble(at, reach, max(tool.width_mm * rng.uniform(0.7, 1.3), 0.3), rng)]


def _half(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    """Fill only the upper, lower, left or right part."""
    path = scribble(at, r * 0.9 - tool.width_mm / 2, max(tool.width_mm * 0.9, 0.35), rng, angle=0.0)
    n_kept = max(len(path) * 11 // 20, 4)
    side = rng.integers(4)
    if side < 2:
        return [path[:n_kept] if side else path[-n_kept:]]
    if side == 2:
        path[:, 0] = np.minimum(path[:, 0], at[0] + 0.2)
    else:
        path[:, 0] = np.maximum(path[:, 0], at[0] - 0.2)
    return [path]


def _tick(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    (x, y), s = at, r * rng.uniform(0.8, 1.7)
    long = rng.uniform(0.8, 1.2)
    corners = [(-0.75, -0.1), (-0.2, 0.6), (0.95 * long, -1.0)]
    return [np.array([(x + s * dx, y + s * dy) for dx, dy in corners])]


def _cross(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    (x, y), s = at, r * rng.uniform(0.6, 1.15)
    t = s * rng.uniform(0.85, 1.15)
    return [
        np.array([(x - s, y - t), (x + s, y + t)]),
        np.array([(x + t, y - s), (x - t, y + s)]),
    ]


def _slash(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    (x, y), s = at, r * rng.uniform(0.8, 1.2)
    return [np.array([(x - s * 0.8, y + s), (x + s * 0.8, y - s)])]


def _dot(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    radius = max(r * rng.uniform(0.2, 0.4), tool.width_mm * 0.6)
    return [scribble(at, radius, max(tool.width_mm * 0.7, 0.25), rng)]


def _ring(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    wide = r * rng.uniform(1.05, 1.45)
    half_axes = (wide * rng.uniform(0.95, 1.1), wide)
    return [ellipse(at, half_axes, rng, turns=rng.choice([1.0, 1.08, 1.9]))]


def _ring_wide(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    """Ring the outline together with the drawing to its right."""
    return [ellipse((at[0] + 6.0, at[1]), (11.0, r * 1.5), rng)]


def _bar(at: Centre, r: float, tool: Tool, rng: np.random.Generator) -> list[Points]:
    """Swipe a highlighter across."""
    half = r * rng.uniform(0.9, 1.5)
    rise = half * rng.normal(0, 0.15)
    return [np.array([(at[0] - half, at[1] - rise), (at[0] + half, at[1] + rise)])]


_PATHS = {"fill": _fill, "half": _half, "tick": _tick, "cross": _cross, "slash": _slash,
          "dot": _dot, "ring": _ring, "ring_wide": _ring_wide, "bar": _bar}  # fmt: skip
