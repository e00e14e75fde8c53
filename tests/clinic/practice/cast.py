"""A course with a plan, set down row by row: the way to a plan has tests of its own."""

import random
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.practice.typed import TypedCell, TypedNight
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.protocols import protocol_text, read_demo_protocol
from sidelong.pathway.enrolling import Enrolment
from sidelong.pathway.planning import draw_plan
from sidelong.training.entry import Scale
from sidelong.training.plan import Plan
from sidelong.training.position import Position

NOW = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
TODAY = date(2026, 11, 25)
CODE = "HL-7K3PX"


def set_down_course(
    code: str = CODE,
    *,
    index: int = 0,
    positions: tuple[Position, ...] = tuple(Position),
    scale: Scale | None = Scale.FIVE,
    n_nights: int = 14,
    start: date | None = None,
) -> Any:
    """Keep a trainee, an open course and its plan; gives the row of the course."""
    from sidelong.clinic.audit.acts import act
    from sidelong.clinic.protocols.documents import ladder_text
    from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion
    from sidelong.clinic.trainees.models import Course, DecisionRow, PlanRow, Trainee, VisitRow
    from sidelong.clinic.trainees.rows import plan_columns

    protocol = read_demo_protocol()
    plan = draw_plan(
        Enrolment(code, positions, site=protocol.site, band="older"),
        seed="20261125",
        index=index,
        n_nights=n_nights,
        start=start,
        protocol_version=protocol.version,
    )
    by, told = "operator", {"written": NOW, "written_by": "operator"}
    with act("course set down", by=Operator(), subject=f"trainee:{code}"):
        trainee = Trainee(code=code, site=protocol.site, entered=NOW, entered_by=by)
        trainee.save()
        course = Course(trainee=trainee, number=1, opened=NOW, opened_by=by)
        course.save()
        document = {"site": protocol.site, "taken_up": NOW, "taken_up_by": by}
        kept = ProtocolVersion.objects.filter(site=protocol.site).first()
        if kept is None:
            kept = ProtocolVersion(
                version=protocol.version,
                text=protocol_text(protocol),
                fingerprint=protocol.fingerprint,
                **document,
            )
            kept.save()
        ladder = LadderVersion.objects.first()
        if ladder is None:
            steps = read_ladder(Path(str(files("sidelong.exchange") / "demo_ladder.csv")))
            text = ladder_text(steps)
            ladder = LadderVersion(number=1, text=text, fingerprint="0" * 64, **document)
            ladder.save()
        decision = DecisionRow(
            trainee=trainee,
            gate="practice",
            decided="go",
            decided_by="Dr Invented",
            role="clinician",
            decided_on=TODAY,
            expires_on=TODAY,
            reason="invented",
            **told,
        )
        decision.save()
        visit = VisitRow(
            course=course,
            version=1,
            held_on=TODAY,
            adult_present=True,
            trainee_agreed=True,
            seen_cleanly=True,
            released=True,
            **told,
        )
        visit.save()
        PlanRow(
            course=course,
            scale=None if scale is None else int(scale),
            protocol=kept,
            ladder=ladder,
            decision=decision,
            visit=visit,
            issued=NOW,
            issued_by=by,
            **plan_columns(plan),
        ).save()
    return course


def plan_in(course: Any) -> Plan:
    """Give the plan of a course that was set down."""
    from sidelong.clinic.trainees.rows import plan_of

    return plan_of(course.plans.get())


def invent_nights(plan: Plan, *, seed: int = 3, is_patchy: bool = False) -> list[TypedNight]:
    """Invent what a family may have written; with gaps and every kind of answer where wished."""
    draw = random.Random(seed)
    nights = []
    for number, night in enumerate(plan.nights, start=1):
        if is_patchy and number in {4, 9}:
            continue
        cells = [_invented_cell(draw, is_patchy=is_patchy) for _ in night.order]
        tried = [
            position
            for position, cell in zip(night.order, cells, strict=True)
            if cell.went_down in {"first", "later"}
        ]
        best = draw.choice([*tried, "all_the_same"])
        if is_patchy and number % 5 == 0:
            best = ""
        nights.append(
            TypedNight(
                night=number,
                base=0,
                cells=tuple(cells),
                felt_best=str(best),
                written=draw.choice(["", "same_evening", "next_day", "later"]),
                scale="5",
            )
        )
    return nights


def _invented_cell(draw: random.Random, *, is_patchy: bool) -> TypedCell:
    kind = draw.random()
    if not is_patchy or kind < 0.6:
        return TypedCell(str(draw.randint(1, 5)), draw.choice(["first", "first", "later", "no"]))
    return draw.choice(
        [
            TypedCell(),
            TypedCell(str(draw.randint(1, 5))),
            TypedCell("", "no", "spat_out"),
            TypedCell("", "no", "not_tried"),
            TypedCell("1", "no", "refused"),
            TypedCell("", "first"),
        ]
    )
