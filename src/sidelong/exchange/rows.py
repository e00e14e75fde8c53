"""What rows of one table say about one another: who is the same, what is twice, what differs."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from sidelong.exchange.tables import Row
from sidelong.problems import Problem


def group_rows(
    rows: Iterable[Row], columns: Sequence[str], *, blanks: Mapping[str, Any] = MappingProxyType({})
) -> dict[tuple[Any, ...], list[Row]]:
    """Sort rows into groups that agree in some columns.

    Parameters
    ----------
    rows : iterable of Row
        Rows of one table.
    columns : sequence of str
        Columns that make the key; a row with a fault in one of them belongs to no group.
    blanks : mapping of str to value
        What an empty cell of a column stands for in the key.

    Returns
    -------
    dict of tuple to list of Row
        In the order in which the keys first appear.
    """
    groups: dict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for row in rows:
        if row.faulty.isdisjoint(columns):
            key = tuple(
                blanks.get(column) if row[column] is None else row[column] for column in columns
            )
            groups[key].append(row)
    return dict(groups)


def find_repeats(rows: Sequence[Row], column: str, *, of: str) -> Iterator[Problem]:
    """Find rows that repeat a value which may be there once.

    Parameters
    ----------
    rows : sequence of Row
        Rows among which the value may be there once.
    column : str
        Column that is compared; empty and faulty cells repeat nothing.
    of : str
        What the rows are, for the message, for example ``"night 3"``.

    Yields
    ------
    Problem
        One for every row after the first with a value.
    """
    first: dict[Hashable, Row] = {}
    for row in rows:
        value = row[column]
        if value is None:
            continue
        if value in first:
            same = first[value]
            is_copy = row.cells == same.cells
            what = (
                f"the row is the same as row {same.number}"
                if is_copy
                else f"{column} {value} of {of} is there twice, first in row {same.number}"
            )
            remedy = "Delete one." if is_copy else "Correct one of the two rows, or delete it."
            yield row.problem("" if is_copy else column, what, remedy, kind="repeated-row")
        else:
            first[value] = row


def find_differences(
    rows: Sequence[Row], columns: Iterable[str], *, within: str
) -> Iterator[Problem]:
    """Find cells that differ where all rows must agree; an empty cell differs from nothing.

    Parameters
    ----------
    rows : sequence of Row
        Rows that must agree; at least one.
    columns : iterable of str
        Columns in which they must.
    within : str
        What the rows are, for the message.

    Yields
    ------
    Problem
        The first row of every column that says something else than the rows above it.
    """
    for column in columns:
        if column not in rows[0].cells:
            continue
        filled = [row for row in rows if row[column] is not None]
        other = next((row for row in filled if row[column] != filled[0][column]), None)
        if other is not None:
            what = f"it differs from row {filled[0].number}, but is one value for {within}"
            remedy = "Write the same into all of these rows."
            yield other.problem(column, what, remedy, kind="rows-differ")


def find_code_twins(rows: Iterable[Row]) -> Iterator[Problem]:
    """Find trainees' codes that differ in case only.

    They would name the same file on Windows and macOS, and are most likely one trainee.

    Parameters
    ----------
    rows : iterable of Row
        Rows with a column ``trainee``.

    Yields
    ------
    Problem
        One for every such code, at its first row.
    """
    first: dict[str, Row] = {}
    told: set[str] = set()
    for row in rows:
        code = row["trainee"]
        if code is None:
            continue
        same = first.setdefault(code.casefold(), row)
        if same["trainee"] != code and code not in told:
            told.add(code)
            what = f"{code} differs only in capitals from {same['trainee']} in row {same.number}"
            yield row.problem("trainee", what, "Write every code in one way.", kind="code-twins")


def first_filled(rows: Iterable[Row], column: str) -> Any:
    """Give the first value of a column that is not empty, else None."""
    return next((row[column] for row in rows if row[column] is not None), None)
