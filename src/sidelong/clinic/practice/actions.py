"""What is done about practice at home, each as one recorded act."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Protocol

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission, Role
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.practice.answers import Answer, fingerprint_of
from sidelong.clinic.practice.evidence import answer_now, evidence_of, is_locked
from sidelong.clinic.practice.locks import make_lock
from sidelong.clinic.practice.models import EventRow, Result, Signature
from sidelong.clinic.practice.nights import Found, check_all, find_course, known_nights
from sidelong.clinic.practice.rows import MAY_GO_ON, add_version
from sidelong.clinic.practice.signing import Signed, digest_of
from sidelong.clinic.practice.typed import GridFault, TypedNight
from sidelong.clinic.trainees.models import Course
from sidelong.problems import Problem, Refused
from sidelong.training.entry import Source
from sidelong.training.position import Position
from sidelong.training.safety import Tier


class Signer(Person, Protocol):
    """Staff whose name stands under a result."""

    @property
    def display_name(self) -> str:
        """Name as colleagues see it."""


class ClinicianAnswer(StrEnum):
    """What a clinician says about an event that locked practice."""

    MAY_GO_ON = MAY_GO_ON
    STAYS_STOPPED = "stays_stopped"


class Decision(StrEnum):
    """What is decided at the follow-up visit."""

    SAME_PLAN = "same_plan"
    NEW_PLAN = "new_plan"
    MEDICINE_STEP = "medicine_step"
    CLINICIAN_FIRST = "clinician_first"
    SOMETHING_ELSE = "something_else"


@dataclass(frozen=True)
class Clash:
    """A night that somebody else changed since it was on the page.

    Parameters
    ----------
    night : int
        Number of the sheet.
    theirs : TypedNight
        What is kept now; its base is the version that counts.
    """

    night: int
    theirs: TypedNight


@dataclass(frozen=True)
class Kept:
    """What became of the nights that were typed.

    Parameters
    ----------
    versions : dict of int to int
        The version that counts now, by night that is kept as typed.
    faults, notices : tuple of GridFault
        What kept a night from being kept, and what was kept but is unlikely.
    clashes : tuple of Clash
        Nights that were left as they are, since somebody else has changed them.
    """

    versions: dict[int, int]
    faults: tuple[GridFault, ...] = ()
    notices: tuple[GridFault, ...] = ()
    clashes: tuple[Clash, ...] = ()


def keep_nights(
    *,
    code: str,
    course: int,
    nights: Sequence[TypedNight],
    source: Source = Source.TYPED,
    now: datetime,
    today: date,
    by: Person,
) -> Kept:
    """Keep nights as they were typed: what changed as a new version, what is faulty not at all.

    Sending the same nights twice changes nothing, and a night that somebody else has changed
    meanwhile is never overwritten.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    nights : sequence of TypedNight
        Each with the version that it was typed over.
    source : Source
        How they reached the clinic.
    now : datetime
        When, with its offset.
    today : date
        Today at the site.
    by : Person
        Who keeps them.

    Returns
    -------
    Kept
        Versions, faults and clashes by night.

    Raises
    ------
    Refused
        If there is no such course, or it has no plan.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    found = check_all(nights, known_nights(find_course(code, course)), today=today, source=source)
    if not found.changed:  # nothing would be written, so there is no act
        return _told(found)
    with act("nights kept", by=by, subject=subject_of(code)) as doing:
        row = _held(code, course)
        found = check_all(nights, known_nights(row), today=today, source=source)
        for evening in found.changed:
            night = evening.entry.night
            found.versions[night] = found.known.version(night) + 1
            add_version(
                evening,
                course=row,
                version=found.versions[night],
                now=now,
                by_key=by.audit_key,
            )
        changed = [evening.entry.night for evening in found.changed]
        doing.note(
            course=course,
            source=source,
            versions=[f"night {night}: {found.versions[night]}" for night in changed],
        )
    return _told(found)


def record_event(
    *,
    code: str,
    course: int,
    night: int,
    tier: Tier,
    position: Position | None,
    now: datetime,
    by: Person,
) -> int:
    """Record what happened during practice; the gravest tier locks practice at once.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    night : int
        Number of the sheet.
    tier : Tier
        How grave it was.
    position : Position or None
        The position that was practised; None where nobody knows, which closes all of them.
    now : datetime
        When it is recorded, with its offset.
    by : Person
        Who records.

    Returns
    -------
    int
        Key of the event.

    Raises
    ------
    Refused
        If there is no such course, night or position in its plan.
    """
    demand(Permission.RECORD_EVENTS, of=by)
    with act("event recorded", by=by, subject=subject_of(code)) as doing:
        row = _held(code, course)
        plan = known_nights(row).plan
        where = f"event of {code}"
        if not 1 <= night <= len(plan.nights):
            what = f"night {night} is not one of the {len(plan.nights)} nights of the plan"
            raise Refused([Problem(where, what, "Give the number of the sheet.", "events")])
        event = EventRow(
            course=row,
            night=night,
            tier=tier,
            position=position or "",
            kept=now,
            kept_by=by.audit_key,
        )
        event.save()
        doing.note(course=course, night=night, tier=tier, position=position or "")
    key: int = event.pk
    return key


