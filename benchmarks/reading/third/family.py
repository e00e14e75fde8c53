"""A family fills in a sheet: who holds the pen, what is answered, what else is left on it."""

from dataclasses import dataclass, replace

import numpy as np

from sidelong.training.layout import Field, FieldType, SheetPage, Target
from third.answers import Answer, Hand, Writer
from third.beside import answer_beside, can_stand_beside
from third.marks import draw_shape, ellipse, scribble
from third.paper import Paper, Points
from third.tools import SMOOTH, Tool, draw_tool

PEOPLE = ("child", "teen", "adult")
PEOPLE_SHARES = (0.4, 0.25, 0.35)
SLOPPY = {"child": 1.5, "teen": 0.9, "adult": 0.6}
TOOLS = ("ball", "pencil", "felt", "crayon", "faint", "highlighter")
TOOL_SHARES = {
    "child": (0.3, 0.24, 0.21, 0.13, 0.08, 0.04),
    "teen": (0.52, 0.26, 0.1, 0, 0.08, 0.04),
    "adult": (0.7, 0.17, 0.06, 0, 0.04, 0.03),
}
RIGHT_TO_LEFT = ("ar", "he", "fa", "ur")

CHILD_HAS_STICKERS = 0.12
STICKER_IS_USED = 0.5
NIGHT_IS_SKIPPED = 0.05
BLANK_ON_SKIPPED = 0.93
ANSWERED = 0.93
ANSWERED_WHY = 0.42
TICKED = 0.7  # a lone box other than "skipped"
OTHER_PEN = 0.05
FREE_BOX_IS_FILLED = 0.7
NOTE_IS_WRITTEN = 0.45
DOODLE = 0.15
STAIN = 0.08
PEN_OVER_MARKER = 0.02

DOODLE_CLEAR_MM = 12  # from every outline: nearer it might be meant
STAIN_COLOUR = (150, 105, 60)
FREE_WORDS = ("12.3.", "3/4", "Tue", "5", "6", "mum", "dad", "gran")
NOTE_WORDS = ("ok", "was tired", "better today", "spat it out", "good!", "2 tries", "with water",
              "no problem", "funny taste", "sleepy")  # fmt: skip


