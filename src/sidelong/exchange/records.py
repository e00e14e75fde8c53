"""The table of records: one row per trainee and course, for programme figures."""

from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path

from sidelong.exchange.columns import Column, Kind
from sidelong.exchange.plans import BAND, SITE, TRAINEE, optional
from sidelong.exchange.rows import find_code_twins, find_repeats, group_rows
from sidelong.exchange.tables import Row, scan_table
from sidelong.problems import Problem, Refused

READINESS = ("ready", "clinician first", "not now")
_DAYS = ("referred", "screened", "started", "finished", "followed_up")


def _flag(name: str, says: str) -> Column:
    return Column(
        name=name,
        kind=Kind.INTEGER,
        least=0,
        most=1,
        is_required=False,
        may_be_blank=True,
        says=says,
    )


RECORD_COLUMNS = (
    TRAINEE,
    Column(
        name="course", kind=Kind.INTEGER, least=1, most=99, says="Course of the trainee, from 1."
    ),
    SITE,
    BAND,
    optional("language", Kind.CODE, "Language of the family's pages, a BCP 47 tag."),
    optional("referrer", Kind.LABEL, "Kind of referrer, such as ward or practice; no name."),
    optional("referred", Kind.DATE, "Day of the referral."),
    optional("screened", Kind.DATE, "Day of the readiness check."),
    Column(
        name="readiness",
        kind=Kind.CHOICE,
        choices=READINESS,
        is_required=False,
        may_be_blank=True,
        says="What the readiness check sorted it under; it clears nobody.",
    ),
    optional("started", Kind.DATE, "First night practised."),
    optional("finished", Kind.DATE, "Last night practised."),
    optional("followed_up", Kind.DATE, "Day of the follow-up visit."),
    _flag("success", "1 where staff saw a piece swallowed whole, unchewed, unaided, target size."),
    _flag("real_medicine", "1 where the trainee takes the real tablet or capsule."),
    optional("lost_reason", Kind.LABEL, "Reason of a list, where the course was broken off."),
    optional("coach", Kind.CODE, "Code of the coach; no name."),
    Column(
        name="minutes",
        kind=Kind.NUMBER,
        least=0,
        most=10_000,
        is_required=False,
        may_be_blank=True,
        says="Staff time for the course, minutes.",
    ),
)


@dataclass(frozen=True)
class CourseRecord:
    """What is known of one course of one trainee, beside the entries.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course : int
        From 1.
    site, band, language, referrer, readiness, lost_reason, coach : str
        Empty where not known.
    referred, screened, started, finished, followed_up : date or None
        None where it has not happened or is not known.
    success, real_medicine : bool or None
        None where not known.
    minutes : float or None
        Staff time.
    """

    trainee: str
    course: int
    site: str = ""
    band: str = ""
    language: str = ""
    referrer: str = ""
    referred: date | None = None
    screened: date | None = None
    readiness: str = ""
    started: date | None = None
    finished: date | None = None
    followed_up: date | None = None
    success: bool | None = None
    real_medicine: bool | None = None
    lost_reason: str = ""
    coach: str = ""
    minutes: float | None = None


def read_records(path: Path) -> tuple[CourseRecord, ...]:
    """Read records, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        Table of records.

    Returns
    -------
    tuple of CourseRecord
        In the table's order.

    Raises
    ------
    Refused
        If a cell is wrong, a course is there twice, or a day comes before one it follows.
    """
    scan = scan_table(path, RECORD_COLUMNS)
    faults = [*scan.faults, *find_code_twins(scan.rows)]
    for (trainee,), rows in group_rows(scan.rows, ("trainee",)).items():
        faults += find_repeats(rows, "course", of=trainee)
    for row in scan.rows:
        faults += _find_turned_days(row)
    if faults:
        raise Refused(faults)
    return tuple(_make_record(row) for row in scan.rows)


def _find_turned_days(row: Row) -> list[Problem]:
    """Find days of a course that are not in the order in which they must happen."""
    known = [(name, row[name]) for name in _DAYS if row[name] is not None]
    return [
        row.problem(later, f"it is before {earlier}", "Correct one of the two days.")
        for (earlier, first), (later, then) in pairwise(known)
        if then < first
    ]


def _make_record(row: Row) -> CourseRecord:
    return CourseRecord(
        trainee=row["trainee"],
        course=row["course"],
        site=row["site"] or "",
        band=row["band"] or "",
        language=row["language"] or "",
        referrer=row["referrer"] or "",
        referred=row["referred"],
        screened=row["screened"],
        readiness=row["readiness"] or "",
        started=row["started"],
        finished=row["finished"],
        followed_up=row["followed_up"],
        success=_yes_no(row["success"]),
        real_medicine=_yes_no(row["real_medicine"]),
        lost_reason=row["lost_reason"] or "",
        coach=row["coach"] or "",
        minutes=row["minutes"],
    )


def _yes_no(flag: int | None) -> bool | None:
    return None if flag is None else bool(flag)
