"""Sheets as their page shows them: questions, the most doubtful first, and sheets to confirm."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import count

from sidelong.clinic.practice.typed import TypedCell, TypedNight, show_cell_text
from sidelong.clinic.sheets.answers import SKIPPED, FieldState
from sidelong.clinic.sheets.forms import ConfirmForm, field_name, guesses_name, write_guesses
from sidelong.clinic.sheets.queries import SheetLine
from sidelong.paper.heads import HEAD_WORDS
from sidelong.training.position import Position

_ASKED = {
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
_WORDS = {
    "rating": {
        "1": "very hard",
        "2": "hard",
        "3": "in between",
        "4": "easy",
        "5": "very easy",
    },
    SKIPPED: {"1": "ticked"},
}
_BLANK = "nothing marked"
# Guesses that may be looked at together, those of one value side by side so that an odd one shows.
# Of some 143 such guesses on 28 poor photographs 2 were wrong, both of them double marks; blanks
# are held to more, since a mark that was missed leaves nothing to see in the words beside it.
_LIKELY, _LIKELY_BLANK = 0.7, 0.9
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


@dataclass(frozen=True)
class ToConfirm:
    """One sheet on which nothing is unclear any more."""

    line: SheetLine
    answers: tuple[str, ...]
    is_skipped: bool
    is_alone: bool
    is_date_proposed: bool
    form: ConfirmForm

    @property
    def is_clear(self) -> bool:
        """Whether it may be confirmed together with others: nothing about it is out of line."""
        line = self.line
        is_plain = line.is_sure and not line.is_wrong_size and not self.is_skipped
        return is_plain and self.is_alone and not line.is_known

    @property
    def has_answers(self) -> bool:
        """Whether anything but the tick is marked."""
        return any(s.value for field, s in self.line.states.items() if field != SKIPPED)

    @property
    def has_said(self) -> bool:
        """Whether a person said what any of its fields shows."""
        return any(state.is_said for state in self.line.states.values())


@dataclass(frozen=True)
class Shown:
    """All sheets of a course, sorted for the page."""

    questions: tuple[Question, ...]
    guesses: tuple[Guesses, ...]
    to_confirm: tuple[ToConfirm, ...]
    spare: tuple[SheetLine, ...]
    done: tuple[SheetLine, ...]

    @property
    def n_to_look_at(self) -> int:
        """How many questions are open, guesses that stand together counted once."""
        return len(self.questions) + len(self.guesses)

    @property
    def n_clear(self) -> int:
        """How many sheets may be confirmed together."""
        return sum(each.is_clear for each in self.to_confirm)


@dataclass(frozen=True)
class Difference:
    """One answer of a night, as it is known and as the sheet has it."""

    what: str
    theirs: str
    ours: str
    areas: tuple[str, ...]


def sort_out(
    lines: Sequence[SheetLine],
    *,
    begins: date | None = None,
    today: date | None = None,
    one_by_one: bool = False,
) -> Shown:
    """Say what a person has to do with each sheet.

    Parameters
    ----------
    lines : sequence of SheetLine
        All of a course.
    begins : date or None
        First evening that was agreed; dates are proposed from it where no night has one.
    today : date or None
        No later date is proposed.
    one_by_one : bool
        Ask every likely answer by itself.

    Returns
    -------
    Shown
        Every sheet once, but for the questions: they mix the sheets.
    """
    numbered = [line for line in lines if line.is_open and line.night is not None]
    asked = sorted(
        ((line, state) for line in numbered for state in line.waiting),
        key=lambda each: (each[1].confidence, each[0].key, each[1].field),
    )
    likely = [(line, state) for line, state in asked if _is_likely(line, state)]
    guesses = () if one_by_one else tuple(_together([_question(*each) for each in likely]))
    grouped = {(g.asked.sheet, g.asked.field) for each in guesses for g in each.items}
    ready = sorted(
        (line for line in numbered if not line.waiting),
        key=lambda each: (each.night or 0, each.part),
    )
    dates = _Dates(lines, begins=begins, today=today)
    return Shown(
        questions=tuple(
            _question(line, state)
            for line, state in asked
            if (line.key, state.field) not in grouped
        ),
        guesses=guesses,
        to_confirm=tuple(_to_confirm(line, lines, dates) for line in ready),
        spare=tuple(line for line in lines if line.is_open and line.night is None),
        done=tuple(line for line in lines if not line.is_open),
    )


def _together(questions: Sequence[Question]) -> Iterator[Guesses]:
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


def _is_likely(line: SheetLine, state: FieldState) -> bool:
    is_plain = line.is_sure and line.has_pixels
    return is_plain and state.confidence >= (_LIKELY if state.read else _LIKELY_BLANK)


def _question(line: SheetLine, state: FieldState) -> Question:
    place, _, kind = state.field.rpartition(".")
    slot = int(place.removeprefix("p")) if place else 0
    position = line.order[slot - 1] if 0 < slot <= len(line.order) else None
    if position is None:
        title = _OF_NIGHT.get(kind, kind.replace("_", " "))
    else:
        title = f"{slot}, {HEAD_WORDS[position].name}: {_ASKED[kind]}"
    values = [*line.values[state.field], ""]
    return Question(
        sheet=line.key,
        night=line.night,
        part=line.part,
        kind=kind,
        field=state.field,
        name=field_name(line.key, state.field),
        title=title,
        position=position,
        choices=tuple(
            Choice(value, _say(kind, value), str(n) if value else "0", value == state.read)
            for n, value in enumerate(values, start=1)
        ),
        has_picture=line.has_pixels,
    )


def _say(kind: str, value: str) -> str:
    if not value:
        return _BLANK
    if value in set(Position):
        return HEAD_WORDS[Position(value)].name
    return _WORDS.get(kind, {}).get(value, value.replace("_", " "))


def _to_confirm(line: SheetLine, lines: Sequence[SheetLine], dates: "_Dates") -> ToConfirm:
    values = {field: state.value for field, state in line.states.items()}
    answers = tuple(
        f"{HEAD_WORDS[position].name}: {_of_slot(values, slot)}"
        for slot, position in enumerate(line.order, start=1)
        if any(name.startswith(f"p{slot}.") for name in values)
    )
    best = values.get("felt_best", "")
    if best:
        answers = (*answers, f"best: {_say('felt_best', best)}")
    proposed = "" if line.evening else dates.propose(line)
    form = ConfirmForm(initial={"evening": line.evening or proposed}, auto_id=f"id_{line.key}_%s")
    same = [
        each
        for each in lines
        if each.is_open and (each.night, each.part) == (line.night, line.part)
    ]
    return ToConfirm(
        line=line,
        answers=answers,
        is_skipped=bool(values.get(SKIPPED)),
        is_alone=len(same) == 1,
        is_date_proposed=bool(proposed),
        form=form,
    )


def _of_slot(values: Mapping[str, str], slot: int) -> str:
    kinds = ("rating", "went_down", "why_not")
    parts = [_say(kind, values[name]) for kind in kinds if values.get(name := f"p{slot}.{kind}")]
    return ", ".join(parts) or _BLANK


class _Dates:
    """Proposes dates: an evening a night, from the nearest earlier night that has one."""

    def __init__(
        self, lines: Iterable[SheetLine], *, begins: date | None, today: date | None
    ) -> None:
        dated = {each.night: each.evening for each in lines if each.night and each.evening}
        self._known = {night: date.fromisoformat(evening) for night, evening in dated.items()}
        if begins is not None:
            self._known.setdefault(1, begins)
        self._today = today

    def propose(self, line: SheetLine) -> str:
        """Propose a date, ISO 8601; empty where nothing is known to count from."""
        night = line.night or 0
        earlier = [each for each in self._known if each <= night]
        if not earlier or not line.date_area:
            return ""
        proposed = self._known[max(earlier)] + timedelta(days=night - max(earlier))
        return "" if self._today and proposed > self._today else proposed.isoformat()


def compare_nights(
    theirs: TypedNight, ours: TypedNight, order: Sequence[Position]
) -> tuple[Difference, ...]:
    """List what differs between a night as it is known and as a sheet has it.

    Parameters
    ----------
    theirs, ours : TypedNight
        As it is known; as the sheet has it.
    order : sequence of Position
        Positions of the slots as they are known.

    Returns
    -------
    tuple of Difference
        Answers that are alike are left out.
    """
    known = dict(zip(order, theirs.cells, strict=True))
    rows = []
    for slot, (position, cell) in enumerate(
        zip(ours.order or order, ours.cells, strict=True), start=1
    ):
        kept = show_cell_text(known.get(position, TypedCell()))
        areas = (f"p{slot}.rating", f"p{slot}.went_down", f"p{slot}.why_not")
        rows.append(Difference(HEAD_WORDS[position].name, kept, show_cell_text(cell), areas))
    of_night = (
        ("best", theirs.felt_best, ours.felt_best, ("felt_best",)),
        ("date", theirs.evening, ours.evening, ("free.0",)),
        ("written", theirs.written, ours.written, ("written",)),
        ("not done", theirs.not_done, ours.not_done, (SKIPPED,)),
    )
    rows += [
        Difference(what, known_as.replace("_", " "), said.replace("_", " "), areas)
        for what, known_as, said, areas in of_night
    ]
    if tuple(order) != (ours.order or tuple(order)):
        names = [", ".join(HEAD_WORDS[each].name for each in some) for some in (order, ours.order)]
        rows.append(Difference("order", names[0], names[1], ()))
    return tuple(row for row in rows if row.theirs != row.ours)
