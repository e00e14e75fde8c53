"""How one field comes to be answered, and which values may be accepted for it.

| style | on paper | may be accepted |
|---|---|---|
| a shape of `marks` | one mark | its value |
| blank, blank_erased | nothing; a mark rubbed out with nothing in its place | blank |
| corrected_struck, corrected_scribbled, erased_other | one taken back, another made | the other |
| two_equal, half_erased, between | two marks; a mark half rubbed out; a mark midway | nothing |
| word, word_tick, word_underlined, head | the outline left empty, see `beside` | its value |
"""

from dataclasses import dataclass, replace

import numpy as np

from sidelong.training.layout import Field, Target
from third.marks import SHAPE_SHARES, SHAPES, Place, crossed, mark, scribble
from third.paper import Paper
from third.tools import Tool

# What happens to an answered field: the first whose number is above a draw between 0 and 1.
CASES = ((0.012, "two_equal"), (0.022, "half_erased"), (0.030, "between"), (0.060, "corrected"),
         (0.078, "erased_other"), (1.0, "plain"))  # fmt: skip
NEEDS_TWO = ("two_equal", "between", "corrected", "erased_other")
NEVER_STICKERS = ("two_equal", "between", "corrected")
BLANK_ERASED = 0.012
KEEPS_TO_HABIT = 0.85
RING_WITH_DRAWING = 0.15
RUBBED_MM = 9.0  # radius, where nothing else was marked
RUBBED_BESIDE_MM = 6.5
STRIKE_WIDTH_MM = 1.2  # nobody strikes out with a broader line


@dataclass(frozen=True)
class Hand:
    """Who fills in a field: with which tool and pencil, how sloppily, in which habit."""

    tool: Tool
    pencil: Tool
    sloppy: float
    habit: str
    is_rightwards: bool
    has_stickers: bool = False


@dataclass(frozen=True)
class Answer:
    """What came to stand: the value that was meant, and those that a reader may accept."""

    truth: str
    acceptable: tuple[str, ...]
    style: str
    tool: str

    def document(self) -> dict[str, object]:
        """Give the field's part of the truth file."""
        return {
            "truth": self.truth,
            "acceptable": list(self.acceptable),
            "style": self.style,
            "tool": self.tool,
        }


