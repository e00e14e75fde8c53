"""One sheet of paper: printed, filled in, spoilt, with the truth about it."""

from dataclasses import dataclass, field

import numpy as np
from answers import USUAL, Drawn, Habits, answer_field, make_hand
from clutter import crease, doodle_about, stain, stray_line, write_in_boxes
from hands import Hand
from instruments import Canvas
from kit import Kit
from printer import print_page

from sidelong.training.layout import SheetPage


@dataclass
class FilledSheet:
    """A finished sheet: its picture, and what was meant field by field."""

    page: SheetPage
    canvas: Canvas
    printed: np.ndarray
    inked: np.ndarray
    drawn: dict[str, Drawn]
    notes: dict[str, object] = field(default_factory=dict)
    print_scale: float = 1.0

    def truth(self) -> dict[str, object]:
        """Give the page's part of the truth file."""
        return {
            "page_id": self.page.page_id,
            "print_scale": round(self.print_scale, 4),
            "fields": {
                name: {
                    "truth": drawn.truth,
                    "acceptable": drawn.acceptable,
                    "case": drawn.case,
                    "style": drawn.style,
                }
                for name, drawn in self.drawn.items()
            },
        }


def fill_sheet(
    kit: Kit,
    page: SheetPage,
    *,
    px_per_mm: float,
    faults: float,
    rng: np.random.Generator,
    habits: Habits = USUAL,
    keep_print: bool = False,
) -> FilledSheet:
    """Print a page and fill it in; ``faults`` scales the odds of bad print, stains and slips.

    With ``keep_print``, ``printed`` is the page before anything was written and ``inked`` the page
    before it was spoilt; without, both are empty.
    """
    printed, notes = print_page(kit.render(page, px_per_mm), px_per_mm, faults=faults, rng=rng)
    canvas = Canvas(printed, px_per_mm)
    nothing = np.empty(0, np.uint8)
    before = printed.copy() if keep_print else nothing
    hand = make_hand(habits, rng)
    drawn = {
        each.id: answer_field(canvas, each, hand=hand, habits=habits, rng=rng)
        for each in page.fields
    }
    notes |= {"pen": hand.pen.instrument, "pen_mm": round(hand.pen.width_mm, 2)}
    notes |= _write_more(canvas, page, hand, faults, rng)
    inked = canvas.pixels.copy() if keep_print else nothing
    notes |= _spoil(canvas, faults, rng)
    scale = 1.0 if rng.random() > 0.15 * faults else rng.uniform(0.94, 1.03)
    return FilledSheet(page, canvas, before, inked, drawn, notes, scale)


def _write_more(
    canvas: Canvas, page: SheetPage, hand: Hand, faults: float, rng: np.random.Generator
) -> dict[str, object]:
    """Write where writing is asked for, and where it is not."""
    notes: dict[str, object] = {}
    write_in_boxes(canvas, page, hand, rng)
    if rng.random() < 0.12:
        notes["doodles"] = doodle_about(canvas, page, hand, rng)
    if rng.random() < 0.06 * faults:
        stray_line(canvas, page, make_hand(USUAL, rng), rng)
        notes["stray_line"] = True
    return notes


def _spoil(canvas: Canvas, faults: float, rng: np.random.Generator) -> dict[str, object]:
    """Spill and fold."""
    notes: dict[str, object] = {}
    if rng.random() < 0.15 * faults:
        stain(canvas, rng)
        notes["stain"] = True
    if rng.random() < 0.25 * faults:
        crease(canvas, rng)
        notes["crease"] = True
    return notes
