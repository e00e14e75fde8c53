"""What is done from the teaching visit to the booklet, each as one recorded act."""

import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime

from django.utils import timezone

import sidelong
from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import Act, act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.protocols.documents import ladder_of, protocol_of
from sidelong.clinic.protocols.in_use import ladder_row, protocol_row
from sidelong.clinic.trainees.allocation import (
    allocation_in_use,
    allocation_key,
    pass_over,
    take_place,
)
from sidelong.clinic.trainees.booklets import next_place
from sidelong.clinic.trainees.grounds import (
    Ground,
    enrol,
    faults_beyond,
    find_ground,
    gap_faults,
    held_back,
    refuse,
    unchanged_faults,
    visit_faults,
)
from sidelong.clinic.trainees.happened import lock_faults
from sidelong.clinic.trainees.models import (
    Allocation,
    BookletRow,
    Course,
    PlanRow,
    Trainee,
    VisitRow,
)
from sidelong.clinic.trainees.rows import plan_columns, plan_of, scale_of, visit_columns, visit_of
from sidelong.clinic.trainees.standing import deciding_row, stand
from sidelong.clinic.trainees.visit import TeachingVisit
from sidelong.designs import commit_seed, table_digest
from sidelong.paper.booklet import make_booklet
from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.paper.typst import typeset as typeset_pdf
from sidelong.paper.version import Audience, Edition
from sidelong.pathway.planning import draw_plan, rating_form
from sidelong.problems import Problem, Refused
from sidelong.training.plan import Plan


def record_visit(*, visit: TeachingVisit, release: bool, now: datetime, by: Person) -> int:
    """Keep what was seen at a teaching visit; the first one opens the course.

    Parameters
    ----------
    visit : TeachingVisit
        What was seen.
    release : bool
        Whether pieces may go home after it.
    now : datetime
        When it is written, with its offset.
    by : Person
        Who taught.

    Returns
    -------
    int
        Version of the visit within the course, from 1.

    Raises
    ------
    Refused
        If no clinician's decision held on that day, a position or piece was tried that is ruled
        out, or pieces are released that nobody saw swallowed cleanly.
    """
    demand(Permission.RECORD_VISITS, of=by)
    with act("visit recorded", by=by, subject=subject_of(visit.trainee)) as doing:
        trainee = _locked(visit.trainee)
        standing = stand(trainee.code, today=visit.held_on)
        refuse(visit_faults(visit, standing, release=release, today=timezone.localdate(now)))
        course = _open_course(trainee, now=now, by=by)
        version: int = course.visits.count() + 1
        VisitRow(
            course=course,
            version=version,
            released=release,
            written=now,
            written_by=by.audit_key,
            **visit_columns(visit),
        ).save()
        doing.note(
            course=course.number,
            version=version,
            held_on=str(visit.held_on),
            piece=visit.piece,
            seen_cleanly=visit.seen_cleanly,
            signs=visit.has_signs,
            released=release,
        )
    return version


def begin_allocation(*, now: datetime, by: Person) -> None:
    """Record the commitment to the newest allocation key, before anything is drawn with it.

    Does nothing where that has been done.

    Parameters
    ----------
    now : datetime
        When, with its offset.
    by : Person
        Who begins.
    """
    demand(Permission.ISSUE_PLANS, of=by)
    key = allocation_key()
    if Allocation.objects.filter(key_name=key.name).exists():
        return
    with act("allocation begun", by=by, subject=f"allocation:{key.name}") as doing:
        row = Allocation(
            key_name=key.name,
            commitment=commit_seed(key.secret),
            orders_table=table_digest(),
            program=f"sidelong {sidelong.__version__}",
            begun=now,
            begun_by=by.audit_key,
        )
        row.save()
        doing.note(commitment=row.commitment, orders_table=row.orders_table)


def issue_plan(*, code: str, start: date | None = None, now: datetime, by: Person) -> int:
    """Draw and keep the next version of a plan, in the order in which trainees enrol.

    Parameters
    ----------
    code : str
        The trainee's code.
    start : date, optional
        First evening, where one was agreed.
    now : datetime
        When, with its offset.
    by : Person
        Who issues.

    Returns
    -------
    int
        Version of the plan within the course, from 1.

    Raises
    ------
    Refused
        If practice is locked after an event, a clinician's decision does not hold, nothing was
        released at a visit, no piece keeps to the limits, the allocation has not begun, or nothing
        has changed since the last version.
    """
    demand(Permission.ISSUE_PLANS, of=by)
    with act("plan issued", by=by, subject=subject_of(code)) as doing:
        ground = find_ground(_locked(code), today=timezone.localdate(now))
        enrolment = enrol(ground)
        refuse(unchanged_faults(enrolment, course=ground.course))
        key = allocation_key()
        allocation = allocation_in_use(key)
        n_nights = ground.standing.protocol.course.nights
        plan = draw_plan(
            enrolment,
            seed=key.secret.hex(),
            index=take_place(allocation, enrolment.stream(n_nights)),
            n_nights=n_nights,
            start=start,
            protocol_version=ground.standing.protocol.version,
        )
        _keep_plan(plan, ground, doing, now=now, by=by)
    return plan.version