class Writer:
    """Answers the fields of one sheet, each as the hand that holds the pen would."""

    def __init__(self, paper: Paper, rng: np.random.Generator) -> None:
        self.paper = paper
        self.rng = rng

    def answer(self, field: Field, chosen: Target | None, hand: Hand) -> Answer:
        """Mark the chosen target, or none, with what may go wrong on the way."""
        shape = self._shape(field, chosen, hand)
        chance = self.rng.random()
        if chosen is None:
            return self._blank(field, hand, is_erased=chance < BLANK_ERASED)
        case = next(name for limit, name in CASES if chance < limit)
        is_impossible = (
            (case in NEEDS_TWO and len(field.targets) == 1)
            or (case in NEVER_STICKERS and hand.has_stickers)
            or (case == "corrected" and hand.tool.name == "highlighter")
        )
        if case == "plain" or is_impossible:
            self._mark(shape, chosen, hand.tool, hand)
            return _meant(chosen, shape, hand.tool)
        return getattr(self, f"_{case}")(field, chosen, shape, hand)

    def _shape(self, field: Field, chosen: Target | None, hand: Hand) -> str:
        """Draw a shape of mark: mostly the hand's habit, as far as its tool allows."""
        rng, shape = self.rng, hand.habit
        if rng.random() >= KEEPS_TO_HABIT:
            shape = str(rng.choice(SHAPES, p=SHAPE_SHARES))
        if hand.tool.name == "highlighter":
            shape = str(rng.choice(["bar", "fill", "bar"]))
        is_crayon = hand.tool.name == "crayon"
        if is_crayon and shape in ("half", "dot"):
            shape = "fill"
        if hand.has_stickers:
            return "sticker"
        may_widen = shape == "ring" and field.id == "felt_best" and hand.is_rightwards
        if may_widen and chosen is not None and rng.random() < RING_WITH_DRAWING:
            has_drawing = chosen.value != "same"
            return "ring_wide" if has_drawing and not is_crayon else "ring"
        return shape

    def _blank(self, field: Field, hand: Hand, *, is_erased: bool) -> Answer:
        """Answer nothing, or rub out what was marked so that this can still be seen."""
        if not is_erased:
            return Answer("", ("",), "blank", "none")
        target = field.targets[self.rng.integers(len(field.targets))]
        shape = "tick" if self.rng.random() < 0.5 else "cross"
        self._mark(shape, target, hand.pencil, hand)
        self._rub_out(target, RUBBED_MM, (0.03, 0.08))
        return Answer("", ("",), "blank_erased", "pencil")

    def _two_equal(self, field: Field, chosen: Target, shape: str, hand: Hand) -> Answer:
        """Mark two answers alike."""
        other = self._other(field, chosen)
        for target in (chosen, other):
            self._mark("ring" if shape == "ring_wide" else shape, target, hand.tool, hand)
        return _unclear(chosen, "two_equal", hand.tool)

    def _half_erased(self, field: Field, chosen: Target, shape: str, hand: Hand) -> Answer:
        """Rub the only mark out by half."""
        self._mark(self._pencilled(), chosen, hand.pencil, hand)
        self.paper.half_rub_out((chosen.cx, chosen.cy), radius_mm=RUBBED_MM)
        return _unclear(chosen, "half_erased", hand.pencil)

    def _between(self, field: Field, chosen: Target, shape: str, hand: Hand) -> Answer:
        """Mark midway between the answer and its neighbour."""
        index = field.targets.index(chosen)
        beside = index + 1 if index + 1 < len(field.targets) else index - 1
        other, share = field.targets[beside], self.rng.uniform(0.44, 0.56)
        x = chosen.cx * (1 - share) + other.cx * share
        y = chosen.cy * (1 - share) + other.cy * share
        midway = replace(chosen, cx=x, cy=y)
        careful = replace(hand, sloppy=0.5)
        self._mark(str(self.rng.choice(["tick", "cross"])), midway, hand.tool, careful)
        return _unclear(chosen, "between", hand.tool)

    def _corrected(self, field: Field, chosen: Target, shape: str, hand: Hand) -> Answer:
        """Take a wrong mark back with the pen, and mark the answer in the same way."""
        wrong = self._other(field, chosen)
        radius, rng = wrong.w / 2, self.rng
        if rng.random() < 0.5:
            same = "ring" if shape in ("ring", "ring_wide") else "fill"
            self._mark(same, wrong, hand.tool, hand)
            strike = replace(hand.tool, width_mm=min(hand.tool.width_mm, STRIKE_WIDTH_MM))
            self.paper.draw(crossed((wrong.cx, wrong.cy), radius * rng.uniform(1.5, 1.9)), strike)
            style = "corrected_struck"
        else:
            same = shape if shape in ("tick", "cross", "ring") else "tick"
            self._mark(same, wrong, hand.tool, hand)
            reach = radius * rng.uniform(1.25, 1.5)
            pitch = max(hand.tool.width_mm * 0.9, 0.45)
            over = scribble((wrong.cx, wrong.cy), reach, pitch, rng)
            self.paper.draw([over], hand.tool, wobble_mm=0.3)
            style = "corrected_scribbled"
        self._mark(same, chosen, hand.tool, hand)
        return _meant(chosen, style, hand.tool)

    def _erased_other(self, field: Field, chosen: Target, shape: str, hand: Hand) -> Answer:
        """Rub a wrong mark out, and pencil the answer in."""
        wrong = self._other(field, chosen)
        self._mark(self._pencilled(), wrong, hand.pencil, hand)
        self._rub_out(wrong, RUBBED_BESIDE_MM, (0.04, 0.13))
        pencilled = shape if shape in ("tick", "cross", "fill", "ring") else "fill"
        self._mark(pencilled, chosen, hand.pencil, hand)
        return _meant(chosen, "erased_other", hand.pencil)

    def _mark(self, shape: str, target: Target, tool: Tool, hand: Hand) -> None:
        mark(self.paper, shape, Place.of(target), tool, sloppy=hand.sloppy, rng=self.rng)

    def _rub_out(self, target: Target, radius_mm: float, left: tuple[float, float]) -> None:
        at = (target.cx, target.cy)
        self.paper.rub_out(at, radius_mm=radius_mm, left=self.rng.uniform(*left))

    def _other(self, field: Field, chosen: Target) -> Target:
        others = [target for target in field.targets if target is not chosen]
        return others[self.rng.integers(len(others))]

    def _pencilled(self) -> str:
        return str(self.rng.choice(["tick", "cross", "fill"]))


def _meant(chosen: Target, style: str, tool: Tool) -> Answer:
    """An answer that anybody can tell."""
    return Answer(chosen.value, (chosen.value,), style, tool.name)


def _unclear(chosen: Target, style: str, tool: Tool) -> Answer:
    """An answer that only the family can tell: a person must look."""
    return Answer(chosen.value, (), style, tool.name)
