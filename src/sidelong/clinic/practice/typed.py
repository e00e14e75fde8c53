"""What somebody typed for a night, checked by the same rules as a table of entries.

Every cell arrives as text. The texts of a night are laid out as the rows of such a table, in the
order of the plan, and read by :mod:`sidelong.exchange.entries`; so a fault says here, word for
word, what the command line says of the same entries.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from sidelong.clinic.practice.evening import Evening, NotDone
from sidelong.clinic.practice.models import ALL_THE_SAME
from sidelong.exchange.columns import CellFault, Column, Kind
from sidelong.exchange.entries import ENTRY_COLUMNS, gather_entries
from sidelong.exchange.tables import Scan, parse_rows
from sidelong.problems import Problem, Refused
from sidelong.training.entry import Entry, Scale, Source, Written
from sidelong.training.plan import Plan
from sidelong.training.position import Position

_COLUMNS = {column.name: column for column in ENTRY_COLUMNS}
_EVENING = Column(name="evening", kind=Kind.DATE, says="Date of the evening.", may_be_blank=True)
_NOT_DONE = Column(
    name="not_done",
    kind=Kind.CHOICE,
    says="Why nobody practised.",
    choices=tuple(NotDone),
    may_be_blank=True,
)
_PLACE = re.compile(r", row (?P<slot>[0-9]+)(?:, (?P<column>\w+))?$")


@dataclass(frozen=True)
class TypedCell:
    """One position of a night, as text; each may be empty, which stays empty."""

    rating: str = ""
    went_down: str = ""
    why_not: str = ""

    @property
    def is_blank(self) -> bool:
        """Whether nothing was typed."""
        return not (self.rating or self.went_down or self.why_not)


@dataclass(frozen=True)
class TypedNight:
    """One night, as text.

    Parameters
    ----------
    night : int
        Number of the sheet.
    base : int
        Version that was on the page when it was typed; 0 for none.
    cells : tuple of TypedCell
        By slot, slot 1 first.
    felt_best : str
        Position, ``all_the_same`` or empty.
    evening, written, not_done, piece_mm, scale, rated_by : str
        Of the night as a whole; an empty piece is the planned one, an empty scale five answers.
    order : tuple of Position
        Positions of the cells, where a sheet says them; empty for those that the grid shows.
    plan_version : int
        Version of the plan that a sheet was printed from; 0 for the one that the grid shows.
    """

    night: int
    base: int
    cells: tuple[TypedCell, ...]
    felt_best: str = ""
    evening: str = ""
    written: str = ""
    not_done: str = ""
    piece_mm: str = ""
    scale: str = ""
    rated_by: str = ""
    order: tuple[Position, ...] = ()
    plan_version: int = 0


@dataclass(frozen=True)
class GridFault:
    """What is wrong, or worth a look, in one cell.

    Parameters
    ----------
    night : int
        Number of the sheet.
    slot : int
        Place in the night's order; 0 for the night as a whole.
    column : str
        Which answer, as tables of entries name it.
    problem : Problem
        What is wrong and what to do.
    """

    night: int
    slot: int
    column: str
    problem: Problem

    @property
    def text(self) -> str:
        """What stands at the cell, which says by itself where."""
        return f"{self.problem.what}. {self.problem.remedy}"


@dataclass(frozen=True)
class CheckedNight:
    """A typed night with all that was found.

    Parameters
    ----------
    typed : TypedNight
        As it came.
    evening : Evening or None
        Its values; None where there is a fault.
    faults, notices : tuple of GridFault
        What has to be put right, and what was kept but is unlikely.
    """

    typed: TypedNight
    evening: Evening | None
    faults: tuple[GridFault, ...] = ()
    notices: tuple[GridFault, ...] = field(default=())


def check_night(
    typed: TypedNight,
    *,
    plan: Plan,
    order: Sequence[Position],
    today: date,
    source: Source = Source.TYPED,
) -> CheckedNight:
    """Check what was typed for one night.

    Parameters
    ----------
    typed : TypedNight
        As it came.
    plan : Plan
        The plan version that the night belongs to.
    order : sequence of Position
        Positions of the cells, slot 1 first; see :func:`order_of`.
    today : date
        The day after which no evening can have been.
    source : Source
        How the night reached the clinic.

    Returns
    -------
    CheckedNight
        Values, or faults by cell.
    """
    faults = [*_night_faults(typed, plan, order, today)]
    if any(fault.column == "night" for fault in faults):
        return CheckedNight(typed, None, tuple(faults))
    scan = _lay_out(typed, plan, order, source)
    notices: tuple[GridFault, ...] = ()
    entry = _without_rows(typed, plan, source)
    try:
        if scan.rows:
            read = gather_entries(scan, plans=[plan], today=today)
            entry = read.entries[0]
            notices = tuple(_at_cell(typed.night, each) for each in read.notices)
    except Refused as refused:
        faults += [_at_cell(typed.night, each) for each in refused.problems]
    if faults or entry is None:
        return CheckedNight(typed, None, tuple(faults))
    evening = Evening(
        entry=entry,
        evening=date.fromisoformat(typed.evening) if typed.evening else None,
        not_done=NotDone(typed.not_done) if typed.not_done else None,
    )
    return CheckedNight(typed, evening, (), notices)


def _night_faults(
    typed: TypedNight, plan: Plan, order: Sequence[Position], today: date
) -> Iterator[GridFault]:
    """Find what is wrong with the night as a whole."""
    if not 1 <= typed.night <= len(plan.nights):
        what = f"night {typed.night} is beyond the {len(plan.nights)} nights of the plan"
        remedy = "Correct the night: it is the number of the sheet."
        yield _of_night(typed, "night", what, remedy, kind="no-plan")
        return
    if len(typed.cells) != len(order):
        what = f"there are {len(typed.cells)} cells for {len(order)} positions"
        yield _of_night(typed, "night", what, "Load the page again.", kind="no-plan")
    best = Column(
        name="felt_best",
        kind=Kind.CHOICE,
        says="The night's best.",
        choices=(*order, ALL_THE_SAME),
        may_be_blank=True,
    )
    columns = (
        (_EVENING, typed.evening),
        (_NOT_DONE, typed.not_done),
        (best, typed.felt_best),
        (_COLUMNS["written"], typed.written),
        (_COLUMNS["scale"], typed.scale),
        (_COLUMNS["rated_by"], typed.rated_by),
        (_COLUMNS["piece_mm"], typed.piece_mm),
    )
    for column, text in columns:
        try:
            value = column.read_cell(text)
        except CellFault as fault:
            yield _of_night(typed, column.name, fault.what, fault.remedy)
            continue
        if isinstance(value, date) and value > today:
            what = f"{value} is in the future; today is {today}"
            yield _of_night(typed, column.name, what, "Correct the date.", kind="future")
    if typed.not_done and any(not cell.is_blank for cell in typed.cells):
        what = "it says why nobody practised, but there is an answer"
        yield _of_night(typed, "not_done", what, "Look at the sheet and clear one of them.")


def _lay_out(typed: TypedNight, plan: Plan, order: Sequence[Position], source: Source) -> Scan:
    """Write a night's texts as the rows of a table of entries; the row's number is its slot."""
    planned = plan.nights[typed.night - 1]
    named = typed.felt_best
    of_night = {
        "trainee": plan.trainee,
        "night": str(typed.night),
        "course": str(plan.course),
        "version": str(plan.version),
        "written": typed.written,
        "scale": typed.scale,
        "source": source,
        "site": plan.site,
        "band": plan.band,
    }
    raw: list[tuple[int, dict[str, str], dict[str, str]]] = []
    for slot, (position, cell) in enumerate(zip(order, typed.cells, strict=False), start=1):
        # The favourite was tried, whether or not more was written down about it.
        if cell.is_blank and named != position:
            continue
        texts = of_night | {
            "slot": str(slot),
            "position": position,
            "piece_mm": typed.piece_mm or repr(float(planned.piece_mm)),
            "rating": cell.rating,
            "went_down": cell.went_down,
            "why_not": cell.why_not,
            "rated_by": typed.rated_by,
            "felt_best": str(int(named == position)) if named else "",
        }
        raw.append((slot, texts, {}))
    # What is one value for the night was read above: here it would be told for every row again.
    told_above = {"written", "scale", "rated_by", "piece_mm"}
    rows, faults = parse_rows(plan.trainee, raw, list(ENTRY_COLUMNS), decimal_comma=False)
    kept = [each for each in faults if _place(each)[1] not in told_above]
    return Scan(plan.trainee, tuple(rows), tuple(kept), frozenset(_COLUMNS))


def _without_rows(typed: TypedNight, plan: Plan, source: Source) -> Entry | None:
    """Make the entry of a night without an answer; None where its words cannot be read."""
    try:
        return Entry(
            trainee=plan.trainee,
            night=typed.night,
            rows=(),
            all_the_same=typed.felt_best == ALL_THE_SAME,
            course=plan.course,
            version=plan.version,
            scale=Scale(int(typed.scale or 5)),
            written=Written(typed.written) if typed.written else None,
            source=source,
            site=plan.site,
            band=plan.band,
        )
    except ValueError:
        return None


def _of_night(
    typed: TypedNight, column: str, what: str, remedy: str, *, kind: str = "cell"
) -> GridFault:
    problem = Problem(f"night {typed.night}, {column}", what, remedy, kind)
    return GridFault(typed.night, 0, column, problem)


def _at_cell(night: int, problem: Problem) -> GridFault:
    slot, column = _place(problem)
    return GridFault(night, slot, column, problem)


def _place(problem: Problem) -> tuple[int, str]:
    """Read slot and column from where a problem says it is."""
    found = _PLACE.search(problem.where)
    return (int(found["slot"]), found["column"] or "") if found else (0, "")


_WORDS = {
    "f": TypedCell("", "first"),
    "first": TypedCell("", "first"),
    "l": TypedCell("", "later"),
    "later": TypedCell("", "later"),
    "n": TypedCell("", "no"),
    "no": TypedCell("", "no"),
    "s": TypedCell("", "no", "spat_out"),
    "spat out": TypedCell("", "no", "spat_out"),
    "m": TypedCell("", "no", "melted"),
    "melted": TypedCell("", "no", "melted"),
    "r": TypedCell("", "no", "refused"),
    "refused": TypedCell("", "no", "refused"),
    "x": TypedCell("", "no", "not_tried"),
    "not tried": TypedCell("", "no", "not_tried"),
}


def read_cell_text(text: str) -> TypedCell:
    """Read a cell as a form without a script sends it: a rating, words, or both.

    Parameters
    ----------
    text : str
        For example ``"4 first"``, ``"4f"``, ``"spat out"``; letters stand for the words.

    Returns
    -------
    TypedCell
        What cannot be read is handed on, so that it is refused with its reason.
    """
    rest = text.strip().lstrip("0123456789.,-+")
    rating, words = text.strip().removesuffix(rest), rest.strip()
    known = _WORDS.get(words.casefold(), TypedCell("", words))
    return TypedCell(rating, known.went_down, known.why_not)


def show_cell_text(cell: TypedCell) -> str:
    """Write a cell as :func:`read_cell_text` reads it."""
    words = cell.why_not.replace("_", " ") if cell.why_not else cell.went_down
    return f"{cell.rating} {words}".strip()


def to_typed(
    evening: Evening, *, plan: Plan, order: Sequence[Position], version: int
) -> TypedNight:
    """Write a night that was kept as it would be typed.

    Parameters
    ----------
    evening : Evening
        As it was kept.
    plan : Plan
        The plan version that it belongs to.
    order : sequence of Position
        Positions of the cells, slot 1 first.
    version : int
        Of the kept night.

    Returns
    -------
    TypedNight
        Checking it gives the same evening.
    """
    entry = evening.entry
    planned = plan.nights[entry.night - 1]
    rows = {row.position: row for row in entry.rows}
    cells = tuple(
        TypedCell(
            rating=str(row.rating or ""),
            went_down=str(row.went_down or ""),
            why_not=str(row.why_not or ""),
        )
        if (row := rows.get(position))
        else TypedCell()
        for position in order
    )
    pieces = {row.piece_mm for row in entry.rows if row.piece_mm} - {planned.piece_mm}
    return TypedNight(
        night=entry.night,
        base=version,
        cells=cells,
        felt_best=ALL_THE_SAME if entry.all_the_same else str(entry.felt_best or ""),
        evening=evening.evening.isoformat() if evening.evening else "",
        written=str(entry.written or ""),
        not_done=str(evening.not_done or ""),
        piece_mm=f"{min(pieces):g}" if pieces else "",
        scale=str(int(entry.scale)),
        rated_by=next((str(row.rated_by) for row in entry.rows if row.rated_by), ""),
    )
