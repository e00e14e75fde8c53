"""What is asked of whoever looks at sheets: fields by themselves, and likely guesses together."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from sidelong.clinic.sheets.answers import SAME, SKIPPED, FieldState
from sidelong.clinic.sheets.forms import field_name, guesses_name, write_guesses
from sidelong.clinic.sheets.queries import SheetLine
from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.night_page import (
    RATING_WORDS,
    WENT_DOWN_WORDS,
    WHY_NOT_WORDS,
    WRITTEN_WORDS,
)
from sidelong.training.entry import Scale
from sidelong.training.position import Position

ASKED = {
    "rating": "how easy was it?",
    "went_down": "did it go down?",
    "why_not": "why not?",
}
_OF_NIGHT = {
    "felt_best": "Which one felt best?",
    "tomorrow": "Which one tomorrow?",
    "written": "When was it written?",
    SKIPPED: "Is it ticked that nobody practised?",
}
_OF_KIND = {
    "rating": "How easy was it?",
    "went_down": "Did it go down?",
    "why_not": "Why not?",
} | _OF_NIGHT
_WORDS: dict[str, Mapping[str, str]] = {
    "went_down": {str(each): words for each, words in WENT_DOWN_WORDS.items()},
    "why_not": {str(each): words for each, words in WHY_NOT_WORDS.items()},
    "written": {str(each): words for each, words in WRITTEN_WORDS.items()},
    "felt_best": {SAME: "all the same"},
    SKIPPED: {"1": "ticked"},
}
BLANK = "nothing marked"
_NOTHING = "nothing, or nothing clear"  # two marks alike are no answer
# Guesses that may be looked at together, those of one value side by side so that an odd one shows,
# the most doubtful first. Of 366 such guesses on 56 poor photographs of the first generator 7 were
# wrong, and each of those shows two marks, a rubbed one or none. Blanks are held to more, since a
# mark that was missed leaves nothing to see in the words beside it.
_LIKELY, _LIKELY_BLANK = 0.5, 0.6
_MOST_TOGETHER = 12  # with more, the pictures do not fit on one screen
_FEWEST_ALIKE = 3
LETTERS = "abcdefghijkl"


@dataclass(frozen=True)
class Choice:
    """One answer that a question can have, with the key that gives it."""

    value: str
    words: str
    key: str
    is_read: bool


@dataclass(frozen=True)
class Question:
    """One field that a person has to look at."""

    sheet: int
    night: int | None
    part: int
    kind: str
    field: str
    name: str
    title: str
    position: Position | None
    choices: tuple[Choice, ...]
    has_picture: bool

    @property
    def short(self) -> str:
        """The question where its kind is said already."""
        return self.title.partition(":")[0] if self.position else self.title

    @property
    def guessed(self) -> str:
        """What the computer takes it for, in words."""
        return self.guess.words if self.guess.value else BLANK

    @property
    def guess(self) -> Choice:
        """What the computer takes it for."""
        return next(choice for choice in self.choices if choice.is_read)


@dataclass(frozen=True)
class Guess:
    """One likely answer among those that are looked at together, with the key that takes it out."""

    letter: str
    asked: Question


@dataclass(frozen=True)
class Guesses:
    """Likely answers of several sheets that a person looks at together."""

    number: int
    title: str
    is_alike: bool
    items: tuple[Guess, ...]

    @property
    def name(self) -> str:
        """Of its one choice in a form."""
        return guesses_name(self.number)

    @property
    def value(self) -> str:
        """All fields with what is guessed, as that choice sends them."""
        asked = (each.asked for each in self.items)
        return write_guesses((each.sheet, each.field, each.guess.value) for each in asked)


def gather_guesses(questions: Sequence[Question]) -> Iterator[Guesses]:
    """Gather likely answers: those of one kind and value side by side, the few others mixed."""
    alike: dict[tuple[str, str], list[Question]] = {}
    for each in questions:
        alike.setdefault((each.kind, each.guess.value), []).append(each)
    others = [each for some in alike.values() if len(some) < _FEWEST_ALIKE for each in some]
    numbers = count(1)
    for some in sorted(alike.values(), key=lambda some: (some[0].kind, some[0].guess.value)):
        if len(some) >= _FEWEST_ALIKE:
            for few in _parts(some):
                yield _guesses(next(numbers), few, is_alike=True)
    for few in _parts(sorted(others, key=lambda each: each.kind)):
        if len(few) > 1:
            yield _guesses(next(numbers), few, is_alike=False)


def _parts(some: Sequence[Question]) -> Iterator[Sequence[Question]]:
    """Part questions evenly into as few groups as their size allows."""
    n_parts = -(-len(some) // _MOST_TOGETHER)
    for part in range(n_parts):
        yield some[part * len(some) // n_parts : (part + 1) * len(some) // n_parts]


def _guesses(number: int, some: Sequence[Question], *, is_alike: bool) -> Guesses:
    kind, words = some[0].kind, some[0].guess.words
    if not is_alike:
        title = f"Are these {len(some)} guesses right?"
    elif some[0].guess.value:
        title = f"{_OF_KIND[kind]} Is \u201c{words}\u201d marked on each of these {len(some)}?"
    else:
        title = f"{_OF_KIND[kind]} Is nothing marked on each of these {len(some)}?"
    items = tuple(Guess(letter, each) for letter, each in zip(LETTERS, some, strict=False))
    return Guesses(number, title, is_alike, items)


def is_likely(line: SheetLine, state: FieldState) -> bool:
    """Tell whether a guess may be looked at together with others: likely, and of a sure sheet."""
    is_plain = line.is_sure and line.has_pixels
    return is_plain and state.confidence >= (_LIKELY if state.read else _LIKELY_BLANK)


def ask(line: SheetLine, state: FieldState) -> Question:
    """Ask what one field of a sheet shows."""
    place, _, kind = state.field.rpartition(".")
    slot = int(place.removeprefix("p")) if place else 0
    position = line.order[slot - 1] if 0 < slot <= len(line.order) else None
    if position is None:
        title = _OF_NIGHT.get(kind, kind.replace("_", " "))
    else:
        title = f"{HEAD_WORDS[position].name}, row {slot}: {ASKED[kind]}"
    marks = line.values[state.field]
    return Question(
        sheet=line.key,
        night=line.night,
        part=line.part,
        kind=kind,
        field=state.field,
        name=field_name(line.key, state.field),
        title=title,
        position=position,
        choices=(
            *(
                Choice(value, say(kind, value, marks), str(n), value == state.read)
                for n, value in enumerate(marks, start=1)
            ),
            Choice("", _NOTHING, "0", not state.read),
        ),
        has_picture=line.has_pixels,
    )


def say(kind: str, value: str, marks: Sequence[str]) -> str:
    """Say an answer in the words that stand on the sheet beside its mark."""
    if not value:
        return BLANK
    if value in set(Position):
        return HEAD_WORDS[Position(value)].name
    if kind == "rating" and value in marks and len(marks) in set(Scale):
        return RATING_WORDS[Scale(len(marks))][marks.index(value)]
    return _WORDS.get(kind, {}).get(value, value.replace("_", " "))
