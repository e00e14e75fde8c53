"""What a family answers, how it is drawn, and what a reader may accept: one rule per case.

| case | on paper | truth | may be accepted |
|---|---|---|---|
| blank | nothing | empty | empty |
| single | one mark of any style, at most 3 mm off the centre | its value | its value |
| beside | one mark at a target, 4.2 to 5.5 mm off, clear of all others | its value | its value |
| touched | one mark, and a point of under 0.7 mm at another target | its value | its value |
| corrected | a mark crossed out, another mark elsewhere | the later one | the later one |
| rubbed | a mark rubbed out (75 to 97 %), another mark elsewhere | the later one | the later one |
| ghost | a mark rubbed out (85 to 97 %), nothing else | empty | empty |
| two_equal | two marks of one style and pen | empty | nothing: a person must look |
| two_unlike | two marks of different style | empty | nothing |
| half_erased | the only mark, half of it or half of its ink rubbed out | empty | nothing |
| between | one mark in the middle of two targets, within 1.2 mm | empty | nothing |
| withdrawn | the only mark, crossed out | empty | nothing |

Stray lines, stains and fingers change nothing in truth: what was meant stays meant.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from hands import PENS, STYLES, Hand, cross_out, draw_choice, draw_hand, erase, mark, scattered
from instruments import Canvas, Pen, lay_strokes
from strokes import dot

from sidelong.training.layout import Field, FieldType, Target

CASES = {
    "single": 0.86,
    "beside": 0.01,
    "touched": 0.01,
    "corrected": 0.03,
    "rubbed": 0.025,
    "ghost": 0.01,
    "two_equal": 0.015,
    "two_unlike": 0.005,
    "half_erased": 0.015,
    "between": 0.015,
    "withdrawn": 0.005,
}
NEEDS_TWO = ("touched", "corrected", "rubbed", "two_equal", "two_unlike", "between")
NOBODY_KNOWS = ("two_equal", "two_unlike", "half_erased", "between", "withdrawn")
FARTHEST_NEIGHBOUR_MM = 30.0


@dataclass
class Drawn:
    """What was drawn for one field.

    ``states`` tells of every target what stands there: ``empty``, ``marked``, ``cancelled``,
    ``erased`` or ``doubtful``; ``loose`` are centres in mm of marks that belong to no target.
    """

    case: str
    truth: str
    acceptable: list[str]
    style: str = ""
    states: dict[str, str] = field(default_factory=dict)
    loose: list[tuple[float, float]] = field(default_factory=list)


@dataclass(frozen=True)
class Habits:
    """How often what happens: odds of cases, of styles and pens, of a field that is answered."""

    answered: dict[str, float]
    cases: dict[str, float]
    pens: dict[str, float]
    styles: dict[str, float]
    other_style: float = 0.15


USUAL = Habits(
    {"rating": 0.93, "went_down": 0.93, "why_not": 0.2, "skipped": 0.04, "": 0.9},
    CASES,
    PENS,
    STYLES,
)


def answer_field(
    canvas: Canvas, asked: Field, *, hand: Hand, habits: Habits, rng: np.random.Generator
) -> Drawn:
    """Answer one field and draw it, in place."""
    kind = asked.id.rsplit(".", 1)[-1]
    states = {target.id: "empty" for target in asked.targets}
    if rng.random() >= habits.answered.get(kind, habits.answered[""]):
        return Drawn("blank", "", [""], states=states)
    cases = habits.cases
    if asked.type is FieldType.TICK or len(asked.targets) < 2:
        cases = {name: odds for name, odds in cases.items() if name not in NEEDS_TWO}
    case = draw_choice(rng, cases)
    style = hand.style
    if rng.random() < habits.other_style:
        style = draw_choice(rng, habits.styles)
    order = rng.permutation(len(asked.targets))
    chosen = [asked.targets[place] for place in order]
    drawn = Drawn(case, "", [], style, states)
    _DRAW[case](canvas, drawn, chosen, hand, rng)
    if case not in NOBODY_KNOWS:
        drawn.acceptable = [drawn.truth]
    return drawn


def make_hand(habits: Habits, rng: np.random.Generator) -> Hand:
    """Take a hand with these habits."""
    return draw_hand(rng, pens=habits.pens, styles=habits.styles)


def _centre(target: Target) -> np.ndarray:
    return np.array([target.cx, target.cy])


def _mark(canvas: Canvas, target: Target, drawn: Drawn, hand: Hand, rng: np.random.Generator):
    place = scattered(_centre(target), hand, rng)
    mark(canvas, place, hand=hand, style=drawn.style, rng=rng)
    drawn.states[target.id] = "marked"
    return place


def _single(canvas, drawn, chosen, hand, rng) -> None:
    _mark(canvas, chosen[0], drawn, hand, rng)
    drawn.truth = chosen[0].value


def _beside(canvas, drawn, chosen: Sequence[Target], hand, rng) -> None:
    """Mark beside a target, on the side where no other target is near."""
    target = chosen[0]
    others = [_centre(other) for other in chosen[1:]]
    for _ in range(20):
        angle = rng.uniform(0, 2 * np.pi)
        place = _centre(target) + rng.uniform(4.2, 5.5) * np.array([np.cos(angle), np.sin(angle)])
        if all(np.hypot(*(place - other)) > 10.5 for other in others):
            break
    mark(canvas, place, hand=hand, style=drawn.style, rng=rng)
    drawn.states[target.id] = "doubtful"
    drawn.truth = target.value


def _touched(canvas, drawn, chosen, hand: Hand, rng) -> None:
    _single(canvas, drawn, chosen, hand, rng)
    place = scattered(_centre(chosen[1]), hand, rng)
    fine = Pen("touch", 0.35, hand.pen.strength, hand.pen.colour, 0.0, 0.1, 0.0)
    lay_strokes(canvas, [s * 0.2 + place for s in dot(rng, 0.3, 0.02)], fine, rng)
    drawn.states[chosen[1].id] = "erased"


def _corrected(canvas, drawn, chosen, hand, rng) -> None:
    place = _mark(canvas, chosen[0], drawn, hand, rng)
    cross_out(canvas, place, hand=hand, style=drawn.style, rng=rng)
    drawn.states[chosen[0].id] = "cancelled"
    _mark(canvas, chosen[1], drawn, hand, rng)
    drawn.truth = chosen[1].value


def _rubbed(canvas: Canvas, drawn, chosen, hand, rng) -> None:
    _rub(canvas, drawn, chosen[0], hand, rng, share=rng.uniform(0.75, 0.97))
    drawn.states[chosen[0].id] = "erased"
    _mark(canvas, chosen[1], drawn, hand, rng)
    drawn.truth = chosen[1].value


def _ghost(canvas: Canvas, drawn, chosen, hand, rng) -> None:
    _rub(canvas, drawn, chosen[0], hand, rng, share=rng.uniform(0.85, 0.97))
    drawn.states[chosen[0].id] = "erased"


def _rub(canvas, drawn: Drawn, target, hand, rng, *, share: float, half: bool = False) -> None:
    if drawn.style == "sticker":  # nobody rubs a sticker out
        drawn.style = "filled"
    before = canvas.pixels.copy()
    place = _mark(canvas, target, drawn, hand, rng)
    erase(canvas, before, place, share=share, rng=rng, half=half)


def _two_equal(canvas, drawn, chosen, hand, rng) -> None:
    for target in chosen[:2]:
        _mark(canvas, target, drawn, hand, rng)


def _two_unlike(canvas, drawn: Drawn, chosen, hand, rng) -> None:
    _mark(canvas, chosen[0], drawn, hand, rng)
    first, pair = drawn.style, ("filled", "ticked")
    drawn.style = pair[1] if first == pair[0] else pair[0]
    _mark(canvas, chosen[1], drawn, hand, rng)
    drawn.style = first


def _half_erased(canvas: Canvas, drawn, chosen, hand, rng) -> None:
    if rng.random() < 0.5:
        _rub(canvas, drawn, chosen[0], hand, rng, share=rng.uniform(0.85, 1.0), half=True)
    else:
        _rub(canvas, drawn, chosen[0], hand, rng, share=rng.uniform(0.4, 0.7))
    drawn.states[chosen[0].id] = "doubtful"


def _between(canvas, drawn: Drawn, chosen, hand: Hand, rng) -> None:
    first = _centre(chosen[0])
    by_distance = sorted(chosen[1:], key=lambda other: float(np.hypot(*(_centre(other) - first))))
    second = _centre(by_distance[0])
    if np.hypot(*(second - first)) > FARTHEST_NEIGHBOUR_MM:
        drawn.case = "two_equal"
        _two_equal(canvas, drawn, [chosen[0], by_distance[0]], hand, rng)
        return
    place = (first + second) / 2 + rng.uniform(-0.85, 0.85, 2)
    mark(canvas, place, hand=hand, style=drawn.style, rng=rng)
    drawn.loose.append((float(place[0]), float(place[1])))
    if np.hypot(*(second - first)) < 16:
        for target in (chosen[0], by_distance[0]):
            drawn.states[target.id] = "doubtful"


def _withdrawn(canvas, drawn, chosen, hand, rng) -> None:
    place = _mark(canvas, chosen[0], drawn, hand, rng)
    cross_out(canvas, place, hand=hand, style=drawn.style, rng=rng)
    drawn.states[chosen[0].id] = "cancelled"


_DRAW = {
    "single": _single,
    "beside": _beside,
    "touched": _touched,
    "corrected": _corrected,
    "rubbed": _rubbed,
    "ghost": _ghost,
    "two_equal": _two_equal,
    "two_unlike": _two_unlike,
    "half_erased": _half_erased,
    "between": _between,
    "withdrawn": _withdrawn,
}
