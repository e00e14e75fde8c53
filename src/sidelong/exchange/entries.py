"""The table of entries: one row for every position that was tried, as the family recorded it.

What contradicts itself is refused, every fault at once. What is only unlikely, or unlike the
plan, is kept as it was recorded and flagged: a family's data are not mended here.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.entry_checks import find_faults, flag_unlikely
from sidelong.exchange.entry_nights import RecordedNight, gather_nights
from sidelong.exchange.plans import (
    BAND,
    COURSE,
    NIGHT,
    POSITION,
    SITE,
    SLOT,
    TRAINEE,
    VERSION,
    optional,
)
from sidelong.exchange.rows import find_code_twins, first_filled
from sidelong.exchange.tables import Row, Scan, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.entry import (
    Entry,
    EntryRow,
    RatedBy,
    Scale,
    Source,
    WentDown,
    WhyNot,
    Written,
)
from sidelong.training.plan import Plan
from sidelong.training.position import Position


def _answer(name: str, says: str, *, least: int, most: int, is_required: bool = True) -> Column:
    return Column(
        name=name,
        kind=Kind.INTEGER,
        least=least,
        most=most,
        may_be_blank=True,
        is_required=is_required,
        says=says,
    )


def _word(name: str, words: Iterable[str], says: str, *, is_required: bool = False) -> Column:
    return Column(
        name=name,
        kind=Kind.CHOICE,
        choices=tuple(words),
        may_be_blank=True,
        is_required=is_required,
        says=says,
    )


ENTRY_COLUMNS = (
    TRAINEE,
    NIGHT,
    SLOT,
    POSITION,
    Column(
        name="piece_mm",
        kind=Kind.NUMBER,
        above=0,
        most=50,
        may_be_blank=True,
        says="Largest dimension of the piece, mm; empty where it was not recorded.",
    ),
    _answer(
        "rating",
        "How easy it felt, 1 very hard to 5 very easy; empty where blank.",
        least=1,
        most=5,
    ),
    _word(
        "went_down",
        WentDown,
        "Whether the piece was swallowed, at the first try or a later one; empty where blank.",
        is_required=True,
    ),
    _answer(
        "felt_best",
        "1 on the night's best and 0 on the others; 0 on all for all the same; "
        "empty on all where none was named.",
        least=0,
        most=1,
    ),
    COURSE,
    VERSION,
    optional("written_at", Kind.TIME, "When the entry was written, ISO 8601 with its offset."),
    _word("written", Written, "When it was written, in the family's words."),
    optional("piece", Kind.CODE, "Code of the piece in the site's list."),
    _word("why_not", WhyNot, "Why a piece did not go down."),
    _answer(
        "scale",
        "How many answers the trainee was offered; 5 where empty.",
        least=2,
        most=5,
        is_required=False,
    ),
    _word("rated_by", RatedBy, "Who judged how easy it felt."),
    _word("source", Source, "How the entry reached the clinic."),
    SITE,
    BAND,
)


@dataclass(frozen=True)
class EntriesRead:
    """What a table of entries held.

    Parameters
    ----------
    entries : tuple of Entry
        By trainee in the order of first rows, then course, version and night.
    notices : tuple of Problem
        What was kept as recorded but is unlikely or unlike the plan; nothing was refused for it.
    """

    entries: tuple[Entry, ...]
    notices: tuple[Problem, ...] = ()


def read_entries(
    path: Path, *, plans: Sequence[Plan] | None = None, today: date | None = None
) -> EntriesRead:
    """Read entries, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        Table of entries. Rows may stand in any order.
    plans : sequence of Plan or None
        When given, entries of other trainees, nights and positions are refused, and other
        orders and pieces are flagged.
    today : date or None
        When given, entries written later than the day after it are refused.

    Returns
    -------
    EntriesRead
        Entries and notices.

    Raises
    ------
    Refused
        If a cell or a night contradicts itself or the plans.
    """
    return gather_entries(scan_table(path, ENTRY_COLUMNS), plans=plans, today=today)


def gather_entries(
    scan: Scan, *, plans: Sequence[Plan] | None = None, today: date | None = None
) -> EntriesRead:
    """Make entries of rows that were read, whatever table they came from.

    Parameters
    ----------
    scan : Scan
        Rows with the columns of entries, and the faults of their cells.
    plans : sequence of Plan or None
        As in :func:`read_entries`.
    today : date or None
        As in :func:`read_entries`.

    Returns
    -------
    EntriesRead
        Entries and notices.

    Raises
    ------
    Refused
        If a cell or a night contradicts itself or the plans.
    """
    nights = gather_nights(scan.rows, plans)
    faults = [
        *scan.faults,
        *find_code_twins(scan.rows),
        *find_faults(nights, plans=plans, today=today),
    ]
    if faults:
        raise Refused(faults)
    return EntriesRead(
        entries=tuple(_make_entry(night) for night in nights),
        notices=tuple(flag_unlikely(nights)),
    )


def write_entries(path: Path, entries: Iterable[Entry]) -> None:
    """Write entries whole, or not at all.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    entries : iterable of Entry
        In the order in which they are to stand; an entry without rows leaves nothing in a table.
    """
    write_table(path, ENTRY_COLUMNS, (row for entry in entries for row in _entry_rows(entry)))


def _entry_rows(entry: Entry) -> Iterator[dict[str, Value]]:
    of_night: dict[str, Value] = {
        "trainee": entry.trainee,
        "night": entry.night,
        "course": entry.course,
        "version": entry.version,
        "written_at": entry.written_at,
        "written": entry.written,
        "scale": int(entry.scale) if entry.scale_is_said else None,
        "source": entry.source,
        "site": entry.site,
        "band": entry.band,
    }
    named = entry.all_the_same or entry.felt_best is not None
    for row in entry.rows:
        yield of_night | {
            "slot": row.slot,
            "position": row.position,
            "piece_mm": None if row.piece_mm is None else float(row.piece_mm),
            "rating": row.rating,
            "went_down": row.went_down,
            "felt_best": int(row.position is entry.felt_best) if named else None,
            "why_not": row.why_not,
            "rated_by": row.rated_by,
            "piece": row.piece or None,
        }


def _make_entry(night: RecordedNight) -> Entry:
    rows = night.rows
    best = next((row for row in rows if row["felt_best"] == 1), None)
    written = first_filled(rows, "written")
    source = first_filled(rows, "source")
    scale = first_filled(rows, "scale")
    return Entry(
        trainee=night.trainee,
        night=night.night,
        rows=tuple(_make_row(row) for row in rows),
        felt_best=None if best is None else Position(best["position"]),
        all_the_same=all(row["felt_best"] == 0 for row in rows),
        course=night.course,
        version=night.version,
        scale=Scale(scale or 5),
        scale_is_said=scale is not None,
        written_at=first_filled(rows, "written_at"),
        written=None if written is None else Written(written),
        source=None if source is None else Source(source),
        site=first_filled(rows, "site") or "",
        band=first_filled(rows, "band") or "",
    )


def _make_row(row: Row) -> EntryRow:
    went_down, why_not, rated_by = row["went_down"], row["why_not"], row["rated_by"]
    return EntryRow(
        slot=row["slot"],
        position=Position(row["position"]),
        piece_mm=row["piece_mm"],
        rating=row["rating"],
        went_down=None if went_down is None else WentDown(went_down),
        why_not=None if why_not is None else WhyNot(why_not),
        rated_by=None if rated_by is None else RatedBy(rated_by),
        piece=row["piece"] or "",
    )
