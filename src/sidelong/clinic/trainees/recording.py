"""From rows to the record of one trainee, or of all of them, without a query for each."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime

from django.db.models import QuerySet

from sidelong.clinic.accounts.models import User
from sidelong.clinic.look import say_piece
from sidelong.clinic.protocols.documents import ladder_of, protocol_of
from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion
from sidelong.clinic.trainees.happened import events_of_trainees
from sidelong.clinic.trainees.models import Course, PlanRow, ReferralRow, Trainee
from sidelong.clinic.trainees.record import (
    Done,
    KeptBooklet,
    KeptDecision,
    KeptPlan,
    KeptReferral,
    KeptVisit,
    Record,
)
from sidelong.clinic.trainees.rows import decision_of, plan_of, referral_of, scale_of, visit_of
from sidelong.clinic.trainees.standing import sort_one
from sidelong.problems import Refused
from sidelong.training.event import locked_trainees
from sidelong.training.protocol import Protocol

_RELATED = (
    "referrals__given",
    "referrals__trainee",
    "decisions",
    "courses__trainee",
    "courses__visits__course",
    "courses__plans__course__trainee",
    "courses__plans__protocol",
    "courses__plans__decision",
    "courses__plans__visit",
    "courses__plans__booklets",
)


def record_all(
    rows: "QuerySet[Trainee]", *, today: date, evening: date | None = None
) -> tuple[Record, ...]:
    """Make the records of some trainees.

    Parameters
    ----------
    rows : QuerySet of Trainee
        Which ones.
    today : date
        The day on which they are sorted.
    evening : date, optional
        The evening that is running; before 04:00 it is that of the day before. As `today` where
        it is not given.

    Returns
    -------
    tuple of Record
        In the order of the rows.
    """
    loaded = list(rows.prefetch_related(*_RELATED))
    names = staff_names()
    protocols = {row.site: protocol_of(row.text) for row in ProtocolVersion.objects.order_by("pk")}
    pieces = _said_pieces()
    locked = locked_trainees(events_of_trainees([row.code for row in loaded]))
    return tuple(
        replace(
            _record(
                row,
                protocols.get(row.site),
                pieces.get(row.site, {}),
                names=names,
                today=today,
            ),
            is_locked=row.code in locked,
            evening=evening or today,
        )
        for row in loaded
    )


def _said_pieces() -> dict[str, dict[str, str]]:
    """Put the pieces of every site into words, by code; the newest ladder counts."""
    said: dict[str, dict[str, str]] = {}
    for row in LadderVersion.objects.order_by("pk"):
        ladder = ladder_of(row.text)
        said.setdefault(row.site, {}).update({p.code: say_piece(p) for p in ladder.steps})
    return said


def staff_names() -> dict[str, str]:
    """Give the names of staff by their keys in the trail, those whose access ended as well."""
    return {user.audit_key: user.display_name for user in User.objects.all()}


def _record(
    row: Trainee,
    protocol: Protocol | None,
    pieces: Mapping[str, str],
    *,
    names: Mapping[str, str],
    today: date,
) -> Record:
    def done(key: str, at: datetime) -> Done:
        return Done(names.get(key, key), at)

    referrals = sorted(row.referrals.all(), key=lambda each: each.version)
    newest = referrals[-1] if referrals else None
    decisions = sorted(row.decisions.all(), key=lambda each: each.pk)
    kept = tuple(
        KeptDecision(decision_of(each), done(each.written_by, each.written)) for each in decisions
    )
    courses = sorted(row.courses.all(), key=lambda each: each.number)
    last = courses[-1] if courses else None
    standing = None
    if newest is not None and protocol is not None:
        try:
            standing = sort_one(newest, protocol, [each.decision for each in kept], today=today)
        except Refused:
            # Answers to questions that the protocol in use no longer asks: the referral has to
            # be looked at again, and one such trainee must not hide all others.
            standing = None
    return Record(
        code=row.code,
        site=row.site,
        language=row.language,
        site_name=(protocol.site_name if protocol else "") or row.site,
        entered=done(row.entered_by, row.entered),
        referral=None if newest is None else _kept_referral(newest, names),
        standing=standing,
        decisions=kept,
        course=0 if last is None else last.number,
        is_open=last is not None and last.closed is None,
        visits=() if last is None else _visits(last, names, pieces),
        plans=() if last is None else _plans(last, names, pieces),
        evening=today,
        why_closed="" if last is None else last.why_closed,
    )


def _kept_referral(row: ReferralRow, names: Mapping[str, str]) -> KeptReferral:
    written = Done(names.get(row.written_by, row.written_by), row.written)
    last = max(row.given.all(), key=lambda each: each.pk, default=None)
    answered = (
        written if last is None else Done(names.get(last.written_by, last.written_by), last.written)
    )
    return KeptReferral(referral_of(row), row.version, written, answered)


def _visits(
    course: Course, names: Mapping[str, str], pieces: Mapping[str, str]
) -> tuple[KeptVisit, ...]:
    return tuple(
        KeptVisit(
            visit_of(row),
            row.version,
            row.released,
            Done(names.get(row.written_by, row.written_by), row.written),
            pieces.get(row.piece, row.piece),
        )
        for row in sorted(course.visits.all(), key=lambda each: each.version)
    )


def _plans(
    course: Course, names: Mapping[str, str], pieces: Mapping[str, str]
) -> tuple[KeptPlan, ...]:
    rows = sorted(course.plans.all(), key=lambda each: each.version)
    return tuple(_kept_plan(row, names, pieces) for row in rows)


def _kept_plan(row: PlanRow, names: Mapping[str, str], pieces: Mapping[str, str]) -> KeptPlan:
    plan = plan_of(row)
    first = plan.nights[0]
    booklets = sorted(row.booklets.all(), key=lambda each: each.pk)
    return KeptPlan(
        plan=plan,
        scale=scale_of(row),
        protocol=protocol_of(row.protocol.text),
        issued=Done(names.get(row.issued_by, row.issued_by), row.issued),
        decided_by=row.decision.decided_by,
        seen_on=row.visit.held_on,
        booklets=tuple(
            KeptBooklet(
                number=each.number,
                paper=each.paper,
                language=each.language,
                edition=each.edition,
                audience=each.audience,
                made=Done(names.get(each.made_by, each.made_by), each.made),
            )
            for each in booklets
        ),
        piece=pieces.get(first.piece, "") or f"{first.piece} {first.piece_mm:g}\u00a0mm".strip(),
    )
