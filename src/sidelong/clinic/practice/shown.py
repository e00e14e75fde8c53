"""What the grid's page shows, as values for its template and its script."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace

from sidelong.clinic.practice.actions import Clash
from sidelong.clinic.practice.beside import NightNote
from sidelong.clinic.practice.evening import NotDone
from sidelong.clinic.practice.queries import Grid, GridNight
from sidelong.clinic.practice.typed import GridFault, TypedCell, TypedNight, show_cell_text
from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import read_language
from sidelong.paper.night_page import WHY_NOT_WORDS, WRITTEN_WORDS
from sidelong.pathway.report_words import rating_word
from sidelong.training.entry import Entry, EntryRow, RatedBy, Scale
from sidelong.training.position import Position

_NOT_DONE_WORDS = {
    NotDone.ILL: "ill",
    NotDone.TIRED: "too tired",
    NotDone.AWAY: "away from home",
    NotDone.FORGOTTEN: "forgotten",
    NotDone.NO_WISH: "did not want to",
    NotDone.OTHER: "another reason",
}
_BLANK = ("", "not said")

FIELDS: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("evening", "Date", ()),
    ("written", "Written down", (_BLANK, *((str(k), v) for k, v in WRITTEN_WORDS.items()))),
    (
        "not_done",
        "Nobody practised",
        (("", ""), *((str(k), v) for k, v in _NOT_DONE_WORDS.items())),
    ),
    ("rated_by", "Rated by", (_BLANK, *((str(each), str(each)) for each in RatedBy))),
    ("scale", "Answers offered", tuple((str(int(each)), str(int(each))) for each in Scale)),
    ("piece_mm", "Piece, mm, if not as planned", ()),
)
"""Fields of a night as a whole: name, label, and the answers of a choice."""


@dataclass(frozen=True)
class ShownCell:
    """One cell: its place, its position, its text, and what is said of it."""

    slot: int
    position: Position
    name: str
    text: str
    faults: tuple[str, ...]


@dataclass(frozen=True)
class ShownField:
    """One field of the night as a whole."""

    name: str
    label: str
    value: str
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ShownNight:
    """One night with all that its part of the page says."""

    row: int
    night: int
    base: int
    piece_mm: float
    cells: tuple[ShownCell, ...]
    best: str
    fields: tuple[ShownField, ...]
    faults: tuple[str, ...]
    notices: tuple[str, ...]
    has_clashed: bool
    best_column: int
    notes: tuple[NightNote, ...] = ()


@dataclass(frozen=True)
class NightLine:
    """One night in a row of a table: its answers in their order, and its best."""

    night: int
    answers: str
    best: str


@dataclass(frozen=True)
class KeyHelp:
    """One key, what it does, and the words on its button."""

    key: str
    shown: str
    words: str


def shown_nights(
    grid: Grid,
    *,
    typed: Sequence[TypedNight] = (),
    faults: Sequence[GridFault] = (),
    clashes: Sequence[Clash] = (),
    notes_of: Callable[[int], tuple[NightNote, ...]] = lambda _: (),
) -> tuple[ShownNight, ...]:
    """Lay out all nights; what was typed and not kept stands as it was typed.

    Parameters
    ----------
    grid : Grid
        Nights as they are kept.
    typed : sequence of TypedNight
        What was sent.
    faults : sequence of GridFault
        What is wrong with it.
    clashes : sequence of Clash
        Nights that somebody else has changed: theirs stands in the cells.
    notes_of : callable
        Gives the notes of a night by its number.

    Returns
    -------
    tuple of ShownNight
        By night.
    """
    faulty = {fault.night for fault in faults}
    mine = {night.night: night for night in typed if night.night in faulty}
    clashed = {clash.night for clash in clashes}
    return tuple(
        replace(
            _shown(row, night, mine.get(night.typed.night, night.typed), faults, clashed),
            notes=notes_of(night.typed.night),
        )
        for row, night in enumerate(grid.nights)
    )


def night_lines(entries: Sequence[Entry]) -> tuple[NightLine, ...]:
    """List the nights that an answer rests on, each as it was written down.

    Parameters
    ----------
    entries : sequence of Entry
        Nights with an answer.

    Returns
    -------
    tuple of NightLine
        By night.
    """
    return tuple(
        NightLine(
            night=entry.night,
            answers="; ".join(_answer_words(row) for row in entry.rows),
            best="all the same" if entry.all_the_same else _best_name(entry.felt_best),
        )
        for entry in sorted(entries, key=lambda each: each.night)
    )


def for_script(grid: Grid, *, user: str, url: str) -> dict[str, object]:
    """Give what the grid's script begins with."""
    start = grid.plan.start
    return {
        "user": user,
        "code": grid.code,
        "course": grid.course,
        "url": url,
        "start": start.isoformat() if start else "",
        "nights": [asdict(night.typed) for night in grid.nights],
        "orders": [list(night.order) for night in grid.nights],
    }


