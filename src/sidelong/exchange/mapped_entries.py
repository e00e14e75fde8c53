"""Entries from a lead's old spreadsheet, translated by a mapping file.

The spreadsheet is read like every table, its cells are translated one by one, and the rows that
come out go through the same checks as a table of entries. Messages name the old row and the old
column.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from sidelong.exchange.cell_words import CellTranslator
from sidelong.exchange.columns import nearest
from sidelong.exchange.dialects import tidy_name
from sidelong.exchange.entries import ENTRY_COLUMNS, EntriesRead, gather_entries
from sidelong.exchange.mapping import read_mapping
from sidelong.exchange.old_nights import complete_nights
from sidelong.exchange.old_sheets import OldRow, SheetMapping
from sidelong.exchange.tables import Scan, parse_rows, read_records_of_text
from sidelong.problems import Problem, Refused
from sidelong.training.plan import Plan
from sidelong.training.position import Position


def read_mapped_entries(
    path: Path,
    *,
    mapping: Path,
    plans: Sequence[Plan] | None = None,
    today: date | None = None,
) -> EntriesRead:
    """Read entries from an old spreadsheet, or refuse it with every fault in it.

    Parameters
    ----------
    path : Path
        The spreadsheet, saved as CSV (or Parquet).
    mapping : Path
        TOML file that says what its columns, words and numbers mean.
    plans : sequence of Plan or None
        As in :func:`~sidelong.exchange.entries.read_entries`; also the source of each night's
        order where the mapping says ``slots = "plans"``.
    today : date or None
        As in :func:`~sidelong.exchange.entries.read_entries`.

    Returns
    -------
    EntriesRead
        Entries and notices.

    Raises
    ------
    Refused
        If the mapping or the spreadsheet cannot be used, with every faulty cell.
    """
    rules = read_mapping(mapping)
    if rules.slots == "plans" and plans is None:
        what = "the order of the nights is to come from the plans, and none were given"
        remedy = "Give the table of plans, or name another source of the order."
        raise Refused([Problem(f"{rules.file}, slots", what, remedy, "mapping")])
    records, dialect = read_records_of_text(path, rules.theirs, header_row=rules.header_row)
    places = _find_places(path.name, records, rules)
    translator = CellTranslator(rules, dialect)
    rows = [
        row
        for record in _records(records, rules, places)
        for row in _old_rows(record, rules, translator)
    ]
    if not rows:
        remedy = "Check header_row and the columns of the mapping."
        raise Refused([Problem(path.name, "it has no rows with answers", remedy, "table-file")])
    complete_nights(rows, rules, plans or ())
    parsed, faults = parse_rows(
        path.name,
        ((row.number, row.cells, row.labels) for row in rows),
        ENTRY_COLUMNS,
        decimal_comma=dialect.decimal_comma,
    )
    columns = frozenset(name for row in rows for name in row.cells)
    # A fault of a whole night stands in one cell and would be told once per position.
    once = tuple(dict.fromkeys(faults))
    scan = Scan(path.name, tuple(parsed), once, columns, dialect)
    read = gather_entries(scan, plans=plans, today=today)
    # The mapping has put the old answers on the five of ours: that is their form.
    said = (replace(entry, scale_is_said=True) for entry in read.entries)
    return replace(read, entries=tuple(said))


@dataclass
class _Record:
    """One row of the spreadsheet: its number, and its cells by our column and group."""

    number: int
    cells: dict[str, str]
    groups: dict[Position, dict[str, str]] = field(default_factory=dict)


def _find_places(
    file: str, records: Sequence[Sequence[str]], rules: SheetMapping
) -> dict[str, int]:
    """Find the columns that the mapping uses, and refuse those that it does not speak of."""
    names = _tell_apart(records[rules.header_row - 1])
    places = {name: index for index, name in enumerate(names) if name}
    used = {tidy_name(name): name for name in rules.theirs}
    left_out = {tidy_name(name) for name in rules.ignored}
    at = f"{file}, row {rules.header_row}"
    faults = [
        Problem(
            f"{at}, {name}",
            "the column that the mapping names is missing",
            f"Correct the name in {rules.file}.{nearest(tidy, places)}",
            "mapping",
        )
        for tidy, name in used.items()
        if tidy not in places
    ]
    if len(faults) == len(used):
        what = "none of the columns that the mapping names is in it"
        remedy = "Check header_row of the mapping, and that it is the right spreadsheet."
        raise Refused([Problem(at, what, remedy, "mapping")])
    for name, index in places.items():
        if name not in used and name not in left_out:
            label = " ".join(records[rules.header_row - 1][index].split())[:60]
            remedy = f'Map it, or write it into the list "ignored" of {rules.file}.'
            faults.append(
                Problem(f"{at}, {label}", "the mapping says nothing of it", remedy, "mapping")
            )
    nameless = {
        index
        for record in records[rules.header_row :]
        for index, cell in enumerate(record)
        if cell.strip() and (index >= len(names) or not names[index])
    }
    faults += [
        Problem(
            f"{at}, column {index + 1}",
            "it has values but no name",
            f"Name the column, then map it or ignore it in {rules.file}.",
            "mapping",
        )
        for index in sorted(nameless)
    ]
    if faults:
        raise Refused(faults)
    return places


def _tell_apart(header: Sequence[str]) -> list[str]:
    """Give names that are there more than once a number: `score`, `score#2`, `score#3`."""
    seen: dict[str, int] = {}
    names = []
    for cell in header:
        name = tidy_name(cell)
        seen[name] = seen.get(name, 0) + 1
        names.append(f"{name}#{seen[name]}" if name and seen[name] > 1 else name)
    return names


def _records(
    records: Sequence[Sequence[str]], rules: SheetMapping, places: Mapping[str, int]
) -> Iterator[_Record]:
    """Pick the mapped cells of every row that is not empty, filling down where it is said."""
    above: dict[str, str] = {}
    for number, record in enumerate(records, start=1):
        if number <= rules.header_row or not any(cell.strip() for cell in record):
            continue

        def pick(theirs: str, record: Sequence[str] = record) -> str:
            index = places[tidy_name(theirs)]
            return record[index].strip() if index < len(record) else ""

        cells = {ours: pick(theirs) for ours, theirs in rules.columns.items()}
        for ours in rules.fill_down & cells.keys():
            cells[ours] = above[ours] = cells[ours] or above.get(ours, "")
        groups = {
            position: {ours: pick(theirs) for ours, theirs in group.items()}
            for position, group in rules.groups.items()
        }
        yield _Record(number, cells, groups)


def _old_rows(record: _Record, rules: SheetMapping, translator: CellTranslator) -> Iterator[OldRow]:
    """Translate one row of the spreadsheet: one row of ours, or one per position tried."""
    shared = translator.translate_all(record.cells)
    if not rules.is_wide:
        yield OldRow(record.number, {**rules.fixed, **shared}, dict(rules.columns))
        return
    for position, group in record.groups.items():
        cells = translator.translate_all(group)
        tried = {ours: cell for ours, cell in cells.items() if ours not in {"slot", "piece_mm"}}
        if any(cell != "" for cell in tried.values()):
            here = {**rules.fixed, **shared, "position": position.value, **cells}
            labels = {**rules.columns, "position": position.value, **rules.groups[position]}
            yield OldRow(record.number, here, labels)
