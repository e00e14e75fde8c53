"""Sheets as their page shows them: questions, the most doubtful first, and sheets to confirm."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sidelong.clinic.practice.typed import TypedNight, show_cell_text
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
# Guesses that may be looked at together, as one question of a sheet. None of 90 such guesses in
# 14 poor photographs was wrong (tests/browser/test_sheets.py has the photographs); blanks are held
# to more, since a mark that was missed leaves nothing to see in the words beside it.
_LIKELY, _LIKELY_BLANK = 0.7, 0.9


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
    field: str
    name: str
    title: str
    position: Position | None
    choices: tuple[Choice, ...]
    has_picture: bool

    @property
    def guess(self) -> Choice:
        """What the computer takes it for."""
        return next(choice for choice in self.choices if choice.is_read)


@dataclass(frozen=True)
class Guesses:
    """Likely answers of one sheet that a person looks at together."""

    sheet: int
    night: int | None
    items: tuple[Question, ...]

    @property
    def name(self) -> str:
        """Of its one choice in a form."""
        return guesses_name(self.sheet)

    @property
    def value(self) -> str:
        """All fields with what is guessed, as that choice sends them."""
        return write_guesses((each.field, each.guess.value) for each in self.items)


@dataclass(frozen=True)
class ToConfirm:
    """One sheet on which nothing is unclear any more."""

    line: SheetLine
    answers: tuple[str, ...]
    is_skipped: bool
    is_alone: bool
    form: ConfirmForm

    @property
    def is_clear(self) -> bool:
        """Whether it may be confirmed together with others: nothing about it is out of line."""
        line = self.line
        is_plain = line.is_sure and not line.is_wrong_size and not self.is_skipped
        return is_plain and self.is_alone and not line.is_known

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
        """How many questions are open, guesses of one sheet taken together."""
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


def sort_out(lines: Sequence[SheetLine], *, one_by_one: Collection[int] = ()) -> Shown:
    """Say what a person has to do with each sheet.

    Parameters
    ----------
    lines : sequence of SheetLine
        All of a course.
    one_by_one : collection of int
        Sheets whose likely answers are asked one by one as well.

    Returns
    -------
    Shown
        Every sheet once, but for the questions: they mix the sheets.
    """
    numbered = [line for line in lines if line.is_open and line.night is not None]
    asked = sorted(
        ((state.confidence, line, state) for line in numbered for state in line.waiting),
        key=lambda each: (each[0], each[1].key, each[2].field),
    )
    together = {
        line.key: [s for s in line.states.values() if s in line.waiting and _is_likely(s)]
        for line in numbered
        if line.is_sure and line.has_pixels and line.key not in one_by_one
    }
    together = {key: states for key, states in together.items() if len(states) > 1}
    ready = sorted(
        (line for line in numbered if not line.waiting), key=lambda each: each.night or 0
    )
    return Shown(
        questions=tuple(
            _question(line, state)
            for _, line, state in asked
            if state not in together.get(line.key, ())
        ),
        guesses=tuple(
            Guesses(line.key, line.night, tuple(_question(line, state) for state in likely))
            for line in numbered
            if (likely := together.get(line.key))
        ),
        to_confirm=tuple(_to_confirm(line, lines) for line in ready),
        spare=tuple(line for line in lines if line.is_open and line.night is None),
        done=tuple(line for line in lines if not line.is_open),
    )


def _is_likely(state: FieldState) -> bool:
    return state.confidence >= (_LIKELY if state.read else _LIKELY_BLANK)


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


def _to_confirm(line: SheetLine, lines: Sequence[SheetLine]) -> ToConfirm:
    values = {field: state.value for field, state in line.states.items()}
    answers = tuple(
        f"{HEAD_WORDS[position].name}: {_of_slot(values, slot)}"
        for slot, position in enumerate(line.order, start=1)
    )
    best = values.get("felt_best", "")
    if best:
        answers = (*answers, f"best: {_say('felt_best', best)}")
    evening = line.evening or _next_evening(line, lines)
    form = ConfirmForm(initial={"evening": evening}, auto_id=f"id_{line.key}_%s")
    same = [each for each in lines if each.is_open and each.night == line.night]
    return ToConfirm(line, answers, bool(values.get(SKIPPED)), len(same) == 1, form)


def _of_slot(values: Mapping[str, str], slot: int) -> str:
    kinds = ("rating", "went_down", "why_not")
    parts = [_say(kind, values[name]) for kind in kinds if values.get(name := f"p{slot}.{kind}")]
    return ", ".join(parts) or _BLANK


def _next_evening(line: SheetLine, lines: Iterable[SheetLine]) -> str:
    """Propose a date where an earlier night has one: the evenings in between, one a day."""
    dated = [(each.night, each.evening) for each in lines if each.night and each.evening]
    earlier = [(night, evening) for night, evening in dated if night < (line.night or 0)]
    if not earlier:
        return ""
    night, evening = max(earlier)
    return (date.fromisoformat(evening) + timedelta(days=(line.night or 0) - night)).isoformat()


def compare_nights(
    theirs: TypedNight, ours: TypedNight, order: Sequence[Position]
) -> tuple[Difference, ...]:
    """List what differs between a night as it is known and as a sheet has it.

    Parameters
    ----------
    theirs, ours : TypedNight
        As it is known; as the sheet has it.
    order : sequence of Position
        Positions of the slots.

    Returns
    -------
    tuple of Difference
        Answers that are alike are left out.
    """
    rows = [
        (HEAD_WORDS[position].name, show_cell_text(known), show_cell_text(sheet))
        for position, known, sheet in zip(order, theirs.cells, ours.cells, strict=True)
    ]
    rows += [
        ("best", theirs.felt_best.replace("_", " "), ours.felt_best.replace("_", " ")),
        ("date", theirs.evening, ours.evening),
        ("written", theirs.written.replace("_", " "), ours.written.replace("_", " ")),
        ("not done", theirs.not_done.replace("_", " "), ours.not_done.replace("_", " ")),
    ]
    return tuple(Difference(*row) for row in rows if row[1] != row[2])
