"""Reading promises, as values: of one course, and of the whole programme."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.actions import Decision
from sidelong.clinic.practice.answers import fingerprint_of
from sidelong.clinic.practice.evidence import evidence_of
from sidelong.clinic.practice.locks import answer_of, lock_holds, to_dose, to_lock
from sidelong.clinic.practice.models import EstimateLock, FirstDoseRow, Signature
from sidelong.clinic.practice.nights import find_course
from sidelong.clinic.practice.rows import latest_entries, to_evening
from sidelong.clinic.trainees.models import Course
from sidelong.clinic.trainees.recording import staff_names
from sidelong.pathway.promises import LaterPiece, Promise, Reckoning, reckon
from sidelong.training.position import Position
from sidelong.training.promise import FirstDose, LockedEstimate


@dataclass(frozen=True)
class LockLine:
    """One locked estimate as pages show it.

    Parameters
    ----------
    lock : LockedEstimate
        What was locked.
    locked_by : str
        Who began the follow-up, as colleagues see the name.
    is_promise : bool
        Whether it is the first of its follow-up; later ones rest on corrected nights.
    is_current : bool
        Whether it rests on what is known now.
    holds : bool
        Whether it is still as it was made.
    knew : bool
        Whether a first dose had been recorded by then: such an estimate promises nothing.
    """

    lock: LockedEstimate
    locked_by: str
    is_promise: bool
    is_current: bool
    holds: bool
    knew: bool = False


@dataclass(frozen=True)
class DoseLine:
    """One version of a first dose as pages show it; the first line counts."""

    dose: FirstDose
    version: int
    lock: int
    chance: float | None
    kept: datetime
    kept_by: str


@dataclass(frozen=True)
class FollowUp:
    """Locks and first dose of one course.

    Parameters
    ----------
    locks : tuple of LockLine
        By number; none before a follow-up has begun.
    doses : tuple of DoseLine
        The last version first.
    positions : tuple of Position
        Those of the plan, in listed order.
    is_due : bool
        Whether every planned night is accounted for, and no follow-up has begun.
    """

    locks: tuple[LockLine, ...]
    doses: tuple[DoseLine, ...]
    positions: tuple[Position, ...]
    is_due: bool

    @property
    def is_fixed(self) -> bool:
        """Whether what is known now is locked."""
        return any(each.is_current for each in self.locks)


@dataclass(frozen=True)
class Waiting:
    """A signed medicine step without a first dose so far."""

    code: str
    course: int
    signed: datetime
    position: Position | None


@dataclass(frozen=True)
class PromisesKept:
    """All promises of the programme.

    Parameters
    ----------
    reckoning : Reckoning
        What was said, laid against what happened.
    n_locked : int
        Courses with a locked estimate.
    n_signed : int
        Courses with a signed result.
    n_signed_without : int
        Signed courses without a first dose.
    waiting : tuple of Waiting
        Those of them whose last signature says medicine step, longest first.
    """

    reckoning: Reckoning
    n_locked: int
    n_signed: int
    n_signed_without: int
    waiting: tuple[Waiting, ...]


def follow_up_of(code: str, course: int, *, seen_by: Person) -> FollowUp:
    """Give locks and first dose of one course.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    seen_by : Person
        Who looks.

    Returns
    -------
    FollowUp
        Nothing is computed again but the fingerprint of what is known now.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_course(code, course)
    evidence = evidence_of(row)
    locks = tuple(row.locks.order_by("number"))
    nights = {each.entry.night for each in evidence.evenings}
    return FollowUp(
        locks=tuple(_lock_lines(row, locks, fingerprint_of(evidence))),
        doses=tuple(_dose_lines(row)),
        positions=evidence.plan.positions,
        is_due=not locks and nights >= set(range(1, len(evidence.plan.nights) + 1)),
    )


def promises_kept(*, seen_by: Person) -> PromisesKept:
    """Lay all first doses of the programme against the estimates that were locked before them.

    Parameters
    ----------
    seen_by : Person
        Who looks.

    Returns
    -------
    PromisesKept
        Codes only in the list of those who wait.
    """
    demand(Permission.SEE_PROMISES, of=seen_by)
    doses: dict[int, FirstDoseRow] = {}
    rows = FirstDoseRow.objects.select_related("lock", "course").order_by("course", "version")
    for row in rows:
        doses[row.course_id] = row
    promises = [Promise(to_lock(row.lock), to_dose(row)) for row in doses.values()]
    signed = _last_signatures()
    without = [each for course, each in signed.items() if course not in doses]
    waiting = [each for each in without if each.meaning == Decision.MEDICINE_STEP]
    return PromisesKept(
        reckoning=reckon(promises, later=_later_pieces()),
        n_locked=EstimateLock.objects.values("course").distinct().count(),
        n_signed=len(signed),
        n_signed_without=len(without),
        waiting=tuple(sorted(map(_waiting, waiting), key=lambda each: each.signed)),
    )


def _lock_lines(course: Course, rows: Sequence[EstimateLock], now: str) -> Iterator[LockLine]:
    names, begun = staff_names(), set()
    dose = course.first_doses.order_by("version").first()
    for row in rows:
        yield LockLine(
            lock=to_lock(row),
            locked_by=names.get(row.locked_by, row.locked_by),
            is_promise=row.follow_up not in begun,
            is_current=row.evidence == now,
            holds=lock_holds(row),
            knew=dose is not None and row.locked > dose.kept,
        )
        begun.add(row.follow_up)


def _dose_lines(course: Course) -> Iterator[DoseLine]:
    names = staff_names()
    rows = course.first_doses.select_related("lock", "course").order_by("-version")
    for row in rows:
        promise = Promise(to_lock(row.lock), to_dose(row))
        yield DoseLine(
            dose=promise.dose,
            version=row.version,
            lock=row.lock.number,
            chance=promise.chance,
            kept=row.kept,
            kept_by=names.get(row.kept_by, row.kept_by),
        )


def _last_signatures() -> Mapping[int, Signature]:
    rows = Signature.objects.select_related("result__course").order_by("pk")
    return {row.result.course_id: row for row in rows}


def _waiting(row: Signature) -> Waiting:
    course = row.result.course
    return Waiting(
        code=course.trainee_id,
        course=course.number,
        signed=datetime.fromisoformat(row.signed),
        position=Position(row.position) if row.position else None,
    )


def _later_pieces() -> Iterator[LaterPiece]:
    """Find practice pieces in the suggested position on evenings after the last promise."""
    promises: dict[int, EstimateLock] = {}
    begun = set()
    for row in EstimateLock.objects.select_related("course").order_by("course", "number"):
        if (row.course_id, row.follow_up) not in begun:
            begun.add((row.course_id, row.follow_up))
            promises[row.course_id] = row
    for row in promises.values():
        lock = to_lock(row)
        # Without a date nobody can say that an evening came after the lock.
        later = latest_entries(row.course).filter(evening__gt=timezone.localdate(row.locked))
        if lock.suggested is None or not later.exists():
            continue
        evidence = answer_of(row).evidence
        known = {entry.night for entry in evidence.entries}
        for night in later:
            if night.night not in known:
                rows = to_evening(night, plan=evidence.plan).entry.rows
                yield from (LaterPiece(lock, r) for r in rows if r.position is lock.suggested)
