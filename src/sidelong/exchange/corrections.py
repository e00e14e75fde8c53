"""The table of corrections, and the table of what became of every field."""

from collections.abc import Iterable
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.readings import FIELD_COLUMN, IMAGE_COLUMN, PAGE_COLUMN, VALUE_COLUMN
from sidelong.exchange.tables import read_table, write_table
from sidelong.training.correction import Correction

CORRECTION_COLUMNS = (
    IMAGE_COLUMN,
    Column(name="page_id", kind=Kind.KEY, says="The page as it stands in the readings."),
    Column(
        name="field",
        kind=Kind.KEY,
        says="Field of the page; `date`, `note`, `pieces`, `present` for handwriting; "
        "`night` for what a spare sheet stands for; `@page` for which page it really is.",
    ),
    Column(
        name="value",
        kind=Kind.LABEL,
        may_be_blank=True,
        says="What a person saw: the value of the marked answer, empty for nothing; equal to "
        "the reading where it is right. A date as 2026-03-31. `@page`: a page's code, or `none`.",
    ),
    Column(name="by", kind=Kind.CODE, says="Code of who looked; never a name."),
    Column(name="when", kind=Kind.TIME, says="When, ISO 8601 with its offset."),
)
CONFIRMATION_COLUMNS = (
    IMAGE_COLUMN,
    PAGE_COLUMN,
    FIELD_COLUMN,
    Column(
        name="read",
        kind=Kind.LABEL,
        may_be_blank=True,
        says="What the computer read; empty for nothing marked, and for what it does not read.",
    ),
    Column(
        name="confidence",
        kind=Kind.NUMBER,
        least=0,
        most=1,
        decimals=4,
        may_be_blank=True,
        says="Its confidence; empty for what it does not read.",
    ),
    Column(
        name="status",
        kind=Kind.CHOICE,
        choices=("accepted", "review"),
        may_be_blank=True,
        says="Its status; empty for what it does not read.",
    ),
    VALUE_COLUMN,
    Column(
        name="by",
        kind=Kind.CODE,
        may_be_blank=True,
        says="Code of who looked; empty where nobody did.",
    ),
    Column(name="when", kind=Kind.TIME, may_be_blank=True, says="When somebody looked."),
    Column(
        name="outcome",
        kind=Kind.CHOICE,
        choices=("entered", "kept", "left_out"),
        says="`entered`: its night is among the entries; `kept`: it has no place there and is kept "
        "here; `left_out`: its night waits for a person.",
    ),
)


def read_corrections(path: Path) -> tuple[Correction, ...]:
    """Read corrections, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        The table.

    Returns
    -------
    tuple of Correction
        In the table's order; none where there is a header alone.

    Raises
    ------
    Refused
        With every fault of the table.
    """
    return tuple(
        Correction(
            image=row["image"],
            page_id=row["page_id"],
            field=row["field"],
            value=row["value"] or "",
            by=row["by"],
            when=row["when"],
        )
        for row in read_table(path, CORRECTION_COLUMNS, may_be_empty=True)
    )


def write_corrections(path: Path, corrections: Iterable[Correction]) -> None:
    """Write corrections, one row each, whole or not at all."""
    write_table(path, CORRECTION_COLUMNS, (vars(each) for each in corrections))


def write_confirmations(path: Path, rows: Iterable[dict[str, Value]]) -> None:
    """Write what became of every field, whole or not at all.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    rows : iterable of dict
        Values by column of :data:`CONFIRMATION_COLUMNS`.
    """
    write_table(path, CONFIRMATION_COLUMNS, rows)
