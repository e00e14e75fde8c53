"""Parquet tables: the same columns and rules as CSV, behind one optional dependency.

PyArrow is loaded only here and only when a name ends in ``.parquet``; a plain installation does
without it. Cells become the text that the CSV would hold, so that one set of rules reads both.
"""

import io
import math
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

from sidelong.exchange.columns import Column, Kind
from sidelong.problems import Problem, Refused


def read_parquet_cells(content: bytes, *, name: str) -> list[list[str]]:
    """Read a Parquet table into records of text.

    Parameters
    ----------
    content : bytes
        The whole file.
    name : str
        The file's name, for messages.

    Returns
    -------
    list of list of str
        Header first; nulls and not-a-number as empty cells.

    Raises
    ------
    Refused
        If PyArrow is not installed, or the file is not a Parquet table.
    """
    pa, pq = _load(name)
    try:
        table = pq.read_table(io.BytesIO(content))
        cells = [[_text(value) for value in column.to_pylist()] for column in table.columns]
    except (pa.ArrowException, ValueError, OSError, OverflowError) as error:
        what = "it is not a Parquet table that can be read"
        remedy = "Write it again, or give the table as CSV."
        raise Refused([Problem(name, what, remedy, "table-file")]) from error
    return [list(table.column_names), *map(list, zip(*cells, strict=True))]


def write_parquet(columns: Sequence[Column], texts: Sequence[Sequence[str]]) -> bytes:
    """Write checked cells as a Parquet table with typed columns.

    Parameters
    ----------
    columns : sequence of Column
        The columns in their order.
    texts : sequence of sequence of str
        Cells as :meth:`~sidelong.exchange.columns.Column.write_cell` gave them.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    Refused
        If PyArrow is not installed.
    """
    pa, pq = _load("a .parquet name")
    types = {
        Kind.INTEGER: pa.int64(),
        Kind.NUMBER: pa.float64(),
        Kind.DATE: pa.date32(),
        Kind.TIME: pa.timestamp("us", tz="UTC"),
    }
    arrays = [
        pa.array(
            [column.read_cell(line[place]) for line in texts], types.get(column.kind, pa.string())
        )
        for place, column in enumerate(columns)
    ]
    stream = io.BytesIO()
    pq.write_table(pa.table(arrays, names=[column.name for column in columns]), stream)
    return stream.getvalue()


def _load(where: str) -> tuple[Any, Any]:
    """Load PyArrow, or say how to get it."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        what = "reading and writing Parquet needs PyArrow, which is not installed"
        remedy = 'Run pip install "sidelong[parquet]", or use a name that ends in .csv.'
        raise Refused([Problem(where, what, remedy, "parquet")]) from error
    return pyarrow, pyarrow.parquet


def _text(value: object) -> str:
    """Give the text that the same value would have in a CSV file."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, datetime):
        return value.isoformat() if value.tzinfo is None else value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return str(value)
