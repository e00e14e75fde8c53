"""The nights of one course: what is known of each, and what became of what was typed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from sidelong.clinic.practice.evening import Evening
from sidelong.clinic.practice.models import NightEntry
from sidelong.clinic.practice.reading_once import once
from sidelong.clinic.practice.rows import latest_entries, to_evening
from sidelong.clinic.practice.typed import (
    GridFault,
    TypedCell,
    TypedNight,
    check_night,
    to_typed,
)
from sidelong.clinic.protocols.documents import protocol_of
from sidelong.clinic.trainees.models import Course, PlanRow
from sidelong.clinic.trainees.rows import plan_of, scale_of
from sidelong.problems import Problem, Refused
from sidelong.training.entry import RatedBy, Scale, Source
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol


def order_of(night: int, *, plan: Plan, kept: Evening | None = None) -> tuple[Position, ...]:
    """Give the order in which the cells of a night stand: as it was practised, else as planned.

    Parameters
    ----------
    night : int
        Number of the sheet, one that the plan has.
    plan : Plan
        The plan version that the night belongs to.
    kept : Evening or None
        The night as it was kept; where its order is another one, that order is shown.

    Returns
    -------
    tuple of Position
        Slot 1 first; every position of the plan once.
    """
    planned = plan.nights[night - 1].order
    rows = kept.entry.rows if kept else ()
    if all(row.slot <= len(planned) and planned[row.slot - 1] is row.position for row in rows):
        return planned
    done = {row.slot: row.position for row in rows}
    others = iter([each for each in planned if each not in done.values()])
    return tuple(done.get(slot) or next(others) for slot in range(1, len(planned) + 1))


@dataclass(frozen=True)
class KnownNight:
    """One night that was kept: its version that counts, and who kept it when."""

    version: int
    evening: Evening
    kept: datetime
    kept_by: str


@dataclass(frozen=True)
class Known:
    """What is known of one course.

    Parameters
    ----------
    plans : mapping of int to Plan
        By version, ascending; at least one.
    scale : Scale or None
        Form of the rating that was fixed for the course; None where the supporter's record counts.
    nights : mapping of int to KnownNight
        By number of the sheet.
    """

    plans: Mapping[int, Plan]
    scale: Scale | None
    nights: Mapping[int, KnownNight]

    @property
    def plan(self) -> Plan:
        """The last version of the plan."""
        return self.plans[max(self.plans)]

    def version(self, night: int) -> int:
        """Version of a night that counts; 0 where there is none."""
        known = self.nights.get(night)
        return known.version if known else 0

    def plan_of(self, night: int) -> Plan:
        """Plan version that a night belongs to: the one it was recorded under, else the last."""
        known = self.nights.get(night)
        return self.plans.get(known.evening.entry.version, self.plan) if known else self.plan

    def order(self, night: int) -> tuple[Position, ...]:
        """Order in which the cells of a night stand."""
        known = self.nights.get(night)
        kept = known.evening if known else None
        return order_of(night, plan=self.plan_of(night), kept=kept)

    def typed(self, night: int) -> TypedNight:
        """One night as it would be typed, blank where nothing is known."""
        plan, order, known = self.plan_of(night), self.order(night), self.nights.get(night)
        if known is None:
            by_supporter = self.scale is None
            return TypedNight(
                night=night,
                base=0,
                cells=(TypedCell(),) * len(order),
                scale=str(int(self.scale or Scale.FIVE)),
                rated_by=str(RatedBy.SUPPORTER) if by_supporter else "",
            )
        return to_typed(known.evening, plan=plan, order=order, version=known.version)


@dataclass(frozen=True)
class Found:
    """What became of the nights that were typed.

    Parameters
    ----------
    known : Known
        What was known before.
    changed : list of Evening
        To be kept as new versions.
    versions : dict of int to int
        Version that counts, by night that is as typed.
    faults, notices : list of GridFault
        By cell.
    clashing : list of int
        Nights that somebody else has changed.
    """

    known: Known
    changed: list[Evening] = field(default_factory=list)
    versions: dict[int, int] = field(default_factory=dict)
    faults: list[GridFault] = field(default_factory=list)
    notices: list[GridFault] = field(default_factory=list)
    clashing: list[int] = field(default_factory=list)


def find_course(code: str, number: int) -> Course:
    """Find a course.

    Parameters
    ----------
    code : str
        The trainee's code.
    number : int
        Number of the course, from 1.

    Returns
    -------
    Course
        Its row.

    Raises
    ------
    Refused
        If there is no such course.
    """
    rows = Course.objects.select_related("trainee").filter(trainee=code, number=number)
    found: Course | None = once(("course", code, number), rows.first)
    if found is None:
        remedy = "Check the code and the number of the course."
        raise Refused([Problem(f"course {number} of {code}", "there is none", remedy, "trainee")])
    return found


def plan_rows(course: Course) -> tuple[PlanRow, ...]:
    """Give all versions of a course's plan, first version first.

    Parameters
    ----------
    course : Course
        Its row.

    Returns
    -------
    tuple of PlanRow
        At least one.

    Raises
    ------
    Refused
        If there is none yet.
    """
    found = course.plans.select_related("protocol", "course__trainee").order_by("version")
    rows = once(("plans", course.pk), lambda: tuple(found))
    if not rows:
        where = f"course {course.number} of {course.trainee_id}"
        remedy = "A plan is made after the teaching visit."
        raise Refused([Problem(where, "it has no plan yet", remedy, "no-plan")])
    return rows


def protocol_of_version(course: Course, version: int) -> Protocol:
    """Give the protocol that one version of a course's plan was made under.

    Parameters
    ----------
    course : Course
        Its row.
    version : int
        Of the plan; what was signed rests on it, whatever was taken into use later.

    Returns
    -------
    Protocol
        As it was when that version was issued.
    """
    row = next(each for each in plan_rows(course) if each.version == version)
    return protocol_of(row.protocol.text)


def known_nights(course: Course) -> Known:
    """Read what is known of a course.

    Parameters
    ----------
    course : Course
        Its row.

    Returns
    -------
    Known
        Plans and nights, as values.
    """
    return once(("nights", course.pk), lambda: _read_nights(course))


def _read_nights(course: Course) -> Known:
    rows = plan_rows(course)
    plans = {row.version: plan_of(row) for row in rows}
    last = plans[rows[-1].version]
    entries: Sequence[NightEntry] = tuple(latest_entries(course))
    nights = {
        row.night: KnownNight(row.version, to_evening(row, plan=last), row.kept, row.kept_by)
        for row in entries
    }
    return Known(plans, scale_of(rows[-1]), nights)


def check_all(typed: Sequence[TypedNight], known: Known, *, today: date, source: Source) -> Found:
    """Say of every typed night whether it is kept already, changed, faulty or clashing.

    Parameters
    ----------
    typed : sequence of TypedNight
        As they came.
    known : Known
        What is kept.
    today : date
        Today at the site.
    source : Source
        How they reached the clinic.

    Returns
    -------
    Found
        Nothing was written.
    """
    found = Found(known)
    for night in typed:
        plan = known.plans.get(night.plan_version) or known.plan_of(night.night)
        planned = night.night in range(1, len(plan.nights) + 1)
        order = night.order or (known.order(night.night) if planned else ())
        checked = check_night(night, plan=plan, order=order, today=today, source=source)
        found.faults.extend(checked.faults)
        if checked.evening is None:
            continue
        found.notices.extend(checked.notices)
        before = known.nights.get(night.night)
        if before is None and checked.evening.is_blank:
            found.versions[night.night] = 0
        elif before is not None and checked.evening.says_the_same(before.evening):
            found.versions[night.night] = before.version
        elif night.base != known.version(night.night):
            found.clashing.append(night.night)
        else:
            found.changed.append(checked.evening)
    return found
