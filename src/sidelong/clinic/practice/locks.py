"""Locked estimates and first doses: rows into values and back, inside acts of other modules."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from sidelong.clinic.practice.answers import Answer, Evidence, fingerprint_of
from sidelong.clinic.practice.evidence import answer_now
from sidelong.clinic.practice.fits import fit_of
from sidelong.clinic.practice.models import EstimateLock, FirstDoseRow, Signature
from sidelong.clinic.practice.snapshot import canonical, digest, from_plain, to_plain
from sidelong.clinic.trainees.models import Course
from sidelong.exchange.promises import mark_fit
from sidelong.pathway.promises import lock_figures
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import (
    DoseKind,
    FirstDose,
    LockedEstimate,
    SeenBy,
    promise_for,
)


@dataclass(frozen=True)
class Made:
    """A lock, and whether it was made just now or stood there already."""

    row: EstimateLock
    is_new: bool


def find_lock(course: Course, evidence: Evidence) -> EstimateLock | None:
    """Find the lock of the follow-up under way that rests on exactly this; None if there is none.

    Parameters
    ----------
    course : Course
        Its row.
    evidence : Evidence
        What is known now.

    Returns
    -------
    EstimateLock or None
        Nothing is written.
    """
    follow_up = _follow_up(course, evidence)
    mark = fingerprint_of(evidence)
    found: EstimateLock | None = course.locks.filter(follow_up=follow_up, evidence=mark).first()
    return found


def make_lock(
    course: Course,
    evidence: Evidence,
    *,
    used: Position | None,
    now: datetime,
    by_key: str,
) -> Made:
    """Lock what the nights say now, inside an act; what is locked already stays as it is.

    Parameters
    ----------
    course : Course
        Its row, held.
    evidence : Evidence
        What is known now.
    used : Position or None
        The position to be used at this follow-up, where that was said beforehand.
    now : datetime
        When, with its offset.
    by_key : str
        Audit key of who begins the follow-up.

    Returns
    -------
    Made
        The lock of exactly this evidence.
    """
    known = find_lock(course, evidence)
    if known is not None:
        return Made(known, is_new=False)
    said, mark = answer_now(evidence), fingerprint_of(evidence)
    last = course.locks.order_by("-number").first()
    lock = lock_figures(
        said.estimate,
        course=evidence.plan.course,
        version=evidence.plan.version,
        follow_up=_follow_up(course, evidence),
        number=last.number + 1 if last else 1,
        locked_at=now,
        locked_by=by_key,
        program=said.program,
        fit=mark_fit(fit_of(evidence.fit)),
        evidence=mark,
        used=used,
    )
    text = canonical(to_plain(lock))
    row = EstimateLock(
        course=course,
        number=lock.number,
        follow_up=lock.follow_up,
        lock=text,
        content=said.content,
        evidence=mark,
        digest=digest("sidelong lock 1", text, said.content),
        locked=now,
        locked_by=by_key,
    )
    row.save()
    return Made(row, is_new=True)


def to_lock(row: EstimateLock) -> LockedEstimate:
    """Make the value of a lock, from what was kept."""
    return from_plain(LockedEstimate, json.loads(row.lock))


def answer_of(row: EstimateLock) -> Answer:
    """Make the whole answer that was locked, with the nights that it rests on."""
    return Answer.from_content(json.loads(row.content))


def lock_holds(row: EstimateLock) -> bool:
    """Tell whether a lock is still as it was made."""
    lock = to_lock(row)
    same = (lock.number, lock.follow_up, lock.evidence, lock.locked_at, lock.locked_by) == (
        row.number,
        row.follow_up,
        row.evidence,
        row.locked,
        row.locked_by,
    )
    return same and digest("sidelong lock 1", row.lock, row.content) == str(row.digest)


def promise_row(locks: Sequence[EstimateLock], dose: FirstDose) -> EstimateLock:
    """Find the lock that a first dose is laid against.

    Parameters
    ----------
    locks : sequence of EstimateLock
        Of the dose's course, by number.
    dose : FirstDose
        What happened.

    Returns
    -------
    EstimateLock
        The first one of the last follow-up that had begun by that day.

    Raises
    ------
    Refused
        If nothing was locked by that day.
    """
    values = [to_lock(row) for row in locks]
    days = [timezone.localdate(row.locked) for row in locks]
    promise = promise_for(values, days=days, given_on=dose.given_on)
    return next(row for row in locks if row.number == promise.number)


def add_dose(
    course: Course, dose: FirstDose, *, lock: EstimateLock, now: datetime, by_key: str
) -> FirstDoseRow:
    """Add a version of a course's first dose, inside an act.

    Parameters
    ----------
    course : Course
        Its row, held.
    dose : FirstDose
        What happened.
    lock : EstimateLock
        The estimate that it is laid against.
    now : datetime
        When it is recorded, with its offset.
    by_key : str
        Audit key of who records it.

    Returns
    -------
    FirstDoseRow
        The new row.
    """
    last = course.first_doses.order_by("-version").first()
    row = FirstDoseRow(
        course=course,
        version=last.version + 1 if last else 1,
        lock=lock,
        given_on=dose.given_on,
        position=dose.position or "",
        kind=dose.kind,
        shape=dose.shape,
        largest_mm=dose.largest_mm,
        seen_by=dose.seen_by,
        went_down=dose.went_down,
        why_not=dose.why_not or "",
        rating=dose.rating,
        whole=dose.whole,
        unchewed=dose.unchewed,
        unaided=dose.unaided,
        kept=now,
        kept_by=by_key,
    )
    row.save()
    return row


def to_dose(row: FirstDoseRow) -> FirstDose:
    """Make the value of a first dose; its course comes with the row."""
    return FirstDose(
        trainee=row.course.trainee_id,
        course=row.course.number,
        given_on=row.given_on,
        position=Position(row.position) if row.position else None,
        kind=DoseKind(row.kind),
        shape=Shape(row.shape),
        largest_mm=row.largest_mm,
        seen_by=SeenBy(row.seen_by),
        went_down=WentDown(row.went_down),
        why_not=WhyNot(row.why_not) if row.why_not else None,
        rating=row.rating,
        whole=row.whole,
        unchewed=row.unchewed,
        unaided=row.unaided,
    )


def _follow_up(course: Course, evidence: Evidence) -> int:
    """Give the number of the follow-up; after a signature, new nights begin a new one."""
    last: EstimateLock | None = course.locks.order_by("-number").first()
    if last is None:
        return 1
    first: EstimateLock = course.locks.filter(follow_up=last.follow_up).earliest("number")
    signed = Signature.objects.filter(result__course=course, result__made__gte=first.locked)
    known = {entry.night for entry in answer_of(last).evidence.entries}
    has_new_nights = any(entry.night not in known for entry in evidence.entries)
    return int(last.follow_up) + (1 if signed.exists() and has_new_nights else 0)