@dataclass
class Family:
    """Who fills in one sheet, and what for a photograph."""

    paper: Paper
    page: SheetPage
    severity: str
    is_grey: bool
    words_share: float
    rng: np.random.Generator

    def fill_in(self) -> tuple[dict[str, Answer], str]:
        """Answer every field and leave the usual traces; give the answers and who it was."""
        rng = self.rng
        who = str(rng.choice(PEOPLE, p=PEOPLE_SHARES))
        hand = self._hand(who)
        has_stickers = who == "child" and rng.random() < CHILD_HAS_STICKERS
        is_skipped = rng.random() < NIGHT_IS_SKIPPED
        writer = Writer(self.paper, rng)
        answers = {}
        for field in self.page.fields:
            chosen = self._choice(field, is_skipped=is_skipped)
            own = self._hand_now(field, hand, has_stickers=has_stickers)
            if self._marks_beside(field, chosen):
                answers[field.id] = answer_beside(self.paper, field, chosen, own, rng)
            else:
                answers[field.id] = writer.answer(field, chosen, own)
        self._leave_traces(self._writing_pen(hand.tool))
        return answers, who

    def _hand(self, who: str) -> Hand:
        rng = self.rng
        sloppy = SLOPPY[who] * rng.uniform(0.7, 1.2)
        return Hand(
            tool=self._tool(str(rng.choice(TOOLS, p=TOOL_SHARES[who]))),
            pencil=self._tool("pencil"),
            sloppy=sloppy,
            habit=draw_shape(rng),
            is_rightwards=self.page.language not in RIGHT_TO_LEFT,
        )

    def _tool(self, name: str) -> Tool:
        return draw_tool(name, severity=self.severity, is_grey=self.is_grey, rng=self.rng)

    def _choice(self, field: Field, *, is_skipped: bool) -> Target | None:
        """What the family means by this field: one of its targets, or nothing."""
        rng = self.rng
        if field.type is FieldType.TICK:
            is_ticked = is_skipped if field.id == "skipped" else rng.random() < TICKED
            return field.targets[0] if is_ticked else None
        share = ANSWERED_WHY if "why" in field.id else ANSWERED
        chance = rng.random()
        is_answered = chance >= BLANK_ON_SKIPPED if is_skipped else chance < share
        if not is_answered:
            return None
        return field.targets[int(rng.integers(len(field.targets)))]

    def _hand_now(self, field: Field, hand: Hand, *, has_stickers: bool) -> Hand:
        """Sometimes a sticker or another pen is at hand."""
        rng = self.rng
        sticks = has_stickers and rng.random() < STICKER_IS_USED
        now = replace(hand, has_stickers=sticks and field.type is not FieldType.TICK)
        if rng.random() < OTHER_PEN:
            now = replace(now, tool=self._tool(str(rng.choice(["ball", "pencil", "felt"]))))
        return now

    def _marks_beside(self, field: Field, chosen: Target | None) -> bool:
        if chosen is None:
            return False
        return self.rng.random() < self.words_share and can_stand_beside(field, chosen)

    def _writing_pen(self, tool: Tool) -> Tool:
        """Words are written with the tool of the marks where it is fit for that."""
        if tool.name in ("highlighter", "crayon"):
            return self._tool("ball")
        return replace(tool, width_mm=min(tool.width_mm, 0.9), darkness=max(tool.darkness, 0.4))

    def _leave_traces(self, pen: Tool) -> None:
        self._write_words(pen)
        if self.rng.random() < DOODLE:
            self._doodle(pen)
        if self.rng.random() < STAIN:
            self._spill()
        if self.rng.random() < PEN_OVER_MARKER:
            self._cross_marker(pen)

    def _write_words(self, pen: Tool) -> None:
        rng, paper = self.rng, self.paper
        for box in self.page.free_boxes:
            if rng.random() < FREE_BOX_IS_FILLED:
                word = str(rng.choice(FREE_WORDS))
                at = (box.x + rng.uniform(2, 8), box.y + box.h * 0.7)
                size = min(box.h * 0.45, 6) * rng.uniform(0.8, 1.3)
                paper.write(word, at, size_mm=size, tool=pen)
        for box in self.page.note_boxes:
            if rng.random() < NOTE_IS_WRITTEN:
                note = " ".join(str(rng.choice(NOTE_WORDS)) for _ in range(rng.integers(1, 4)))
                at = (box.x + rng.uniform(1, 5), box.y + box.h * 0.65)
                paper.write(note, at, size_mm=rng.uniform(3, 5), tool=pen)

    def _doodle(self, pen: Tool) -> None:
        """Draw a face, a spiral or a star clear of the answers, if there is room."""
        rng, page = self.rng, self.page
        outlines = np.array([(t.cx, t.cy) for field in page.fields for t in field.targets])
        for _ in range(60):
            at = (rng.uniform(12, page.width_mm - 12), rng.uniform(10, page.height_mm - 10))
            if np.hypot(*(outlines - at).T).min() > DOODLE_CLEAR_MM:
                drawing = (_face, _spiral, _star)[rng.integers(3)]
                self.paper.draw(drawing(*at, rng), pen, wobble_mm=0.2)
                return

    def _spill(self) -> None:
        """Leave a drink's ring or a splash, anywhere."""
        rng, page = self.rng, self.page
        at = (rng.uniform(20, page.width_mm - 20), rng.uniform(20, page.height_mm - 20))
        drink = Tool("stain", rng.uniform(1.5, 3), rng.uniform(0.15, 0.35), SMOOTH, STAIN_COLOUR)
        if rng.random() < 0.5:
            self.paper.draw([ellipse(at, (35, 34), rng)], drink, wobble_mm=0.3)
        else:
            self.paper.draw([scribble(at, rng.uniform(4, 12), 1.5, rng)], drink, wobble_mm=0.6)

    def _cross_marker(self, pen: Tool) -> None:
        if not self.page.markers:
            return
        box = self.page.markers[self.rng.integers(len(self.page.markers))].box
        line = np.array([(box.x - 2, box.y + 3), (box.x + box.w + 2, box.y + box.h - 2)])
        self.paper.draw([line], pen, wobble_mm=0.2)


def _face(x: float, y: float, rng: np.random.Generator) -> list[Points]:
    head = ellipse((x, y), (5, 5), rng)
    eyes = [ellipse((x + side, y - 1.5), (0.4, 0.4), rng) for side in (-1.6, 1.6)]
    smile = np.linspace(0.4, 2.7, 20)
    return [head, *eyes, np.c_[x + 2.8 * np.cos(smile), y + 2.8 * np.sin(smile)]]


def _spiral(x: float, y: float, rng: np.random.Generator) -> list[Points]:
    angles = np.linspace(0, 18, 90)
    return [np.c_[x + angles * 0.3 * np.cos(angles), y + angles * 0.3 * np.sin(angles)]]


def _star(x: float, y: float, rng: np.random.Generator) -> list[Points]:
    angles = -np.pi / 2 + np.arange(6) * 4 * np.pi / 5
    return [np.c_[x + 5 * np.cos(angles), y + 5 * np.sin(angles)]]