def answer_event(
    *, code: str, event: int, answer: ClinicianAnswer, now: datetime, by: Person
) -> None:
    """Answer an event that locked practice; only a clinician can.

    Parameters
    ----------
    code : str
        The trainee's code.
    event : int
        Key of the event.
    answer : ClinicianAnswer
        Whether practice may go on. The event itself stays: its position is never suggested.
    now : datetime
        When, with its offset.
    by : Person
        The clinician.

    Raises
    ------
    Refused
        If there is no such event, or practice may go on already.
    """
    demand(Permission.ANSWER_EVENTS, of=by)
    with act("event answered", by=by, subject=subject_of(code)) as doing:
        row: EventRow | None = (
            EventRow.objects.select_for_update().filter(pk=event, course__trainee=code).first()
        )
        where = f"event of {code}"
        if row is None or not Tier(row.tier).locks_practice:
            what = "there is none that waits for an answer"
            raise Refused([Problem(where, what, "Load the page again.", "events")])
        if row.answer == MAY_GO_ON:
            what = "it was answered already"
            raise Refused([Problem(where, what, "Record a new event if there was one.", "events")])
        doing.note(event=event, before=row.answer, answer=answer)
        row.answered, row.answered_by, row.answer = now, by.audit_key, answer
        row.save()


def sign_result(
    *,
    code: str,
    course: int,
    seen: str,
    decision: Decision,
    position: Position | None,
    now: datetime,
    by: Signer,
) -> int:
    """Lock the result as it stands and put a name under it.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    seen : str
        Fingerprint of what the signer saw; when anything has changed since, nothing is signed.
    decision : Decision
        What is decided.
    position : Position or None
        The position that is decided on.
    now : datetime
        When, with its offset.
    by : Signer
        The clinician.

    Returns
    -------
    int
        Number of the signed result.

    Raises
    ------
    Refused
        If something changed since it was seen, or the position is closed or locked.
    """
    demand(Permission.SIGN_RESULTS, of=by)
    with act("result signed", by=by, subject=subject_of(code)) as doing:
        row = _held(code, course)
        evidence = evidence_of(row)
        said = answer_now(evidence)
        faults = [
            *_changed_since(code, seen, fingerprint_of(evidence)),
            *_closed(said, decision, position, is_locked=is_locked(row)),
        ]
        if faults:
            raise Refused(faults)
        # At the latest here the estimate is locked: whoever signs knows no outcome yet.
        lock = make_lock(row, evidence, used=position, now=now, by_key=by.audit_key)
        result = Result(
            course=row,
            number=row.results.count() + 1,
            content=said.content,
            evidence=seen,
            hyperparameters=said.fit,
            program=said.program,
            made=now,
            made_by=by.audit_key,
        )
        result.save()
        signed = Signed(
            content=result.content,
            meaning=decision,
            position=position or "",
            role=Role.CLINICIAN,
            signed=now.astimezone(UTC).isoformat(timespec="seconds"),
            signed_by=by.audit_key,
        )
        Signature(
            result=result,
            meaning=signed.meaning,
            position=signed.position,
            role=signed.role,
            signed=signed.signed,
            signed_by=signed.signed_by,
            shown_as=by.display_name,
            digest=digest_of(signed),
        ).save()
        doing.note(
            course=course,
            result=result.number,
            lock=lock.row.number,
            meaning=decision,
            position=position or "",
            digest=digest_of(signed),
        )
    number: int = result.number
    return number


def _held(code: str, number: int) -> Course:
    """Read a course again, and hold it until the act ends."""
    row = find_course(code, number)
    held: Course = Course.objects.select_for_update().get(pk=row.pk)
    return held


def _told(found: Found) -> Kept:
    return Kept(
        versions=found.versions,
        faults=tuple(found.faults),
        notices=tuple(found.notices),
        clashes=tuple(Clash(night, found.known.typed(night)) for night in found.clashing),
    )


def _changed_since(code: str, seen: str, now: str) -> list[Problem]:
    if seen == now:
        return []
    what = "nights, events or plan have changed since this page was loaded"
    remedy = "Look at the result again, then sign."
    return [Problem(f"result of {code}", what, remedy, "result")]


def _closed(
    said: Answer, decision: Decision, position: Position | None, *, is_locked: bool
) -> list[Problem]:
    """Refuse what a signature here cannot allow: a closed position, practice while it is locked."""
    where = f"result of {said.estimate.trainee}"
    faults = []
    if is_locked and decision is not Decision.CLINICIAN_FIRST:
        what = "practice is locked until a clinician has answered an event"
        faults.append(Problem(where, what, "Answer the event first.", "result"))
    known = {each.position: each.may_recommend for each in said.estimate.positions}
    if position is not None and not known.get(position, False):
        what = f"{position} is not open: it had a safety event, is not in the plan, or is up"
        remedy = "Choose another position; up needs a sign-off of its own."
        faults.append(Problem(where, what, remedy, "result"))
    return faults
