"""One family's hand: its pen, its way of marking, and what it does to a single target."""

from dataclasses import dataclass

import cv2
import numpy as np
from instruments import Canvas, Pen, draw_pen, lay_mask, lay_strokes
from strokes import MARKS, RADIUS, cross, strike_out, tick, turned

STYLES = {
    "filled": 0.26,
    "ticked": 0.2,
    "crossed": 0.16,
    "ringed": 0.1,
    "half_filled": 0.07,
    "dot": 0.05,
    "dash": 0.05,
    "scrawl": 0.06,
    "sticker": 0.05,
}
PENS = {
    "ball_pen": 0.28,
    "pencil": 0.22,
    "faint_pencil": 0.07,
    "gel_pen": 0.08,
    "felt_pen": 0.13,
    "marker": 0.05,
    "coloured_pencil": 0.07,
    "crayon": 0.08,
    "highlighter": 0.02,
}


@dataclass(frozen=True)
class Hand:
    """Who fills in a sheet: pen, usual style; how far marks land off and tremble, mm."""

    pen: Pen
    style: str
    scatter_mm: float
    tremble_mm: float


def draw_choice(rng: np.random.Generator, odds: dict[str, float]) -> str:
    """Choose a name by its odds, which need not sum to one."""
    names = list(odds)
    weights = np.array([odds[name] for name in names])
    return names[int(rng.choice(len(names), p=weights / weights.sum()))]


def draw_hand(
    rng: np.random.Generator,
    *,
    pens: dict[str, float] = PENS,
    styles: dict[str, float] = STYLES,
) -> Hand:
    """Take a pen and a way of marking; small children scatter and tremble more."""
    is_small_child = rng.random() < 0.2
    return Hand(
        draw_pen(rng, draw_choice(rng, pens)),
        draw_choice(rng, styles),
        rng.uniform(0.9, 1.6) if is_small_child else rng.uniform(0.2, 0.9),
        rng.uniform(0.2, 0.5) if is_small_child else rng.uniform(0.03, 0.2),
    )


def scattered(centre: np.ndarray, hand: Hand, rng: np.random.Generator) -> np.ndarray:
    """Where a mark meant for a centre lands: at most 3 mm away."""
    offset = rng.normal(0, hand.scatter_mm, 2)
    far = max(float(np.hypot(*offset)), 1e-9)
    return centre + offset * min(1.0, 3.0 / far)


def mark(
    canvas: Canvas, centre: np.ndarray, *, hand: Hand, style: str, rng: np.random.Generator
) -> None:
    """Draw one mark around a point in mm, in place."""
    if style == "sticker":
        _put_sticker(canvas, centre, rng)
        return
    strokes = MARKS[style](rng, hand.pen.width_mm, hand.tremble_mm)
    lay_strokes(canvas, [stroke + centre for stroke in strokes], hand.pen, rng)


def cross_out(
    canvas: Canvas, centre: np.ndarray, *, hand: Hand, style: str, rng: np.random.Generator
) -> None:
    """Cross out a mark of some style, so that a person sees that it is withdrawn, in place."""
    again = 3 if style in ("crossed", "scrawl", "filled") else 1
    for _ in range(int(rng.integers(1, again + 1)) if again > 1 else 1):
        strokes = strike_out(rng, hand.pen.width_mm, hand.tremble_mm)
        lay_strokes(canvas, [stroke + centre for stroke in strokes], hand.pen, rng)


def erase(
    canvas: Canvas,
    before: np.ndarray,
    centre: np.ndarray,
    *,
    share: float,
    rng: np.random.Generator,
    half: bool = False,
) -> None:
    """Rub a mark out by a share of its ink, all of it or one half, and smear the rest, in place."""
    window = canvas.around(*centre, 2.2 * RADIUS)
    now, was = canvas.pixels[window].astype(np.float32), before[window].astype(np.float32)
    rubbed = _eraser(now.shape[:2], canvas.px_per_mm, rng, half=half)[..., None] * share
    ink = now - was
    smear = cv2.GaussianBlur(ink, (0, 0), rng.uniform(0.5, 1.2) * canvas.px_per_mm)
    grey = smear.mean(2, keepdims=True) * rng.uniform(0.1, 0.35) * (rubbed > 0.05)
    canvas.pixels[window] = np.clip(was + ink * (1 - rubbed) + grey + 0.5, 0, 255).astype(np.uint8)


def _eraser(
    shape: tuple[int, int], px_per_mm: float, rng: np.random.Generator, *, half: bool
) -> np.ndarray:
    """Where an eraser went: 0..1, streaky, all of a window or about one half of it."""
    height, width = shape
    streaks = cv2.resize(rng.uniform(0.7, 1.0, (24, 2)).astype(np.float32), (width, height))
    if not half:
        return streaks
    y, x = np.mgrid[:height, :width].astype(np.float32)
    angle = rng.uniform(0, 2 * np.pi)
    side = (x - width / 2) * np.cos(angle) + (y - height / 2) * np.sin(angle)
    shift = rng.uniform(-0.7, 0.7) * px_per_mm
    return streaks * np.clip((side - shift) / (0.6 * px_per_mm) + 0.5, 0, 1)


def _put_sticker(canvas: Canvas, centre: np.ndarray, rng: np.random.Generator) -> None:
    """Stick a round or star-shaped sticker of 7 to 12 mm over a target."""
    radius = rng.uniform(3.5, 6.0)
    window = canvas.around(*centre, radius + 1)
    height, width = canvas.pixels[window].shape[:2]
    if not height or not width:
        return
    t = np.linspace(0, 2 * np.pi, 80, endpoint=False)
    is_star = rng.random() < 0.4
    reach = radius * (0.75 + 0.25 * np.cos(5 * t)) if is_star else np.full(80, radius)
    outline = turned(np.stack([np.cos(t), np.sin(t)], 1) * reach[:, None], rng.uniform(0, 6))
    corner = np.array([window[1].start, window[0].start])
    fixed = ((outline + centre) * canvas.px_per_mm - corner).round().astype(np.int32)
    mask = np.zeros((height, width), np.uint8)
    cv2.fillPoly(mask, [fixed.reshape(-1, 1, 2)], 255, cv2.LINE_AA)
    colour = rng.uniform(30, 255, 3)
    colour[rng.integers(3)] *= rng.uniform(0.1, 0.7)
    red, green, blue = colour.astype(int).tolist()
    paper = Pen("sticker", 1.0, 1.0, (red, green, blue), 0.0, 0.1, 1.0)
    lay_mask(canvas, window, mask.astype(np.float32) / 255, pen=paper, rng=rng)
    if rng.random() < 0.5:
        inside = tick if rng.random() < 0.5 else cross
        ink = Pen("print", rng.uniform(0.4, 1.0), 0.9, (250, 250, 250), 0.0, 0.1, 1.0)
        shape = [s * radius / 10 + centre for s in inside(rng, 0.5, 0.05)]
        lay_strokes(canvas, shape, ink, rng)
