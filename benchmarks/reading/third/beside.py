"""Marks on the word under an outline or on the drawing to its right, the outline left empty.

Distances are those of this project's printed sheets: the word stands under a circle, and the head
of a favourite to its right.
"""

from dataclasses import replace

import numpy as np

from sidelong.training.layout import Field, Target
from third.answers import Answer, Hand
from third.marks import Place, ellipse, mark
from third.paper import Paper

ON_WORDS = ("word", "word_tick", "word_underlined")
PEN_WIDTH_MM = 1.0  # nobody rings a word with a broader tool
PEN_DARKNESS = 0.6
RING_BELOW_MM = 8.6
TICK_BELOW_MM = 7.5
LINES_BELOW_MM = (8.9, 12.6)
HEAD_BESIDE_MM = 12.5


def can_stand_beside(field: Field, chosen: Target) -> bool:
    """Tell whether an answer has a word or a drawing of its own that could be marked."""
    if "best" in field.id:
        return chosen.value != "same"
    return "rating" in field.id or "went" in field.id


def answer_beside(
    paper: Paper, field: Field, chosen: Target, hand: Hand, rng: np.random.Generator
) -> Answer:
    """Ring, tick or underline the word of an answer, or ring the head of a favourite."""
    tool = replace(
        hand.tool,
        width_mm=min(hand.tool.width_mm, PEN_WIDTH_MM),
        darkness=max(hand.tool.darkness, PEN_DARKNESS),
    )
    x, y = chosen.cx, chosen.cy
    style = "head" if "best" in field.id else str(rng.choice(ON_WORDS))
    if style == "word":
        paper.draw([ellipse((x, y + RING_BELOW_MM), (6.2, 3.4), rng)], tool)
    elif style == "word_tick":
        shape = str(rng.choice(["tick", "cross"]))
        below = replace(Place.of(chosen), y=y + TICK_BELOW_MM)
        mark(paper, shape, below, tool, sloppy=0.6, rng=rng)
    elif style == "word_underlined":
        line = y + LINES_BELOW_MM[0 if rng.random() < 0.5 else 1]
        paper.draw([np.array([(x - 5, line), (x + 5, line + rng.normal(0, 0.3))])], tool)
    else:
        paper.draw([ellipse((x + HEAD_BESIDE_MM, y), (7.2, 6.0), rng)], tool)
    return Answer(chosen.value, (chosen.value,), style, hand.tool.name)
