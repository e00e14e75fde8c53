"""Tables that cross our border: read with every fault at once, written whole or not at all.

A table is UTF-8 CSV with a header, or Parquet where the name ends in ``.parquet``. "Row" in every
message is the spreadsheet's row; the header is row 1. What is accepted beside the plain case is
listed in ``docs/schemas/README.md``.
"""

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from sidelong.exchange.columns import CellFault, Column, Kind, Value
from sidelong.exchange.dialects import Dialect, split_records
from sidelong.exchange.files import read_bytes, write_bytes, write_text
from sidelong.exchange.headers import header_faults, match_header, missing_column
from sidelong.exchange.parquet import read_parquet_cells, write_parquet
from sidelong.problems import Problem, Refused

__all__ = ["Column", "Kind", "Row", "Scan", "read_table", "scan_table", "write_table", "write_text"]

T = TypeVar("T")


@dataclass(frozen=True)
class Row:
    """One row of a table, with the place that messages name.

    Parameters
    ----------
    file : str
        The file's name.
    number : int
        The spreadsheet's row; the header is row 1.
    cells : mapping of str to value
        Values by column; None where a cell is empty, faulty, or its column is not there.
    faulty : frozenset of str
        Columns whose cell was refused.
    labels : mapping of str to str
        What the file calls a column, where that is not our name.
    """

    file: str
    number: int
    cells: Mapping[str, Value]
    faulty: frozenset[str] = frozenset()
    labels: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, column: str) -> Any:
        """Give the value of a column, None where the table has no such column."""
        return self.cells.get(column)

    def problem(self, column: str, what: str, remedy: str, *, kind: str = "cell") -> Problem:
        """Make the message for a fault in this row; with ``""`` for the column, for all of it."""
        place = f", {self.labels.get(column, column)}" if column else ""
        return Problem(f"{self.file}, row {self.number}{place}", what, remedy, kind)


@dataclass(frozen=True)
class Scan:
    """A table as far as it could be read, and all that is wrong with its cells.

    Parameters
    ----------
    file : str
        The file's name.
    rows : tuple of Row
        Every row that is not empty, faulty ones too.
    faults : tuple of Problem
        Faults of the header and of cells, in reading order.
    columns : frozenset of str
        Columns that the table has.
    dialect : Dialect
        How the file was written.
    """

    file: str
    rows: tuple[Row, ...]
    faults: tuple[Problem, ...]
    columns: frozenset[str]
    dialect: Dialect = field(default_factory=Dialect)


def read_table(
    path: Path, columns: Sequence[Column], *, may_be_empty: bool = False
) -> tuple[Row, ...]:
    """Read a table, or refuse it with every fault in it.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    columns : sequence of Column
        What the table may hold; other columns are refused.
    may_be_empty : bool
        Whether a header alone says that there is nothing, as where nothing has happened yet.

    Returns
    -------
    tuple of Row
        Rows in the file's order, empty ones left out.

    Raises
    ------
    Refused
        If the file is no such table, with every faulty cell.
    """
    scan = scan_table(path, columns, may_be_empty=may_be_empty)
    if scan.faults:
        raise Refused(scan.faults)
    return scan.rows


def scan_table(path: Path, columns: Sequence[Column], *, may_be_empty: bool = False) -> Scan:
    """Read a table and keep its faults, so that a caller can add those between rows.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    columns : sequence of Column
        What the table may hold.
    may_be_empty : bool
        Whether a header alone says that there is nothing.

    Returns
    -------
    Scan
        Rows and faults.

    Raises
    ------
    Refused
        If the file as a whole, or its header, cannot be used: nothing is known of its cells then.
    """
    records, dialect = read_records_of_text(path, [column.name for column in columns])
    header = match_header(records[0], [column.name for column in columns], file=path.name)
    missing = [each for each in columns if each.is_required and each.name not in header.values()]
    faults = [missing_column(path.name, header, each) for each in missing]
    faults += header_faults(path.name, records, header, columns)
    if faults:
        raise Refused(faults)
    by_name = {column.name: column for column in columns}
    found = {index: by_name[name] for index, name in header.items()}
    rows, faults = parse_rows(
        path.name,
        (
            (number, {column.name: _cell(record, index) for index, column in found.items()}, {})
            for number, record in enumerate(records[1:], start=2)
            if any(cell.strip() for cell in record)
        ),
        list(found.values()),
        decimal_comma=dialect.decimal_comma,
    )
    if not rows and not may_be_empty:
        remedy = "Give at least one row under the header."
        faults = [Problem(path.name, "the table has no rows", remedy, "table-file")]
    return Scan(path.name, tuple(rows), tuple(faults), frozenset(header.values()), dialect)


