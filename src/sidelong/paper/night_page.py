"""The words of a night sheet, each put in its place; what comes out is a list of things to draw.

``sheet.py`` says where, this module says what, ``booklet.typ`` sets it. The list is in reading
order, so that the tagged PDF is read aloud in the order in which the sheet is filled in.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import Language, message
from sidelong.paper.sheet import ALL_THE_SAME, Answer, Area, Sheet
from sidelong.training.entry import Scale, WentDown, WhyNot, Written
from sidelong.training.position import Position

Item = dict[str, Any]

CHILD_PT, HOME_PT, NOTE_PT = 20, 14, 12

RATING_WORDS: dict[Scale, tuple[str, ...]] = {
    Scale.FIVE: (
        message("very hard"),
        message("hard"),
        message("in between"),
        message("easy"),
        message("very easy"),
    ),
    Scale.FOUR: (
        message("hard, a lot"),
        message("hard, a little"),
        message("easy, a little"),
        message("easy, a lot"),
    ),
    Scale.THREE: (message("very hard"), message("in between"), message("very easy")),
    Scale.TWO: (message("hard"), message("easy")),
}
WENT_DOWN_WORDS = {
    WentDown.FIRST: message("first try"),
    WentDown.LATER: message("later try"),
    WentDown.NO: message("no"),
}
WHY_NOT_WORDS = {
    WhyNot.SPAT_OUT: message("spat out"),
    WhyNot.MELTED: message("chewed or melted"),
    WhyNot.REFUSED: message("refused"),
    WhyNot.NOT_TRIED: message("not tried"),
}
WRITTEN_WORDS = {
    Written.SAME_EVENING: message("same evening"),
    Written.NEXT_DAY: message("next day"),
    Written.LATER: message("later"),
}
_BOX_WORDS = {
    "date": message("Date"),
    "pieces": message("Pieces used"),
    "present": message("Which adult was there? No names."),
    "notes": message("Notes. No names."),
    "drawing": message("Room for a drawing or a sticker"),
    "seen": message("What you saw: tries, sips, chewing, upset. No names."),
}


@dataclass(frozen=True)
class NightHead:
    """What the head line of a sheet says.

    Parameters
    ----------
    night : int
        Sheet number, from 1.
    page_id : str
        The page's own code.
    piece_mm : float
        Largest dimension of tonight's piece, mm.
    emergency : str
        The number to call, as it is dialled.
    names : dict of Position to str
        What the site calls each position, already said.
    """

    night: int
    page_id: str
    piece_mm: float
    emergency: str
    names: dict[Position, str]


def set_night(
    sheet: Sheet, *, head: NightHead, scale: Scale | None, language: Language
) -> list[Item]:
    """Put the words of one night in their places.

    Parameters
    ----------
    sheet : Sheet
        Where everything stands.
    head : NightHead
        What is different on this night.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    list of dict
        Words and heads in reading order; lengths in mm from the corner of the box. The outlines
        around them come from ``sheet_art.py``.
    """
    page = _NightPage(sheet, head, scale, language)
    return [
        *page.head_line(),
        *page.questions(),
        *(item for slot in range(1, len(sheet.order) + 1) for item in page.row(slot)),
        *page.drawing_box(),
        *page.band(),
        *page.reasons(),
        *page.foot(),
    ]


@dataclass(frozen=True)
class _NightPage:
    sheet: Sheet
    head: NightHead
    scale: Scale | None
    language: Language

    def head_line(self) -> Iterator[Item]:
        say, head = self.language.say, self.head
        title = say("Night {night}").format(night=head.night)
        yield self.text("title", title, 30, weight="bold", role="heading")
        yield self.text("code", self.language.number(head.page_id), NOTE_PT)
        [tick] = self.sheet.of("skipped")
        yield from self.answer(tick, say("We did not practise with this sheet."), align="start")
        size = self.language.number(f"{head.piece_mm:g} mm")
        words = say("Tonight's piece: {size}").format(size=size)
        yield self.text("piece", words, NOTE_PT, valign="middle")

    def questions(self) -> Iterator[Item]:
        say = self.language.say
        asked = {
            "ask.rating": say("How easy was it with your head like this?"),
            "ask.went_down": say("Did it go down?"),
        }
        if self.scale is None:
            asked["ask.why_not"] = say("If not, why not?")
        for name, words in asked.items():
            if name in self.sheet.areas:
                yield self.text(name, words, HOME_PT, weight="semibold", valign="bottom")

    def row(self, slot: int) -> Iterator[Item]:
        say, position = self.language.say, self.sheet.order[slot - 1]
        areas, words = self.sheet.areas, HEAD_WORDS[position]
        number = {"weight": "bold", "valign": "middle", "colour": "accent"}
        yield self.text(f"p{slot}.number", str(slot), CHILD_PT, **number)
        yield self.glyph(areas[f"p{slot}.glyph"], position)
        name = self.head.names[position]
        yield self.text(f"p{slot}.word", name, CHILD_PT, weight="semibold", valign="bottom")
        yield self.text(f"p{slot}.side", say(words.side), NOTE_PT)
        if self.scale is not None:
            for answer, label in zip(
                self.sheet.of(f"p{slot}.rating"), RATING_WORDS[self.scale], strict=True
            ):
                yield from self.answer(answer, say(label))
        for answer in self.sheet.of(f"p{slot}.went_down"):
            yield from self.answer(answer, say(WENT_DOWN_WORDS[WentDown(answer.value)]))
        if self.scale is None:
            for answer in self.sheet.of(f"p{slot}.why_not"):
                yield from self.answer(answer, say(WHY_NOT_WORDS[WhyNot(answer.value)]))

    def drawing_box(self) -> Iterator[Item]:
        if "drawing.box" in self.sheet.areas:
            yield from self.write_in("drawing")

    def band(self) -> Iterator[Item]:
        say, areas = self.language.say, self.sheet.areas
        if "ask.band" not in areas:
            return
        ask = say("Which one felt best tonight?")
        if self.scale is None:
            ask = say("Point to the one you want tomorrow.")
        yield self.text("ask.band", ask, 16, weight="semibold", align="center")
        for answer in (*self.sheet.of("felt_best"), *self.sheet.of("tomorrow")):
            if answer.value == ALL_THE_SAME:
                yield from self.answer(answer, say("all the same"), align="start")
                continue
            yield from self.answer(answer, self.head.names[Position(answer.value)])
            if answer.glyph is not None:
                yield self.glyph(answer.glyph, Position(answer.value))

    def reasons(self) -> Iterator[Item]:
        if self.scale is None:
            yield from self.write_in("seen")
            return
        say = self.language.say
        ask = say("Did one not go down? Mark why.")
        yield self.text("ask.why_not", ask, HOME_PT, weight="semibold")
        slots = range(1, len(self.sheet.order) + 1)
        style = {"weight": "bold", "align": "center", "colour": "accent"}
        for slot in slots:
            yield self.text(f"p{slot}.head", str(slot), HOME_PT, **style)
        for reason in WhyNot:
            for slot in slots:
                [answer] = [
                    each for each in self.sheet.of(f"p{slot}.why_not") if each.value == reason
                ]
                label = say(WHY_NOT_WORDS[reason]) if slot == 1 else ""
                yield from self.answer(answer, label, align="start")

    def foot(self) -> Iterator[Item]:
        say, areas, head = self.language.say, self.sheet.areas, self.head
        for name in ("date", "pieces", "present"):
            yield from self.write_in(name)
        yield self.text("ask.written", say("When did you write this?"), NOTE_PT)
        for answer in self.sheet.of("written"):
            label = say(WRITTEN_WORDS[Written(answer.value)])
            yield from self.answer(answer, label, align="start")
        yield from self.write_in("notes")
        stop = say("A cough that lasts, pain, being sick, upset: stop for tonight.")
        act = say("Choking, trouble breathing, a piece that feels stuck: act as you were taught.")
        call = [say("Call {number}.").format(number=self.language.number(head.emergency))]
        words = " ".join([stop, act, *(call if head.emergency else [])])
        yield self.text("safety", words, NOTE_PT, weight="medium")
        length = self.language.number(f"{areas['check'].w:g} mm")
        measured = say("This line measures {length}.").format(length=length)
        yield self.text("check.label", measured, 9, valign="middle")

    def text(self, area: str, words: str, size: float, **style: str) -> Item:
        return _text(self.sheet.areas[area], words, size, **style)

    def glyph(self, area: Area, position: Position) -> Item:
        drawing = self.language.say(HEAD_WORDS[position].drawing)
        return {"do": "glyph", "position": position.value, "alt": drawing} | vars(area)

    def answer(self, answer: Answer, label: str, *, align: str = "center") -> Iterator[Item]:
        if label:
            valign = "middle" if align == "start" else "top"
            yield _text(answer.label, label, NOTE_PT, align=align, valign=valign)

    def write_in(self, name: str) -> Iterator[Item]:
        words = self.language.say(_BOX_WORDS[name])
        yield self.text(f"{name}.label", words, NOTE_PT)


def _text(area: Area, words: str, size: float, **style: str) -> Item:
    plain = {"weight": "regular", "align": "start", "valign": "top", "role": "p", "colour": "ink"}
    return {"do": "text", "text": words, "size": size} | plain | style | vars(area)
