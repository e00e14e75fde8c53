"""The table behind the plot of promises kept: one row for each group of similar chances."""

from collections.abc import Iterator
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.tables import write_table
from sidelong.outcomes import CalibrationTable


def _chance(name: str, says: str) -> Column:
    return Column(name=name, kind=Kind.NUMBER, least=0, most=1, decimals=4, says=says)


CALIBRATION_COLUMNS = (
    Column(name="group", kind=Kind.INTEGER, least=1, says="From 1, by ascending chance."),
    _chance("said_least", "Smallest chance of going down first try that was said in the group."),
    _chance("said", "Mean of these chances."),
    _chance("said_most", "Largest of these chances."),
    Column(name="doses", kind=Kind.INTEGER, least=1, says="First doses that staff saw."),
    Column(name="first_try", kind=Kind.INTEGER, least=0, says="How many went down first try."),
    _chance("share", "The same as a share of the doses."),
    _chance("lower", "Lower end of the share's 95 % interval (Wilson)."),
    _chance("upper", "Upper end of that interval."),
    Column(
        name="agrees",
        kind=Kind.CHOICE,
        choices=("yes", "no"),
        says="Whether the interval holds the mean of what was said.",
    ),
)


def write_calibration(path: Path, table: CalibrationTable | None) -> None:
    """Write what was said beside what happened, by group.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    table : CalibrationTable or None
        None while there are too few doses: then there is a header alone.
    """
    write_table(path, CALIBRATION_COLUMNS, () if table is None else _rows(table))


def _rows(table: CalibrationTable) -> Iterator[dict[str, Value]]:
    for group in range(table.n.size):
        yield {
            "group": group + 1,
            "said_least": float(table.least[group]),
            "said": float(table.stated[group]),
            "said_most": float(table.most[group]),
            "doses": int(table.n[group]),
            "first_try": int(table.happened[group]),
            "share": float(table.share[group]),
            "lower": float(table.lower[group]),
            "upper": float(table.upper[group]),
            "agrees": "yes" if table.agrees[group] else "no",
        }
