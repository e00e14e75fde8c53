"""A table's header: which column is which, and what is wrong with it."""

from collections.abc import Mapping, Sequence

from sidelong.exchange.columns import Column, nearest
from sidelong.exchange.dialects import tidy_name
from sidelong.problems import Problem, Refused


def match_header(cells: Sequence[str], known: Sequence[str], *, file: str) -> dict[int, str]:
    """Find the known names in a header.

    Parameters
    ----------
    cells : sequence of str
        The header's cells.
    known : sequence of str
        Names that are looked for.
    file : str
        The file's name.

    Returns
    -------
    dict of int to str
        Known name by place, from 0.

    Raises
    ------
    Refused
        If not one is found: then row 1 is no header, and its cells are not repeated.
    """
    by_tidy = {tidy_name(name): name for name in known}
    found = {
        index: by_tidy[tidy_name(cell)]
        for index, cell in enumerate(cells)
        if tidy_name(cell) in by_tidy
    }
    if not found:
        remedy = f"Put the column names into row 1: {', '.join(known)}."
        what = "it holds none of the column names"
        raise Refused([Problem(f"{file}, row 1", what, remedy, "table-header")])
    return found


def header_faults(
    file: str,
    records: Sequence[Sequence[str]],
    header: Mapping[int, str],
    columns: Sequence[Column],
) -> list[Problem]:
    """List columns that are there twice, unknown or nameless, and rows longer than the header.

    Parameters
    ----------
    file : str
        The file's name.
    records : sequence of sequence of str
        The table as text, header first.
    header : mapping of int to str
        Known names by place.
    columns : sequence of Column
        What the table may hold, to suggest the nearest name.

    Returns
    -------
    list of Problem
        In reading order; columns without a name and without a value are no fault.
    """
    names = list(header.values())
    faults = [
        Problem(f"{file}, row 1, {name}", "the column is there twice", "Keep one.", "table-header")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    missing = [column for column in columns if column.name not in names]
    free = [column.name for column in missing]
    needed = [column.name for column in missing if column.is_required]
    for index, cell in enumerate(records[0]):
        if index not in header and cell.strip():
            # A column that has to be there is meant sooner than one that may be.
            wrong = tidy_name(cell)
            meant = nearest(wrong, needed, cutoff=0.5) or nearest(wrong, free)
            remedy = f"Rename or delete this column.{meant}"
            label = " ".join(cell.split())[:60]
            faults.append(
                Problem(f"{file}, row 1, {label}", "the column is unknown", remedy, "table-header")
            )
    nameless = {index for index, cell in enumerate(records[0]) if not cell.strip()}
    for number, record in enumerate(records[1:], start=2):
        stray = [
            index
            for index in range(len(record))
            if (index in nameless or index >= len(records[0])) and record[index].strip()
        ]
        if stray:
            what = f"cell {stray[0] + 1} has a value but no column name above it"
            remedy = "Look for a comma inside a number or text of this row, or name the column."
            faults.append(Problem(f"{file}, row {number}", what, remedy, "table-header"))
    return faults


def missing_column(file: str, header: Mapping[int, str], column: Column) -> Problem:
    """Make the message for a column that the table must have."""
    remedy = f"Add a column {column.name}; found were {', '.join(header.values())}."
    return Problem(f"{file}, row 1, {column.name}", "the column is missing", remedy, "table-header")
