"""The table of consents: whose nights may count towards what is learned of all trainees."""

from pathlib import Path

from sidelong.exchange.columns import Column, Kind
from sidelong.exchange.rows import find_code_twins, find_repeats
from sidelong.exchange.tables import scan_table
from sidelong.problems import Refused
from sidelong.training.consent import Consent

CONSENT_COLUMNS = (
    Column(name="trainee", kind=Kind.CODE, says="The trainee's code; never a name."),
    Column(
        name="consent",
        kind=Kind.CHOICE,
        choices=tuple(Consent),
        may_be_blank=True,
        says="Whether nights may count towards what is learned of all trainees; only yes counts, "
        "and empty means that nobody asked.",
    ),
)


def read_consents(path: Path) -> dict[str, Consent]:
    """Read consents, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        The table.

    Returns
    -------
    dict of str to Consent
        By trainee; none where there is a header alone.

    Raises
    ------
    Refused
        If a cell is wrong or a trainee stands twice.
    """
    scan = scan_table(path, CONSENT_COLUMNS, may_be_empty=True)
    faults = [*scan.faults, *find_code_twins(scan.rows)]
    faults += find_repeats(scan.rows, "trainee", of="the table")
    if faults:
        raise Refused(faults)
    return {row["trainee"]: Consent(row["consent"] or Consent.NOT_ASKED) for row in scan.rows}
