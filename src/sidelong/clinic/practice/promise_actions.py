"""What is done to keep promises: an estimate is locked, a first real dose is recorded."""

from datetime import date, datetime

from django.utils import timezone

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.practice.answers import Evidence
from sidelong.clinic.practice.evidence import evidence_of
from sidelong.clinic.practice.locks import add_dose, find_lock, make_lock, promise_row
from sidelong.clinic.practice.models import EstimateLock
from sidelong.clinic.practice.nights import find_course
from sidelong.clinic.trainees.models import Course
from sidelong.problems import Problem, Refused
from sidelong.training.days import say_day
from sidelong.training.position import Position
from sidelong.training.promise import FirstDose


def lock_estimate(
    *, code: str, course: int, used: Position | None = None, now: datetime, by: Person
) -> int:
    """Begin a follow-up: lock what the nights say, before anybody knows how the first dose goes.

    A lock is never changed. Called again over the same nights it writes nothing and gives the
    lock that is there. When nights were corrected meanwhile, a new estimate is locked beside it,
    and the first one stays the promise. After a signed result, new nights begin a new follow-up.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    used : Position or None
        The position to be used at this follow-up, where that is decided; the estimate has it too.
    now : datetime
        When, with its offset.
    by : Person
        Who begins the follow-up.

    Returns
    -------
    int
        Number of the locked estimate within the course.

    Raises
    ------
    Refused
        If there is no such course, or it has no plan.
    """
    demand(Permission.BEGIN_FOLLOW_UPS, of=by)
    known = find_lock(*_with_evidence(find_course(code, course)))
    if known is not None:  # nothing would be written, so there is no act
        return int(known.number)
    with act("estimate locked", by=by, subject=subject_of(code)) as doing:
        row = _held(code, course)
        made = make_lock(*_with_evidence(row), used=used, now=now, by_key=by.audit_key)
        lock = made.row
        doing.note(
            course=course,
            lock=lock.number,
            follow_up=lock.follow_up,
            evidence=lock.evidence,
            digest=lock.digest,
        )
    return int(lock.number)


def record_first_dose(*, dose: FirstDose, now: datetime, by: Person) -> int:
    """Record the first real dose of a course, to be laid against the estimate locked before it.

    What was recorded before stays and is counted no longer: the last version counts.

    Parameters
    ----------
    dose : FirstDose
        What happened, with the trainee's code and the number of the course.
    now : datetime
        When it is recorded, with its offset.
    by : Person
        Who records it.

    Returns
    -------
    int
        Version of the record, from 1.

    Raises
    ------
    Refused
        If there is no such course, no estimate was locked by the day of the dose, the day lies in
        the future.
    """
    demand(Permission.RECORD_FIRST_DOSES, of=by)
    with act("first dose recorded", by=by, subject=subject_of(dose.trainee)) as doing:
        row = _held(dose.trainee, dose.course)
        lock = promise_row(_locked_before(row), dose)
        _refuse_the_future(dose.given_on, timezone.localdate(now))
        kept = add_dose(row, dose, lock=lock, now=now, by_key=by.audit_key)
        doing.note(
            course=dose.course,
            version=kept.version,
            lock=lock.number,
            given_on=dose.given_on.isoformat(),
            position=dose.position or "",
            seen_by=dose.seen_by,
            went_down=dose.went_down,
        )
    return int(kept.version)


def _locked_before(row: Course) -> tuple[EstimateLock, ...]:
    """Give the locks of a course that were made before anybody recorded how its dose went."""
    locks = row.locks.order_by("number")
    first = row.first_doses.order_by("version").first()
    return tuple(locks if first is None else locks.filter(locked__lte=first.kept))


def _with_evidence(row: Course) -> tuple[Course, Evidence]:
    return row, evidence_of(row)


def _held(code: str, number: int) -> Course:
    """Read a course again, and hold it until the act ends."""
    row = find_course(code, number)
    held: Course = Course.objects.select_for_update().get(pk=row.pk)
    return held


def _refuse_the_future(given_on: date, today: date) -> None:
    if given_on > today:
        what = f"{say_day(given_on)} lies in the future"
        raise Refused([Problem("given_on", what, "Record a dose once it was taken.", "first-dose")])
