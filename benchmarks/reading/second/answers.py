"""What a family means and how it comes to stand on the sheet, with what may be accepted."""

import numpy as np

from second.ink import (
    SIMPLE,
    Hand,
    Points,
    cross,
    dot,
    lay_ink,
    lay_sticker,
    pick_hand,
    scribble,
)
from sidelong.training.layout import Box, Field, FieldType, SheetPage, Target

Truth = dict[str, object]

# How often a field is left empty, by the end of its name.
BLANK = {"rating": 0.06, "went_down": 0.05, "why_not": 0.8, "felt_best": 0.08, "tomorrow": 0.08,
         "written": 0.1, "skipped": 0.9}  # fmt: skip
CASES = ("plain", "corrected", "rubbed_out", "half_rubbed_only", "two_equal", "between")
CASE_SHARES = (0.9, 0.04, 0.02, 0.01, 0.015, 0.015)


class Writer:
    """Fills in one sheet with one hand."""

    def __init__(self, sheet: np.ndarray, px_per_mm: float, rng: np.random.Generator) -> None:
        self.sheet = sheet
        self.px_per_mm = px_per_mm
        self.rng = rng
        self.hand = pick_hand(rng)
        names, shares = zip(*SIMPLE, strict=True)
        self.habit = names[rng.choice(len(names), p=np.array(shares) / sum(shares))]
        self.fills = rng.random() < (0.8 if self.hand.tool.name == "crayon" else 0.35)
        self.sticks = rng.random() < 0.02

    def fill_in(self, page: SheetPage) -> dict[str, Truth]:
        """Answer every field; return truth and what may be accepted."""
        truth = {each.id: self._answer(each) for each in page.fields}
        for box in (*page.note_boxes, *page.free_boxes):
            if self.rng.random() < 0.5:
                self._write_words(box)
        return truth

    def _answer(self, field: Field) -> Truth:
        blank = BLANK.get(field.id.split(".")[-1], 0.3)
        if self.rng.random() < blank:
            return {"truth": "", "acceptable": [""]}
        chosen = field.targets[self.rng.integers(len(field.targets))]
        case = CASES[self.rng.choice(len(CASES), p=CASE_SHARES)]
        if field.type is FieldType.TICK or len(field.targets) == 1:
            case = "plain"
        others = [target for target in field.targets if target is not chosen]
        return getattr(self, f"_{case}")(chosen, others)

    def _plain(self, chosen: Target, others: list[Target]) -> Truth:
        self._mark(chosen)
        return {"truth": chosen.value, "acceptable": [chosen.value]}

    def _corrected(self, chosen: Target, others: list[Target]) -> Truth:
        """Mark one, strike it out heavily, mark another."""
        wrong = others[self.rng.integers(len(others))]
        self._mark(wrong)
        for _ in range(2):
            self._draw(wrong, scribble(wrong.w * self.rng.uniform(0.6, 0.8), 1.1, self.rng), 1.0)
        if self.rng.random() < 0.5:
            self._draw(wrong, cross(wrong.w * 0.75, self.rng), 1.0)
        self._mark(chosen)
        return {"truth": chosen.value, "acceptable": [chosen.value]}

    def _rubbed_out(self, chosen: Target, others: list[Target]) -> Truth:
        """Rub out one so that a trace stays, mark another."""
        wrong = others[self.rng.integers(len(others))]
        self._ghost(wrong, self.rng.uniform(0.08, 0.2))
        self._mark(chosen)
        return {"truth": chosen.value, "acceptable": [chosen.value]}

    def _half_rubbed_only(self, chosen: Target, others: list[Target]) -> Truth:
        self._ghost(chosen, self.rng.uniform(0.3, 0.5))
        return {"truth": "", "acceptable": []}

    def _two_equal(self, chosen: Target, others: list[Target]) -> Truth:
        self._mark(chosen)
        self._mark(others[self.rng.integers(len(others))])
        return {"truth": "", "acceptable": []}

    def _between(self, chosen: Target, others: list[Target]) -> Truth:
        near = min(others, key=lambda o: np.hypot(o.cx - chosen.cx, o.cy - chosen.cy))
        middle = ((near.cx + chosen.cx) / 2, (near.cy + chosen.cy) / 2)
        r = chosen.w / 2
        paths = cross(r * 0.6, self.rng) if self.rng.random() < 0.5 else dot(r, self.rng)
        self._lay(paths, middle, 1.0)
        return {"truth": "", "acceptable": []}

    def _mark(self, target: Target) -> None:
        at = self._aimed(target)
        r = target.w / 2 * self.hand.size
        if self.sticks and self.rng.random() < 0.8:
            lay_sticker(self.sheet, at=at, px_per_mm=self.px_per_mm, rng=self.rng)
        elif self.fills:
            part = 1.0 if self.rng.random() < 0.85 else float(self.rng.uniform(0.5, 0.7))
            gap = max(0.35, self.hand.width_mm * self.rng.uniform(0.7, 1.5))
            self._lay(scribble(r * 0.85, gap, self.rng, part=part), at, 1.0)
        else:
            self._lay(self.habit(r, self.rng), at, 1.0)

    def _ghost(self, target: Target, left: float) -> None:
        """Leave what a rubber leaves: a pale mark in a grey smear."""
        at = self._aimed(target)
        self._lay(self.habit(target.w / 2 * self.hand.size, self.rng), at, left)
        smear = Hand(self.hand.tool, (150, 150, 150), 3.0, 0.12, 0.3, 0.3, 1.0)
        lay_ink(self.sheet, scribble(4.5, 2.0, self.rng), smear, at=at, px_per_mm=self.px_per_mm,
                rng=self.rng)  # fmt: skip

    def _aimed(self, target: Target) -> tuple[float, float]:
        off = self.rng.normal(0, self.hand.aim_mm, 2).clip(-1.8, 1.8)
        return (target.cx + off[0], target.cy + off[1])

    def _draw(self, target: Target, paths: list[Points], strength: float) -> None:
        self._lay(paths, (target.cx, target.cy), strength)

    def _lay(self, paths: list[Points], at: tuple[float, float], strength: float) -> None:
        lay_ink(self.sheet, paths, self.hand, at=at, px_per_mm=self.px_per_mm, rng=self.rng,
                strength=strength)  # fmt: skip

    def _write_words(self, box: Box) -> None:
        """Write something that looks like a few words: loops between two lines."""
        n = max(6, int(box.w * self.rng.uniform(0.3, 0.9) / 1.6))
        x = np.linspace(box.x + 2, box.x + 2 + n * 1.6, n * 4).clip(max=box.x + box.w - 1)
        y = box.y + box.h * 0.55 + np.sin(np.arange(n * 4) * 1.7) * box.h * 0.2
        y += self.rng.normal(0, box.h * 0.05, n * 4)
        pen = self.hand
        if pen.width_mm > 1.0:
            pen = Hand(pen.tool, pen.colour, 0.9, pen.darkness, 0.1, 0.1, 1.0)
        lay_ink(self.sheet, [np.c_[x, y]], pen, at=(0.0, 0.0), px_per_mm=self.px_per_mm,
                rng=self.rng)  # fmt: skip