def reply_of(
    *,
    versions: Mapping[int, int],
    faults: Sequence[GridFault],
    notices: Sequence[GridFault],
    clashes: Sequence[Clash],
) -> dict[str, object]:
    """Give what the script is answered."""
    return {
        "versions": {str(night): version for night, version in versions.items()},
        "faults": [_said(each) for each in faults],
        "notices": [_said(each) for each in notices],
        "clashes": [{"night": each.night, "theirs": asdict(each.theirs)} for each in clashes],
    }


def key_help(grid: Grid) -> tuple[tuple[str, tuple[KeyHelp, ...]], ...]:
    """List the keys in groups, with what each does."""
    language = read_language("en")
    scale = Scale(int(grid.nights[0].typed.scale or 5))
    ratings = tuple(
        KeyHelp(str(each), str(each), rating_word(float(each), language)) for each in scale.ratings
    )
    went_down = (
        KeyHelp("f", "F", "first try"),
        KeyHelp("l", "L", "later try"),
        KeyHelp("n", "N", "no"),
    )
    letters = ("s", "m", "r", "x")
    why_not = tuple(
        KeyHelp(key, key.upper(), words)
        for key, words in zip(letters, WHY_NOT_WORDS.values(), strict=True)
    )
    best = (
        KeyHelp("0", "0", "all the same"),
        *(
            KeyHelp(str(slot), str(slot), f"place {slot} of the night")
            for slot in range(1, len(grid.plan.positions) + 1)
        ),
    )
    others = (
        KeyHelp("a", "A", "all rated here went down first try"),
        KeyHelp("Backspace", "\N{ERASE TO THE LEFT}", "clear"),
        KeyHelp("+", "+", "a day later"),
        KeyHelp("-", "\N{MINUS SIGN}", "a day earlier"),
        KeyHelp("w", "W", "when it was written"),
    )
    return (
        ("How easy it felt, and on", ratings),
        ("Whether it went down", went_down),
        ("Why not", why_not),
        ("In the column Best", best),
        ("For the night", others),
    )


def _shown(
    row: int,
    night: GridNight,
    typed: TypedNight,
    faults: Sequence[GridFault],
    clashed: set[int],
) -> ShownNight:
    own = [fault for fault in faults if fault.night == typed.night]
    cells = tuple(
        ShownCell(
            slot=slot,
            position=position,
            name=HEAD_WORDS[position].name,
            text=show_cell_text(cell),
            faults=tuple(fault.text for fault in own if fault.slot == slot),
        )
        for slot, (position, cell) in enumerate(zip(night.order, typed.cells, strict=True), start=1)
    )
    return ShownNight(
        row=row,
        night=typed.night,
        base=night.typed.base,
        piece_mm=night.piece_mm,
        cells=cells,
        best=typed.felt_best.replace("_", " "),
        fields=tuple(
            ShownField(name, label, str(getattr(typed, name)), choices)
            for name, label, choices in FIELDS
        ),
        faults=tuple(fault.text for fault in own if not fault.slot),
        notices=tuple(notice.text for notice in night.notices),
        has_clashed=typed.night in clashed,
        best_column=len(cells),
    )


def _answer_words(row: EntryRow) -> str:
    cell = TypedCell(
        rating=str(row.rating or ""),
        went_down=str(row.went_down or ""),
        why_not=str(row.why_not or ""),
    )
    return f"{HEAD_WORDS[row.position].name} {show_cell_text(cell) or 'blank'}"


def _best_name(position: Position | None) -> str:
    return HEAD_WORDS[position].name if position else "not said"


def _said(fault: GridFault) -> dict[str, object]:
    return {
        "night": fault.night,
        "slot": fault.slot,
        "column": fault.column,
        "text": fault.text,
    }
