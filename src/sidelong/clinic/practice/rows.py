"""Rows of nights and events into values, and back."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from sidelong.clinic.practice.evening import Evening, NotDone
from sidelong.clinic.practice.models import ALL_THE_SAME, EventRow, NightEntry, NightRow
from sidelong.clinic.trainees.models import Course
from sidelong.training.entry import (
    Entry,
    EntryRow,
    RatedBy,
    Scale,
    Source,
    WentDown,
    WhyNot,
    Written,
)
from sidelong.training.event import Event
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.safety import Tier

MAY_GO_ON = "may_go_on"
"""The answer of a clinician that lets practice go on."""


def latest_entries(course: Course) -> QuerySet[NightEntry]:
    """Find the version that counts of every night of a course, by night."""
    later = NightEntry.objects.filter(
        course=OuterRef("course"), night=OuterRef("night"), version__gt=OuterRef("version")
    )
    found: QuerySet[NightEntry] = (
        course.nights.filter(~Exists(later)).order_by("night").prefetch_related("rows")
    )
    return found


def to_evening(row: NightEntry, *, plan: Plan) -> Evening:
    """Make the value of one version of a night.

    Parameters
    ----------
    row : NightEntry
        With its rows.
    plan : Plan
        A plan of the same course; says site and band.

    Returns
    -------
    Evening
        As it was kept.
    """
    rated_by = RatedBy(row.rated_by) if row.rated_by else None
    named = row.felt_best not in {"", ALL_THE_SAME}
    entry = Entry(
        trainee=plan.trainee,
        night=row.night,
        rows=tuple(
            EntryRow(
                slot=each.slot,
                position=Position(each.position),
                piece_mm=each.piece_mm,
                rating=each.rating,
                went_down=WentDown(each.went_down) if each.went_down else None,
                why_not=WhyNot(each.why_not) if each.why_not else None,
                rated_by=rated_by,
            )
            for each in row.rows.all()
        ),
        felt_best=Position(row.felt_best) if named else None,
        all_the_same=row.felt_best == ALL_THE_SAME,
        course=plan.course,
        version=row.plan_version,
        scale=Scale(row.scale),
        written=Written(row.written) if row.written else None,
        source=Source(row.source),
        site=plan.site,
        band=plan.band,
    )
    return Evening(entry, row.evening, NotDone(row.not_done) if row.not_done else None)


def add_version(
    evening: Evening, *, course: Course, version: int, now: datetime, by_key: str
) -> NightEntry:
    """Add one version of a night, inside an act.

    Parameters
    ----------
    evening : Evening
        What was recorded.
    course : Course
        Whose night.
    version : int
        From 1; one more than the last.
    now : datetime
        When, with its offset.
    by_key : str
        Audit key of who keeps it.

    Returns
    -------
    NightEntry
        The new row.
    """
    entry = evening.entry
    row = NightEntry(
        course=course,
        night=entry.night,
        version=version,
        plan_version=entry.version,
        source=entry.source or Source.TYPED,
        evening=evening.evening,
        written=entry.written or "",
        scale=int(entry.scale),
        rated_by=next((each.rated_by for each in entry.rows if each.rated_by), "") or "",
        felt_best=ALL_THE_SAME if entry.all_the_same else entry.felt_best or "",
        not_done=evening.not_done or "",
        kept=now,
        kept_by=by_key,
    )
    row.save()
    NightRow.objects.bulk_create(
        NightRow(
            entry=row,
            slot=each.slot,
            position=each.position,
            piece_mm=each.piece_mm,
            rating=each.rating,
            went_down=each.went_down or "",
            why_not=each.why_not or "",
        )
        for each in entry.rows
    )
    return row


def to_events(rows: Iterable[EventRow], *, trainee: str = "") -> tuple[Event, ...]:
    """Make the values of events.

    Parameters
    ----------
    rows : iterable of EventRow
        As they are kept.
    trainee : str
        Whose, where all are of one; else rows come with their courses.

    Returns
    -------
    tuple of Event
        In the order of the rows; one that was answered with "may go on" says since when.
    """
    return tuple(
        Event(
            trainee=trainee or row.course.trainee_id,
            night=row.night,
            tier=Tier(row.tier),
            position=Position(row.position) if row.position else None,
            may_go_on_since=_may_go_on_since(row),
        )
        for row in rows
    )


def _may_go_on_since(row: EventRow) -> date | None:
    if row.answered is None or row.answer != MAY_GO_ON:
        return None
    return timezone.localdate(row.answered)