def take_over_plan(*, plan: Plan, now: datetime, by: Person) -> int:
    """Keep a plan that was drawn by command, on the same conditions as one that is drawn here.

    Parameters
    ----------
    plan : Plan
        With the record of how it was drawn.
    now : datetime
        When it was issued, with its offset.
    by : Person
        Who takes it over.

    Returns
    -------
    int
        Version of the plan within the course, from 1.

    Raises
    ------
    Refused
        As for :func:`issue_plan`, and if the plan goes beyond what decision and visit allow, does
        not say how it was drawn, or its place is taken.
    """
    demand(Permission.ISSUE_PLANS, of=by)
    with act("plan taken over", by=by, subject=subject_of(plan.trainee)) as doing:
        ground = find_ground(_locked(plan.trainee), today=timezone.localdate(now))
        allowed = enrol(ground)
        refuse(faults_beyond(plan, allowed, ground=ground))
        kept = replace(plan, course=allowed.course, version=allowed.version)
        drawn = kept.allocation
        if drawn is not None:
            pass_over(drawn.commitment, drawn.stream, index=drawn.index)
        _keep_plan(kept, ground, doing, now=now, by=by)
    return kept.version


def hand_out_booklet(
    *,
    code: str,
    paper: Paper,
    language: str,
    audience: Audience | None = None,
    edition: Edition = Edition.STANDARD,
    now: datetime,
    by: Person,
    typeset: Callable[..., bytes] = typeset_pdf,
) -> bytes:
    """Make the booklet of a trainee's last plan, and keep that it was made.

    Parameters
    ----------
    code : str
        The trainee's code.
    paper : Paper
        What it will be printed on.
    language : str
        BCP 47 tag.
    audience : Audience or None
        For whom it speaks; None for what the plan's age band says.
    edition : Edition
        How large it is set.
    now : datetime
        When, with its offset.
    by : Person
        Who makes it.
    typeset : callable
        Sets the pages, see :func:`sidelong.paper.typst.typeset`.

    Returns
    -------
    bytes
        The PDF that the command makes of the same plan, protocol and pieces; a later booklet of
        the course has numbers of its own, and says so.

    Raises
    ------
    Refused
        If there is no plan, practice is not allowed today or locked after an event, or another
        booklet of the course was made meanwhile.
    """
    demand(Permission.ISSUE_PLANS, of=by)
    row = _last_plan(code)
    place = next_place(row)
    _refuse_practice(code, today=timezone.localdate(now))
    # Set before the act begins: pages take a second, and other acts would wait for it.
    made = make_booklet(
        plan_of(row),
        protocol=protocol_of(row.protocol.text),
        scale=scale_of(row),
        pieces=ladder_of(row.ladder.text).steps,
        paper=paper,
        language=read_language(language),
        audience=audience,
        edition=edition,
        keys=place.keys,
        number=place.number,
        is_reprint=place.is_reprint,
        typeset=typeset,
    )
    with act("booklet made", by=by, subject=subject_of(code)) as doing:
        # Again: an event may have been recorded while the pages were set, or a booklet made.
        _refuse_practice(code, today=timezone.localdate(now))
        if next_place(row) != place:
            what = "another booklet was made at the same time"
            refuse([held_back(code, what, "Make it again, and print that one.")])
        digest = hashlib.sha256(made.pdf).hexdigest()
        BookletRow(
            plan=row,
            number=place.number,
            printed_number=place.number,
            key=place.keys[0],
            second_key=place.keys[1],
            audience=str(audience or ""),
            edition=str(edition),
            paper=str(paper),
            language=language,
            digest=digest,
            made=now,
            made_by=by.audit_key,
        ).save()
        doing.note(
            course=row.course.number,
            version=row.version,
            booklet=place.number,
            paper=str(paper),
            language=language,
            edition=str(edition),
            digest=digest,
        )
    return made.pdf


def _keep_plan(plan: Plan, ground: Ground, doing: Act, *, now: datetime, by: Person) -> None:
    protocol = ground.standing.protocol
    scale = visit_of(ground.visit).scale or rating_form(plan, protocol)
    row = PlanRow(
        course=ground.course,
        scale=None if scale is None else int(scale),
        protocol=protocol_row(protocol.site),
        ladder=ladder_row(protocol.site),
        decision=deciding_row(ground.standing),
        visit=ground.visit,
        issued=now,
        issued_by=by.audit_key,
        **plan_columns(plan),
    )
    row.save()
    doing.note(
        course=plan.course,
        version=plan.version,
        positions=[str(each) for each in plan.positions],
        piece=plan.nights[0].piece,
        nights=len(plan.nights),
        protocol=protocol.version,
        stream=row.stream,
        index=row.stream_index,
        commitment=row.commitment,
    )


def _refuse_practice(code: str, *, today: date) -> None:
    """Refuse where practice is not allowed on a day, or is locked after an event."""
    refuse([*lock_faults(code), *gap_faults(code, stand(code, today=today).gaps)])


def _last_plan(code: str) -> PlanRow:
    rows = PlanRow.objects.filter(course__trainee=code).order_by("course__number", "version")
    row: PlanRow | None = rows.select_related("course__trainee", "protocol", "ladder").last()
    if row is None:
        raise Refused([held_back(code, "there is no plan", "Issue one first.")])
    return row


def _open_course(trainee: Trainee, *, now: datetime, by: Person) -> Course:
    """Find the open course, or begin the next one."""
    course: Course | None = trainee.courses.filter(closed__isnull=True).first()
    if course is None:
        number = trainee.courses.count() + 1
        course = Course(trainee=trainee, number=number, opened=now, opened_by=by.audit_key)
        course.save()
    return course


def _locked(code: str) -> Trainee:
    trainee: Trainee | None = Trainee.objects.select_for_update().filter(code=code).first()
    if trainee is None:
        remedy = "Check every character; the last one shows slips."
        raise Refused([Problem(f"trainee {code}", "there is no such code", remedy, "trainee")])
    return trainee
