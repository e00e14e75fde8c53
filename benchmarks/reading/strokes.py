"""The shapes of marks: polylines in millimetres around a target's centre, drawn by a hand.

Every function takes the generator of chance and gives a list of arrays (n, 2), x right, y down.
"""

from itertools import pairwise

import numpy as np

RADIUS = 4.0  # of a target's outline, mm


def wobble(points: np.ndarray, amount: float, rng: np.random.Generator) -> np.ndarray:
    """Let a hand tremble: smooth noise of about ``amount`` mm along a polyline."""
    n = len(points)
    knots = rng.normal(0, amount, (max(n // 4, 2) + 1, 2))
    places = np.linspace(0, len(knots) - 1, n)
    noise = np.stack([np.interp(places, np.arange(len(knots)), knots[:, i]) for i in (0, 1)], 1)
    return points + noise


def along(corners: np.ndarray, step: float = 0.5) -> np.ndarray:
    """Fill a polyline up with points about every ``step`` mm."""
    pieces = [corners[:1]]
    for start, end in pairwise(corners):
        n = max(int(np.hypot(*(end - start)) / step), 1)
        pieces.append(start + (end - start) * (np.arange(1, n + 1) / n)[:, None])
    return np.concatenate(pieces)


def turned(points: np.ndarray, angle: float) -> np.ndarray:
    """Turn around the origin by an angle in radians."""
    cos, sin = np.cos(angle), np.sin(angle)
    return points @ np.array([[cos, sin], [-sin, cos]])


def zigzag(
    half_width: float, half_height: float, gap: float, *, rng: np.random.Generator
) -> np.ndarray:
    """Go to and fro across an ellipse, rows about ``gap`` mm apart."""
    heights = np.arange(-half_height, half_height + gap, gap)
    reach = half_width * np.sqrt(np.clip(1 - (heights / (half_height + gap)) ** 2, 0.05, 1))
    reach = reach * rng.uniform(0.85, 1.12, len(reach))
    sides = np.where(np.arange(len(heights)) % 2 == 0, -1, 1)
    corners = np.stack([reach * sides, heights + rng.normal(0, gap * 0.2, len(heights))], 1)
    return along(corners)


def fill(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Colour the circle in, with a pen of some width."""
    radius = max(RADIUS * rng.uniform(0.7, 1.15) - width / 2, 1.0)
    gap = max(width * rng.uniform(0.5, 1.3), 0.35)
    if rng.random() < 0.25:  # round and round
        turns = max(radius / gap, 1.5)
        angles = np.arange(0, turns * 2 * np.pi, 0.35)
        spiral = np.stack([np.cos(angles), np.sin(angles)], 1) * (angles / angles[-1])[:, None]
        return [wobble(spiral * radius, tremble, rng)]
    strokes = [turned(zigzag(radius, radius, gap, rng=rng), rng.uniform(0, np.pi))]
    if rng.random() < 0.3:
        strokes.append(turned(zigzag(radius, radius, gap * 1.5, rng=rng), rng.uniform(0, np.pi)))
    return [wobble(stroke, tremble, rng) for stroke in strokes]


def tick(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Draw a tick: a short stroke down, a long one up."""
    size = rng.uniform(0.7, 1.5) * RADIUS
    corners = np.array([[-0.7, -0.1], [-0.15, 0.65], [1.0, -1.0]]) * size
    corners += rng.normal(0, 0.12 * size, (3, 2))
    if rng.random() < 0.12:  # left-handed
        corners[:, 0] *= -1
    return [wobble(along(corners), tremble, rng)]


def cross(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Draw two strokes across each other."""
    size = rng.uniform(0.55, 1.25) * RADIUS
    turn = rng.normal(0, 0.15)
    strokes = []
    for side in (-1, 1):
        ends = np.array([[-side, -1.0], [side, 1.0]]) * size * rng.uniform(0.8, 1.1)
        strokes.append(wobble(along(turned(ends + rng.normal(0, 0.3, 2), turn)), tremble, rng))
    return strokes


def ring(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Draw around the circle, sometimes not closed, sometimes twice."""
    radius = RADIUS * rng.uniform(0.85, 1.45)
    turns = rng.uniform(0.9, 1.15) if rng.random() < 0.85 else rng.uniform(1.8, 2.2)
    angles = rng.uniform(0, 2 * np.pi) + np.arange(0, turns * 2 * np.pi, 0.15)
    squash = rng.uniform(0.85, 1.2)
    points = np.stack([np.cos(angles) * radius * squash, np.sin(angles) * radius / squash], 1)
    drift = np.linspace(0, 1, len(points))[:, None] * rng.normal(0, 0.4, 2)
    return [wobble(points + drift, tremble, rng)]


def half_fill(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Colour about half of the circle in."""
    radius = RADIUS * rng.uniform(0.75, 1.0) - width / 2
    part = zigzag(max(radius, 1.0), max(radius * 0.5, 0.6), max(width * 0.9, 0.35), rng=rng)
    moved = part + np.array([0.0, rng.uniform(0.3, 0.5) * RADIUS])
    return [wobble(turned(moved, rng.uniform(0, 2 * np.pi)), tremble, rng)]


def dot(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Press the pen down near the centre, and turn it a little."""
    radius = rng.uniform(0.7, 1.6)
    angles = np.arange(0, 4 * np.pi, 0.5)
    spread = np.linspace(0.2, 1, len(angles))[:, None] * radius
    return [wobble(np.stack([np.cos(angles), np.sin(angles)], 1) * spread, tremble / 2, rng)]


def dash(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Draw one line through the circle."""
    reach = RADIUS * rng.uniform(0.7, 1.4)
    ends = np.array([[-reach, 0.0], [reach, 0.0]])
    return [wobble(along(turned(ends, rng.uniform(0, np.pi))), tremble, rng)]


def scrawl(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Scribble as a small child does: loops that wander."""
    n = int(rng.integers(14, 40))
    angles = np.cumsum(rng.normal(0.9, 0.5, n) * rng.choice([-1, 1]))
    steps = np.stack([np.cos(angles), np.sin(angles)], 1) * rng.uniform(0.8, 2.0)
    points = np.cumsum(steps, 0)
    points = (points - points.mean(0)) / max(np.abs(points - points.mean(0)).max(), 1e-6)
    return [wobble(along(points * RADIUS * rng.uniform(0.6, 1.2)), tremble, rng)]


def strike_out(rng: np.random.Generator, width: float, tremble: float) -> list[np.ndarray]:
    """Cross a mark out: a scribble wider than the circle, some lines, or a large cross."""
    kind = rng.choice(["scribble", "lines", "cross"], p=[0.45, 0.3, 0.25])
    angle = rng.normal(0, 0.5)
    if kind == "scribble":
        reach = RADIUS * rng.uniform(1.25, 1.7)
        shape = zigzag(reach, RADIUS * rng.uniform(0.6, 1.1), max(width, 0.5) * 1.6, rng=rng)
        return [wobble(turned(shape, angle), tremble, rng)]
    if kind == "lines":
        strokes = []
        for height in np.linspace(-1, 1, rng.integers(1, 4)) * rng.uniform(0.8, 2.0):
            ends = np.array([[-1.0, 0], [1.0, 0]]) * RADIUS * rng.uniform(1.3, 1.8)
            strokes.append(
                wobble(along(turned(ends, angle) + np.array([0.0, height])), tremble, rng)
            )
        return strokes
    size = RADIUS * rng.uniform(1.2, 1.7)
    return [
        wobble(along(np.array([[-side, -1.0], [side, 1.0]]) * size), tremble, rng)
        for side in (-1, 1)
    ]


def handwriting(length: float, height: float, rng: np.random.Generator) -> list[np.ndarray]:
    """Write something illegible from (0, 0) to the right, letters of ``height`` mm."""
    strokes, x = [], 0.0
    while x < length:
        n = int(rng.integers(2, 7))
        word = min(n * height * rng.uniform(0.6, 0.9), length - x)
        t = np.arange(0, n * 2 * np.pi, 0.4)
        tall = np.interp(t, np.arange(n + 1) * 2 * np.pi, rng.choice([0.5, 0.5, 1.0], n + 1))
        across = x + word * t / t[-1] + np.cos(t) * height * 0.22
        strokes.append(wobble(np.stack([across, -np.sin(t) * height * tall / 2], 1), 0.1, rng))
        x += word + height * rng.uniform(0.5, 1.2)
    return strokes


def doodle(rng: np.random.Generator) -> list[np.ndarray]:
    """Draw a spiral, a star, a flower or a wave, some 5 to 15 mm large, around the origin."""
    size = rng.uniform(2.5, 7.5)
    kind = rng.choice(["spiral", "star", "flower", "wave"])
    if kind == "spiral":
        t = np.arange(0, rng.uniform(4, 9) * np.pi, 0.2)
        points = np.stack([np.cos(t), np.sin(t)], 1) * (t / t[-1])[:, None]
    elif kind == "star":
        t = np.arange(6) * 4 * np.pi / 5
        points = along(np.stack([np.sin(t), -np.cos(t)], 1) * size) / size
    elif kind == "flower":
        t = np.arange(0, 2 * np.pi, 0.05)
        points = np.stack([np.cos(t), np.sin(t)], 1) * (0.7 + 0.3 * np.cos(6 * t))[:, None]
    else:
        t = np.linspace(-1, 1, 80)
        points = np.stack([2 * t, 0.4 * np.sin(t * rng.uniform(6, 14))], 1)
    return [wobble(turned(points * size, rng.uniform(0, 2 * np.pi)), 0.15, rng)]


MARKS = {
    "filled": fill,
    "ticked": tick,
    "crossed": cross,
    "ringed": ring,
    "half_filled": half_fill,
    "dot": dot,
    "dash": dash,
    "scrawl": scrawl,
}
