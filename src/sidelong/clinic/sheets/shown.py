"""Sheets as their page shows them: questions, the most doubtful first, and sheets to confirm."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sidelong.clinic.practice.typed import TypedCell, TypedNight, show_cell_text
from sidelong.clinic.sheets.answers import SKIPPED
from sidelong.clinic.sheets.asked import (
    ASKED,
    BLANK,
    Guesses,
    Question,
    ask,
    gather_guesses,
    is_likely,
    say,
)
from sidelong.clinic.sheets.forms import ConfirmForm
from sidelong.clinic.sheets.notes import Handwriting, Typed
from sidelong.clinic.sheets.queries import SheetLine
from sidelong.paper.heads import HEAD_WORDS
from sidelong.training.position import Position


@dataclass(frozen=True)
class ToConfirm:
    """One sheet on which nothing is unclear any more."""

    line: SheetLine
    answers: tuple[str, ...]
    is_skipped: bool
    is_alone: bool
    is_date_proposed: bool
    form: ConfirmForm
    notes: tuple[tuple[Handwriting, str], ...]

    @property
    def pictures(self) -> tuple[str, ...]:
        """Areas written by hand whose picture stands apart: beside no field, empty or not."""
        beside = {hand.area for hand, _ in self.notes} | {self.line.date_area}
        return tuple(area for area in self.line.notes if area not in beside)

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
    def n_notes(self) -> int:
        """How many notes are written that nobody has typed."""
        return sum(hand.waits for each in self.to_confirm for hand, _ in each.notes)

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
    typed: Typed | None = None,
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
    typed : mapping of (int, str) to str, optional
        What a form held of areas written by hand, and was not kept.

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
    likely = [(line, state) for line, state in asked if is_likely(line, state)]
    guesses = () if one_by_one else tuple(gather_guesses([ask(*each) for each in likely]))
    grouped = {(g.asked.sheet, g.asked.field) for each in guesses for g in each.items}
    ready = sorted(
        (line for line in numbered if not line.waiting),
        key=lambda each: (each.night or 0, each.part),
    )
    dates = _Dates(lines, begins=begins, today=today)
    return Shown(
        questions=tuple(
            ask(line, state) for line, state in asked if (line.key, state.field) not in grouped
        ),
        guesses=guesses,
        to_confirm=tuple(_to_confirm(line, lines, dates, typed or {}) for line in ready),
        spare=tuple(line for line in lines if line.is_open and line.night is None),
        done=tuple(line for line in lines if not line.is_open),
    )


def _to_confirm(
    line: SheetLine, lines: Sequence[SheetLine], dates: "_Dates", typed: Typed
) -> ToConfirm:
    values = {field: state.value for field, state in line.states.items()}
    answers = tuple(
        f"{HEAD_WORDS[position].name}: {_of_slot(line, values, slot)}"
        for slot, position in enumerate(line.order, start=1)
        if any(name.startswith(f"p{slot}.") for name in values)
    )
    best = values.get("felt_best", "")
    if best:
        answers = (*answers, f"best: {say('felt_best', best, ())}")
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
        notes=tuple(
            (hand, typed.get((line.key, hand.area), hand.text)) for hand in line.note_areas
        ),
    )


def _of_slot(line: SheetLine, values: Mapping[str, str], slot: int) -> str:
    names = {kind: f"p{slot}.{kind}" for kind in ASKED}
    parts = [
        say(kind, values[name], line.values[name])
        for kind, name in names.items()
        if values.get(name)
    ]
    return ", ".join(parts) or BLANK


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
        if not earlier or not line.date_area or line.seems_undated:
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
        areas: tuple[str, ...] = (f"p{slot}.rating", f"p{slot}.went_down")
        areas += (f"p{slot}.why_not",) if cell.why_not else ()
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