def read_records_of_text(
    path: Path, known: Iterable[str], *, header_row: int = 1
) -> tuple[list[list[str]], Dialect]:
    """Read a file into records of text, header first, whatever kind of table it is.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    known : iterable of str
        Column names that a header may have.
    header_row : int
        Row of the header; rows above it are kept as they are.

    Returns
    -------
    records : list of list of str
        Record ``i`` is row ``i + 1`` of the spreadsheet.
    dialect : Dialect
        How the file was written.

    Raises
    ------
    Refused
        If there is no such file or it is not a table.
    """
    content = read_bytes(path)
    if path.suffix.lower() == ".parquet":
        return read_parquet_cells(content, name=path.name), Dialect("parquet")
    return split_records(content, name=path.name, known=known, header_row=header_row)


def parse_rows(
    file: str,
    raw_rows: Iterable[tuple[int, Mapping[str, str | CellFault], Mapping[str, str]]],
    columns: Sequence[Column],
    *,
    decimal_comma: bool,
) -> tuple[list[Row], list[Problem]]:
    """Turn rows of text into rows of values, collecting every fault.

    Parameters
    ----------
    file : str
        The file's name.
    raw_rows : iterable of (int, mapping, mapping)
        Row number, text by column, or what was wrong with it before it came here, and the
        file's own names of the columns.
    columns : sequence of Column
        The columns that the rows have.
    decimal_comma : bool
        Whether a number may be written with a comma.

    Returns
    -------
    rows : list of Row
        One per raw row.
    faults : list of Problem
        In reading order.
    """
    readers = {
        column.name: _remembering(partial(column.read_cell, decimal_comma=decimal_comma))
        for column in columns
    }
    rows: list[Row] = []
    faults: list[Problem] = []
    for number, texts, labels in raw_rows:
        cells: dict[str, Value] = {}
        wrong: dict[str, CellFault] = {}
        for name, read in readers.items():
            text = texts.get(name, "")
            value = text if isinstance(text, CellFault) else read(text)
            if isinstance(value, CellFault):
                wrong[name], value = value, None
            cells[name] = value
        row = Row(file, number, cells, frozenset(wrong), labels)
        rows.append(row)
        faults += [row.problem(name, each.what, each.remedy) for name, each in wrong.items()]
    return rows, faults


def write_table(path: Path, columns: Sequence[Column], rows: Iterable[Mapping[str, Value]]) -> None:
    """Write a table whole, or not at all.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``. A file of that name is replaced.
    columns : sequence of Column
        Columns in their order. An optional one without a single value is left out.
    rows : iterable of mapping of str to value
        Values by column; a missing one is an empty cell.

    Raises
    ------
    Refused
        If a value does not fit its column, or the file cannot be written.
    """
    kept = list(rows)
    used = [
        column
        for column in columns
        if column.is_required or any(row.get(column.name) not in {None, ""} for row in kept)
    ]
    write_cells = [(column.name, _remembering(column.write_cell)) for column in used]
    texts, faults = [], []
    for number, row in enumerate(kept, start=2):
        line = [(name, write(row.get(name))) for name, write in write_cells]
        texts.append([str(cell) for _, cell in line])
        faults += [
            Problem(f"{path.name}, row {number}, {name}", cell.what, cell.remedy, "cell")
            for name, cell in line
            if isinstance(cell, CellFault)
        ]
    if faults:
        raise Refused(faults)
    if path.suffix.lower() == ".parquet":
        write_bytes(path, write_parquet(used, texts))
        return
    stream = io.StringIO(newline="")
    # One line end on every system, so that the same values give the same bytes.
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([column.name for column in used])
    writer.writerows(texts)
    write_text(path, stream.getvalue())


def _cell(record: Sequence[str], index: int) -> str:
    return record[index] if index < len(record) else ""


def _remembering(work: Callable[[Any], T]) -> Callable[[Any], T | CellFault]:
    """Do each different cell of a column once; tables repeat their words."""
    known: dict[tuple[type, object], T | CellFault] = {}

    def look_up(cell: Any) -> T | CellFault:
        key = (cell.__class__, cell)  # 1, 1.0 and True are equal, and written differently
        if key not in known:
            try:
                known[key] = work(cell)
            except CellFault as fault:
                known[key] = fault
        return known[key]

    return look_up
