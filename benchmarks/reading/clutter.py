"""What else gets onto a sheet at home: writing, doodles, stray lines, stains, creases."""

import cv2
import numpy as np
from hands import Hand
from instruments import Canvas, Pen, lay_mask, lay_strokes
from strokes import along, doodle, handwriting, turned, wobble

from sidelong.training.layout import Box, SheetPage


def write_in_boxes(canvas: Canvas, page: SheetPage, hand: Hand, rng: np.random.Generator) -> None:
    """Fill some of the write-in areas with illegible writing, in place."""
    thin = Pen(
        hand.pen.instrument,
        min(hand.pen.width_mm, 0.9),
        hand.pen.strength,
        hand.pen.colour,
        hand.pen.gaps,
        hand.pen.grain_mm,
        hand.pen.hides,
    )
    for box in (*page.note_boxes, *page.free_boxes):
        if rng.random() < 0.6:
            _write(canvas, box, thin, rng)


def _write(canvas: Canvas, box: Box, pen: Pen, rng: np.random.Generator) -> None:
    height = rng.uniform(2.5, 5.0)
    y = box.y + rng.uniform(0.6, 0.95) * min(box.h, 9.0)
    while y < box.y + box.h + 1:
        start = np.array([box.x + rng.uniform(1, 4), y])
        length = max(box.w * rng.uniform(0.3, 1.0) - 5, 6.0)
        slope = rng.normal(0, 0.02)
        strokes = [turned(s, slope) + start for s in handwriting(length, height, rng)]
        lay_strokes(canvas, strokes, pen, rng)
        y += height * 2
        if rng.random() < 0.3:
            break


def doodle_about(
    canvas: Canvas, page: SheetPage, hand: Hand, rng: np.random.Generator, *, clear_mm: float = 9.0
) -> int:
    """Draw one to four doodles where no target is near; tell how many."""
    centres = np.array([[t.cx, t.cy] for each in page.fields for t in each.targets])
    made = 0
    for _ in range(int(rng.integers(1, 5))):
        place = rng.uniform((8, 8), (page.width_mm - 8, page.height_mm - 8))
        if np.hypot(*(centres - place).T).min() < clear_mm + 4:
            continue
        lay_strokes(canvas, [s + place for s in doodle(rng)], hand.pen, rng)
        made += 1
    return made


def stray_line(canvas: Canvas, page: SheetPage, hand: Hand, rng: np.random.Generator) -> None:
    """Let the pen slip: a long line somewhere across the sheet, through targets or not."""
    start = rng.uniform((10, 20), (page.width_mm - 10, page.height_mm - 20))
    reach = turned(np.array([[rng.uniform(15, 70), 0.0]]), rng.uniform(0, 2 * np.pi))[0]
    line = wobble(along(np.stack([start, start + reach])), 0.8, rng)
    lay_strokes(canvas, [line], hand.pen, rng)


def stain(canvas: Canvas, rng: np.random.Generator) -> None:
    """Spill tea, fat or juice: a pale irregular patch with a darker rim, in place."""
    height, width = canvas.pixels.shape[:2]
    centre = rng.uniform((0, 0), (width, height)) / canvas.px_per_mm
    radius = rng.uniform(4, 28)
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    shape = sum(rng.normal(0, 0.12 / k) * np.cos(k * t + rng.uniform(0, 6)) for k in range(1, 6))
    outline = np.stack([np.cos(t), np.sin(t)], 1) * (radius * (1 + shape))[:, None] + centre
    window = canvas.window(outline.min(0) - 2, outline.max(0) + 2)
    rows, columns = window
    if rows.stop - rows.start < 3 or columns.stop - columns.start < 3:
        return
    mask = np.zeros((rows.stop - rows.start, columns.stop - columns.start), np.uint8)
    corner = np.array([columns.start, rows.start])
    fixed = (outline * canvas.px_per_mm - corner).round().astype(np.int32).reshape(-1, 1, 2)
    cv2.fillPoly(mask, [fixed], int(255 * rng.uniform(0.25, 0.9)), cv2.LINE_AA)
    if rng.random() < 0.6:
        cv2.polylines(mask, [fixed], True, 255, max(2, int(0.5 * canvas.px_per_mm)), cv2.LINE_AA)
    soft = cv2.GaussianBlur(mask, (0, 0), rng.uniform(0.15, 0.6) * canvas.px_per_mm)
    colours = [(200, 165, 110), (225, 215, 180), (225, 140, 130), (190, 150, 120), (235, 200, 90)]
    red, green, blue = colours[rng.integers(len(colours))]
    liquid = Pen("stain", 1.0, rng.uniform(0.15, 0.6), (red, green, blue), 0.0, 0.1, 0.0)
    lay_mask(canvas, window, soft.astype(np.float32) / 255, pen=liquid, rng=rng)


def crease(canvas: Canvas, rng: np.random.Generator) -> None:
    """Fold the sheet once and flatten it again: a thin line, light beside dark, in place."""
    height, width = canvas.pixels.shape[:2]
    is_level = rng.random() < 0.5
    at = int((height if is_level else width) * rng.choice([1 / 3, 0.5, 2 / 3]))
    at += int(rng.normal(0, 3 * canvas.px_per_mm))
    breadth = max(1, int(rng.uniform(0.2, 0.5) * canvas.px_per_mm))
    for shift, light in ((0, rng.uniform(0.75, 0.95)), (breadth, rng.uniform(1.0, 1.06))):
        band = slice(max(at + shift, 0), max(at + shift + breadth, 0))
        part = canvas.pixels[band] if is_level else canvas.pixels[:, band]
        part[:] = np.clip(part.astype(np.float32) * light, 0, 255).astype(np.uint8)
