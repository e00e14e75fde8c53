"""Marks that are wider in kind than the first generator's: pens, shapes, sizes, dense pages.

Learning from what one generator draws teaches its habits. Here half of the pens are drawn from
wide ranges instead of kinds, shapes are stretched, and further shapes are added.
"""

from collections.abc import Callable
from dataclasses import replace

import answers
import hands
import numpy as np
from answers import CASES, Habits
from hands import PENS, STYLES, Hand, draw_hand
from instruments import Pen
from strokes import MARKS, RADIUS, along, dash, scrawl, turned, wobble, zigzag

from sidelong.training.layout import Field, FieldType, SheetPage, Target

Shape = Callable[[np.random.Generator, float, float], list[np.ndarray]]

_LEAST_CONTRAST = 0.17
_SIZES = {"filled": (0.75, 1.2), "scrawl": (0.7, 1.15), "dot": (0.7, 1.5), "ringed": (0.75, 1.2)}


def _stretched(shape: Shape, low: float, high: float) -> Shape:
    """Make a shape of another size, sometimes narrow, sometimes turned a little."""

    def drawn(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
        size = rng.uniform(low, high) * np.array([rng.uniform(0.8, 1.15), rng.uniform(0.8, 1.15)])
        angle = rng.normal(0, 0.25)
        return [turned(stroke * size, angle) for stroke in shape(rng, width, tremble)]

    return drawn


def _spiral(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    angles = np.arange(0, rng.uniform(1.5, 4.5) * 2 * np.pi, 0.25)
    reach = np.linspace(rng.uniform(0, 0.3), 1, len(angles)) * RADIUS * rng.uniform(0.7, 1.25)
    points = np.stack([np.cos(angles), np.sin(angles)], 1) * reach[:, None]
    return [wobble(turned(points, rng.uniform(0, 6)), tremble, rng)]


def _hatched(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Draw some parallel lines through the circle."""
    angle, strokes = rng.uniform(0, np.pi), []
    for height in np.linspace(-1, 1, int(rng.integers(2, 7))) * RADIUS * rng.uniform(0.4, 0.8):
        reach = np.sqrt(max(RADIUS**2 - height**2, 1)) * rng.uniform(0.7, 1.2)
        ends = np.array([[-reach, height], [reach, height]]) + rng.normal(0, 0.2, (2, 2))
        strokes.append(wobble(turned(along(ends), angle), tremble, rng))
    return strokes


def _star(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Draw three lines across each other, or a five-pointed star."""
    size = RADIUS * rng.uniform(0.6, 1.2)
    if rng.random() < 0.5:
        t = np.arange(6) * 4 * np.pi / 5
        return [wobble(along(np.stack([np.sin(t), -np.cos(t)], 1) * size), tremble, rng)]
    ends = np.array([[-1.0, 0.0], [1.0, 0.0]]) * size
    turns = np.arange(3) * np.pi / 3 + rng.normal(0, 0.15, 3)
    return [wobble(along(turned(ends, angle)), tremble, rng) for angle in turns]


def _small_ring(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    t = np.arange(0, 2 * np.pi * rng.uniform(0.95, 2.1), 0.2)
    reach = RADIUS * rng.uniform(0.3, 0.85)
    return [wobble(np.stack([np.cos(t), np.sin(t)], 1) * reach, tremble, rng)]


def _loose_fill(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Go to and fro with gaps between, in one direction, a little over the outline."""
    reach = RADIUS * rng.uniform(0.65, 1.2)
    gap = rng.uniform(0.7, 2.2) * max(width, 0.5)
    return [wobble(turned(zigzag(reach, reach, gap, rng=rng), rng.uniform(0, 6)), tremble, rng)]


def _slash(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    return [stroke * rng.uniform(0.6, 1.1) for stroke in dash(rng, width, tremble)]


MORE: dict[str, Shape] = {
    f"other_{name}": _stretched(shape, *_SIZES.get(name, (0.65, 1.35)))
    for name, shape in MARKS.items()
} | {
    "spiral": _spiral,
    "hatched": _hatched,
    "star": _star,
    "small_ring": _small_ring,
    "loose_fill": _loose_fill,
    "slash": _slash,
    "loops": _stretched(scrawl, 0.8, 1.1),
}

WIDE = Habits(
    {"skipped": 0.6, "": 0.8},
    {
        "single": 0.5,
        "beside": 0.025,
        "touched": 0.03,
        "corrected": 0.09,
        "rubbed": 0.06,
        "ghost": 0.05,
        "two_equal": 0.01,
        "half_erased": 0.11,
        "between": 0.07,
        "withdrawn": 0.04,
    },
    PENS | {"faint_pencil": 0.1},
    dict.fromkeys(STYLES, 1.0) | dict.fromkeys(MORE, 0.7),
    0.45,
)


def widen() -> None:
    """Let the first generator draw these shapes, and take pens of wide ranges, from now on."""
    MARKS.update(MORE)
    hands.MARKS.update(MORE)
    answers.draw_hand = _any_hand


def _any_hand(
    rng: np.random.Generator, *, pens: dict[str, float], styles: dict[str, float]
) -> Hand:
    hand = draw_hand(rng, pens=pens, styles=styles)
    return hand if rng.random() < 0.5 else replace(hand, pen=_any_pen(rng))


def _any_pen(rng: np.random.Generator) -> Pen:
    """Take a pen that leaves something to be seen: any width, colour, strength and grain."""
    while True:
        colour = rng.uniform(0, 110, 3) if rng.random() < 0.5 else rng.uniform(0, 255, 3)
        strength = rng.uniform(0.2, 1.0)
        if strength * (1 - colour.min() / 255) >= _LEAST_CONTRAST:
            break
    red, green, blue = colour.astype(int).tolist()
    gaps = rng.uniform(0, 0.5) if rng.random() < 0.5 else 0.0
    width = float(np.exp(rng.uniform(np.log(0.32), np.log(4.8))))
    hides = float(rng.choice([0.0, 0.0, 0.6, 1.0]))
    return Pen("any", width, strength, (red, green, blue), gaps, rng.uniform(0.06, 0.3), hides)


def in_parts(page: SheetPage, rng: np.random.Generator) -> SheetPage:
    """Cut the questions of a page into parts of one or two targets, so that half are marked."""
    parts: list[Field] = []
    for asked in page.fields:
        place = 0
        while place < len(asked.targets):
            n = 1 if asked.type is FieldType.TICK else int(rng.integers(1, 3))
            targets: tuple[Target, ...] = asked.targets[place : place + n]
            parts.append(replace(asked, id=f"{asked.id}/{place}", targets=targets))
            place += n
    return replace(page, fields=tuple(parts))


__all__ = ["CASES", "MORE", "WIDE", "in_parts", "widen"]
