"""The words of a night sheet, each put in its place; what comes out is a list of things to draw.

``sheet.py`` says where, this module says what, ``booklet.typ`` sets it. The list is in reading
order, so that the tagged PDF is read aloud in the order in which the sheet is filled in.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import Language, message
from sidelong.paper.sheet_areas import ALL_THE_SAME, Answer, Area, Sheet
from sidelong.paper.version import Edition
from sidelong.training.entry import Scale, WentDown, WhyNot, Written
from sidelong.training.position import Position

Item = dict[str, Any]


@dataclass(frozen=True)
class TypeSizes:
    """Sizes of type on a sheet, pt: title, lines for the trainee, questions, labels, fine print."""

    title: float = 30.0
    child: float = 20.0
    band: float = 16.0
    home: float = 14.0
    note: float = 12.0
    fine: float = 9.0


TYPE_SIZES = {
    Edition.STANDARD: TypeSizes(),
    Edition.LARGE: TypeSizes(child=24.0, band=18.0, home=18.0, note=18.0, fine=18.0),
}

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
    "night": message("Stands for night"),
}


@dataclass(frozen=True)
class NightHead:
    """What the head line of a sheet says.

    Parameters
    ----------
    title : str
        What the sheet is called, already said: ``Night 4``.
    page_id : str
        The page's own code, or what stands in its place.
    piece_mm : float
        Largest dimension of tonight's piece, mm.
    emergency : str or None
        The number to call, as it is dialled; None to leave out the line that it stands in.
    names : dict of Position to str
        What the site calls each position, already said.
    """

    title: str
    page_id: str
    piece_mm: float
    emergency: str | None
    names: dict[Position, str]


def set_night(
    sheet: Sheet,
    *,
    head: NightHead,
    scale: Scale | None,
    language: Language,
    edition: Edition = Edition.STANDARD,
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
    edition : Edition
        How large it is set.

    Returns
    -------
    list of dict
        Words and heads in reading order; lengths in mm from the corner of the box. The outlines
        around them come from ``sheet_art.py``.
    """
    page = _NightPage(sheet, head, scale, language, TYPE_SIZES[edition])
    return [
        *page.head_line(),
        *page.questions(),
        *(item for slot in sheet.slots for item in page.row(slot)),
        *page.write_in("drawing"),
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
    sizes: TypeSizes

    def head_line(self) -> Iterator[Item]:
        say, head, sizes = self.language.say, self.head, self.sizes
        yield from self.text("title", head.title, sizes.title, weight="bold", role="heading")
        yield from self.text("code", self.language.number(head.page_id), sizes.note)
        for tick in self.sheet.of("skipped"):
            words = say("We did not practise with this sheet.")
            yield from self.answer(tick, words, align="start")
        size = self.language.number(f"{head.piece_mm:g} mm")
        words = say("Tonight's piece: {size}").format(size=size)
        yield from self.text("piece", words, sizes.note, valign="middle")
        yield from self.write_in("night", valign="middle")

    def questions(self) -> Iterator[Item]:
        """Ask over the columns, where all rows share them."""
        for name, words in self.asked().items():
            yield from self.text(name, words, self.sizes.home, weight="semibold", valign="bottom")

    def asked(self) -> dict[str, str]:
        say = self.language.say
        asked = {
            "ask.rating": say("How easy was it with your head like this?"),
            "ask.went_down": say("Did it go down?"),
        }
        return asked | ({"ask.why_not": say("If not, why not?")} if self.scale is None else {})

    def row(self, slot: int) -> Iterator[Item]:
        say, position = self.language.say, self.sheet.order[slot - 1]
        areas, words, sizes = self.sheet.areas, HEAD_WORDS[position], self.sizes
        number = {"weight": "bold", "valign": "middle", "colour": "accent"}
        yield from self.text(f"p{slot}.number", str(slot), sizes.child, **number)
        yield self.glyph(areas[f"p{slot}.glyph"], position)
        name = self.head.names[position]
        bold = {"weight": "semibold", "valign": "bottom"}
        yield from self.text(f"p{slot}.word", name, sizes.child, **bold)
        yield from self.text(f"p{slot}.side", say(words.side), sizes.note)
        for name, asked in self.asked().items():
            style = {"weight": "semibold", "valign": "middle"}
            yield from self.text(f"p{slot}.{name}", asked, sizes.home, **style)
        yield from self.row_answers(slot)

    def row_answers(self, slot: int) -> Iterator[Item]:
        say, sheet = self.language.say, self.sheet
        if self.scale is not None:
            labels = RATING_WORDS[self.scale]
            for answer, label in zip(sheet.of(f"p{slot}.rating"), labels, strict=True):
                yield from self.answer(answer, say(label))
        for answer in sheet.of(f"p{slot}.went_down"):
            yield from self.answer(answer, say(WENT_DOWN_WORDS[WentDown(answer.value)]))
        if self.scale is None:
            for answer in sheet.of(f"p{slot}.why_not"):
                yield from self.answer(answer, say(WHY_NOT_WORDS[WhyNot(answer.value)]))

    def band(self) -> Iterator[Item]:
        say = self.language.say
        ask = say("Which one felt best tonight?")
        if self.scale is None:
            ask = say("Point to the one you want tomorrow.")
        yield from self.text("ask.band", ask, self.sizes.band, weight="semibold", align="center")
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
        say, sizes = self.language.say, self.sizes
        ask = say("Did one not go down? Mark why.")
        yield from self.text("ask.why_not", ask, sizes.home, weight="semibold")
        slots = self.sheet.slots
        style = {"weight": "bold", "align": "center", "colour": "accent"}
        for slot in slots:
            yield from self.text(f"p{slot}.head", str(slot), sizes.home, **style)
        for reason in WhyNot:
            for slot in slots:
                for answer in self.sheet.of(f"p{slot}.why_not"):
                    if answer.value == reason:
                        label = say(WHY_NOT_WORDS[reason]) if slot == 1 else ""
                        yield from self.answer(answer, label, align="start")

    def foot(self) -> Iterator[Item]:
        say, areas, head, sizes = self.language.say, self.sheet.areas, self.head, self.sizes
        is_large = sizes is TYPE_SIZES[Edition.LARGE]
        for name in ("date", "pieces", "present"):
            yield from self.write_in(name, **({"valign": "middle"} if is_large else {}))
        yield from self.text("ask.written", say("When did you write this?"), sizes.note)
        for answer in self.sheet.of("written"):
            label = say(WRITTEN_WORDS[Written(answer.value)])
            yield from self.answer(answer, label, align="start")
        why = message("Did one not go down? Write why here. No names.")
        ask = why if is_large and self.scale is not None else _BOX_WORDS["notes"]
        yield from self.text("notes.label", say(ask), sizes.note)
        stop = say("A cough that lasts, pain, being sick, upset: stop for tonight.")
        act = say("Choking, trouble breathing, a piece that feels stuck: act as you were taught.")
        number = self.language.number(head.emergency or "")
        call = [say("Call {number}.").format(number=number)] if number else []
        if head.emergency is not None:
            words = " ".join([stop, act, *call])
            yield from self.text("safety", words, sizes.note, weight="medium")
        length = self.language.number(f"{areas['check'].w:g} mm")
        measured = say("This line measures {length}.").format(length=length)
        yield from self.text("check.label", measured, sizes.fine, valign="middle")

    def text(self, area: str, words: str, size: float, **style: str) -> Iterator[Item]:
        """Set words where this page has room for them."""
        if area in self.sheet.areas:
            yield _text(self.sheet.areas[area], words, size, **style)

    def glyph(self, area: Area, position: Position) -> Item:
        drawing = self.language.say(HEAD_WORDS[position].drawing)
        return {"do": "glyph", "position": position.value, "alt": drawing} | vars(area)

    def answer(self, answer: Answer, label: str, *, align: str = "center") -> Iterator[Item]:
        """Set the words of a mark: below it in the middle, or beside it from its edge on."""
        if label:
            is_beside = answer.label.y < answer.mark.y + answer.mark.h
            style = {"align": "start", "valign": "middle"}
            if not is_beside:
                style = {"align": align, "valign": "top"}
            yield _text(answer.label, label, self.sizes.note, **style)

    def write_in(self, name: str, **style: str) -> Iterator[Item]:
        words = self.language.say(_BOX_WORDS[name])
        yield from self.text(f"{name}.label", words, self.sizes.note, **style)


def _text(area: Area, words: str, size: float, **style: str) -> Item:
    plain = {"weight": "regular", "align": "start", "valign": "top", "role": "p", "colour": "ink"}
    return {"do": "text", "text": words, "size": size} | plain | style | vars(area)
