"""Reading trainees, as values."""

from dataclasses import dataclass
from datetime import date, datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.trainees.models import DecisionRow, Trainee
from sidelong.clinic.trainees.record import Record
from sidelong.clinic.trainees.recording import record_all
from sidelong.clinic.trainees.rows import referral_of
from sidelong.clinic.trainees.standing import newest_referral, stand
from sidelong.training.referral import Referral


@dataclass(frozen=True)
class TraineeLine:
    """One trainee as lists show it.

    Parameters
    ----------
    code, site, language : str
        Codes only.
    entered : datetime
        When taken up.
    n_courses : int
        Courses so far.
    has_open_course : bool
        Whether the last one is open.
    """

    code: str
    site: str
    language: str
    entered: datetime
    n_courses: int
    has_open_course: bool


def list_trainees(*, seen_by: Person) -> tuple[TraineeLine, ...]:
    """Give all trainees by code, newest first.

    Parameters
    ----------
    seen_by : Person
        Who looks.

    Returns
    -------
    tuple of TraineeLine
        Without names.
    """
    demand(Permission.SEE_TRAINEES, of=seen_by)
    rows = Trainee.objects.prefetch_related("courses")
    return tuple(_line(row) for row in rows)


def latest_referral(code: str, *, seen_by: Person) -> Referral | None:
    """Give the newest version of a trainee's referral.

    Parameters
    ----------
    code : str
        The trainee's code.
    seen_by : Person
        Who looks.

    Returns
    -------
    Referral or None
        As the rules of readiness take it; None where none was written.
    """
    demand(Permission.SEE_TRAINEES, of=seen_by)
    row = newest_referral(code)
    return None if row is None else referral_of(row)


def _line(row: Trainee) -> TraineeLine:
    courses = list(row.courses.all())
    return TraineeLine(
        code=row.code,
        site=row.site,
        language=row.language,
        entered=row.entered,
        n_courses=len(courses),
        has_open_course=any(course.closed is None for course in courses),
    )


def read_record(
    code: str, *, today: date, evening: date | None = None, seen_by: Person
) -> Record | None:
    """Give all that is known of one trainee's way.

    Parameters
    ----------
    code : str
        The trainee's code.
    today : date
        The day on which it is sorted.
    evening : date, optional
        The evening that is running; as `today` where it is not given.
    seen_by : Person
        Who looks.

    Returns
    -------
    Record or None
        None where there is no such code.
    """
    demand(Permission.SEE_TRAINEES, of=seen_by)
    found = record_all(Trainee.objects.filter(code=code), today=today, evening=evening)
    return found[0] if found else None


def read_records(
    *, today: date, evening: date | None = None, seen_by: Person
) -> tuple[Record, ...]:
    """Give the records of all trainees, newest first; see :func:`read_record`."""
    demand(Permission.SEE_TRAINEES, of=seen_by)
    return record_all(Trainee.objects.all(), today=today, evening=evening)


def open_questions(code: str, *, today: date, seen_by: Person) -> int:
    """Count the questions about a trainee that still need an answer."""
    demand(Permission.SEE_TRAINEES, of=seen_by)
    return len(stand(code, today=today).sorted_referral.unanswered)


def usual_role(*, seen_by: Person) -> str:
    """Give the role in which somebody decided last; empty where that never was."""
    demand(Permission.SEE_TRAINEES, of=seen_by)
    row = DecisionRow.objects.filter(written_by=seen_by.audit_key).last()
    return "" if row is None else row.role
