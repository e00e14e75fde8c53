"""Reading practice at home, as values."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.answers import Answer, Evidence, fingerprint_of
from sidelong.clinic.practice.evidence import answer_now, evidence_of, is_locked, protocol_for
from sidelong.clinic.practice.fits import keys_known
from sidelong.clinic.practice.models import EventRow, Result, Signature
from sidelong.clinic.practice.nights import find_course, known_nights, protocol_of_version
from sidelong.clinic.practice.rows import MAY_GO_ON
from sidelong.clinic.practice.signing import holds
from sidelong.clinic.practice.typed import GridFault, TypedNight, check_night
from sidelong.clinic.trainees.models import Course
from sidelong.problems import Problem, Refused
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.safety import Tier


@dataclass(frozen=True)
class GridNight:
    """One night of the grid.

    Parameters
    ----------
    typed : TypedNight
        Its texts, blank where nothing is known.
    order : tuple of Position
        Positions of its cells.
    piece_mm : float
        The planned piece.
    notices : tuple of GridFault
        What was kept but is unlikely.
    """

    typed: TypedNight
    order: tuple[Position, ...]
    piece_mm: float
    notices: tuple[GridFault, ...] = ()


@dataclass(frozen=True)
class Grid:
    """The nights of one course as the grid shows them."""

    code: str
    course: int
    is_open: bool
    is_locked: bool
    plan: Plan
    nights: tuple[GridNight, ...]


@dataclass(frozen=True)
class EventLine:
    """One event as pages show it; it waits until a clinician answers that practice may go on."""

    key: int
    night: int
    tier: Tier
    position: Position | None
    kept: datetime
    kept_by: str
    answer: str
    answered: datetime | None
    answered_by: str
    waits: bool


@dataclass(frozen=True)
class SignedLine:
    """One signature under one result.

    Parameters
    ----------
    number : int
        Of the result.
    meaning : str
        What was decided.
    position : Position or None
        Decided on.
    role, shown_as : str
        Who signed.
    signed : datetime
        When.
    digest : str
        What the signature binds.
    holds : bool
        Whether it still fits what stands above it.
    is_current : bool
        Whether it rests on what is known now.
    """

    number: int
    meaning: str
    position: Position | None
    role: str
    shown_as: str
    signed: datetime
    digest: str
    holds: bool
    is_current: bool


@dataclass(frozen=True)
class ResultNow:
    """What the nights of a course show now.

    Parameters
    ----------
    answer : Answer
        Figures and what they rest on.
    fingerprint : str
        Of what they rest on; a signature gives it back.
    protocol : Protocol
        The one that the plan was made under.
    events : tuple of EventLine
        In the order in which they were told.
    signed : tuple of SignedLine
        The last one first.
    is_locked, is_open : bool
        Whether practice waits for a clinician, and whether the course is open.
    """

    answer: Answer
    fingerprint: str
    protocol: Protocol
    events: tuple[EventLine, ...]
    signed: tuple[SignedLine, ...]
    is_locked: bool
    is_open: bool


@dataclass(frozen=True)
class SignedResult:
    """A result as it was signed, with the protocol that its plan was made under."""

    answer: Answer
    protocol: Protocol
    signed: SignedLine


@dataclass(frozen=True)
class NightVersion:
    """One version of one night, for those who ask who changed what."""

    version: int
    texts: tuple[str, ...]
    felt_best: str
    source: str
    kept: datetime
    kept_by: str


def grid_of(code: str, course: int, *, today: date, seen_by: Person) -> Grid:
    """Give the nights of a course as the grid shows them.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    today : date
        Today at the site.
    seen_by : Person
        Who looks.

    Returns
    -------
    Grid
        Every night of the plan.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_course(code, course)
    known = known_nights(row)
    nights = []
    for night in range(1, len(known.plan.nights) + 1):
        typed, order, plan = known.typed(night), known.order(night), known.plan_of(night)
        is_kept = night in known.nights
        notices = check_night(typed, plan=plan, order=order, today=today).notices if is_kept else ()
        nights.append(GridNight(typed, order, plan.nights[night - 1].piece_mm, notices))
    return Grid(code, course, row.closed is None, is_locked(row), known.plan, tuple(nights))


def orders_of(code: str, course: int, *, seen_by: Person) -> Mapping[int, tuple[Position, ...]]:
    """Give the order of the cells of every night, by number of the sheet."""
    demand(Permission.SEE_RESULTS, of=seen_by)
    known = known_nights(find_course(code, course))
    return {night: known.order(night) for night in range(1, len(known.plan.nights) + 1)}


def plan_seen(code: str, course: int, *, seen_by: Person) -> Plan:
    """Give the last version of a course's plan."""
    demand(Permission.SEE_RESULTS, of=seen_by)
    return known_nights(find_course(code, course)).plan


def events_of(code: str, course: int, *, seen_by: Person) -> tuple[EventLine, ...]:
    """Give what happened during practice, in the order in which it was told."""
    demand(Permission.SEE_RESULTS, of=seen_by)
    return _event_lines(find_course(code, course))


def versions_of(code: str, course: int, night: int, *, seen_by: Person) -> tuple[NightVersion, ...]:
    """Give every version of one night, the first one first.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    night : int
        Number of the sheet.
    seen_by : Person
        Who looks.

    Returns
    -------
    tuple of NightVersion
        With who kept each, and when.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_course(code, course)
    entries = row.nights.filter(night=night).order_by("version").prefetch_related("rows")
    names = _names_of({entry.kept_by for entry in entries})
    return tuple(
        NightVersion(
            version=entry.version,
            texts=tuple(
                " ".join(
                    str(part).replace("_", " ")
                    for part in (
                        each.position,
                        each.rating or "",
                        each.why_not or each.went_down,
                    )
                    if part
                )
                for each in entry.rows.all()
            ),
            felt_best=entry.felt_best.replace("_", " "),
            source=entry.source,
            kept=entry.kept,
            kept_by=names.get(entry.kept_by, entry.kept_by),
        )
        for entry in entries
    )


def result_now(code: str, course: int, *, seen_by: Person) -> ResultNow:
    """Say what the nights of a course show now.

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
    ResultNow
        Figures, events, signatures.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_course(code, course)
    evidence = evidence_of(row)
    fingerprint, marks = fingerprint_of(evidence), _marks(evidence)
    return ResultNow(
        answer=answer_now(evidence),
        fingerprint=fingerprint,
        protocol=protocol_for(row),
        events=_event_lines(row),
        signed=tuple(_signed_line(each, marks) for each in _signatures(row)),
        is_locked=is_locked(row),
        is_open=row.closed is None,
    )


def signed_result(code: str, course: int, number: int, *, seen_by: Person) -> SignedResult:
    """Give a result as it was when it was signed.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, number : int
        Number of the course, and of the result within it.
    seen_by : Person
        Who looks.

    Returns
    -------
    SignedResult
        From what was kept, not computed again.

    Raises
    ------
    Refused
        If there is no such result.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_course(code, course)
    result: Result | None = row.results.filter(number=number).first()
    if result is None:
        remedy = "Check the number of the result."
        raise Refused([Problem(f"result {number} of {code}", "there is none", remedy, "result")])
    signature = result.signatures.select_related("result").get()
    answer = Answer.from_content(json.loads(result.content))
    return SignedResult(
        answer=answer,
        protocol=protocol_of_version(row, answer.evidence.plan.version),
        signed=_signed_line(signature, frozenset()),
    )


def _event_lines(course: Course) -> tuple[EventLine, ...]:
    rows: list[EventRow] = list(course.events.all())
    names = _names_of({key for row in rows for key in (row.kept_by, row.answered_by)})
    return tuple(
        EventLine(
            key=row.pk,
            night=row.night,
            tier=Tier(row.tier),
            position=Position(row.position) if row.position else None,
            kept=row.kept,
            kept_by=names.get(row.kept_by, row.kept_by),
            answer=row.answer,
            answered=row.answered,
            answered_by=names.get(row.answered_by, row.answered_by),
            waits=Tier(row.tier).locks_practice and row.answer != MAY_GO_ON,
        )
        for row in rows
    )


def _names_of(keys: set[str]) -> dict[str, str]:
    """Find the names of staff as colleagues see them, by audit key."""
    numbers = [key.removeprefix("staff:") for key in keys if key.startswith("staff:")]
    found = User.objects.filter(pk__in=numbers).values_list("pk", "display_name")
    return {f"staff:{number}": name for number, name in found}


def _signatures(course: Course) -> tuple[Signature, ...]:
    found = Signature.objects.filter(result__course=course).select_related("result")
    return tuple(found.order_by("-pk"))


def _marks(evidence: Evidence) -> frozenset[str]:
    """Fingerprint what is known under every fit: a new fit alone makes no signature outdated."""
    return frozenset(fingerprint_of(replace(evidence, fit=key)) for key in keys_known())


def _signed_line(row: Signature, current: frozenset[str]) -> SignedLine:
    return SignedLine(
        number=row.result.number,
        meaning=row.meaning,
        position=Position(row.position) if row.position else None,
        role=row.role,
        shown_as=row.shown_as,
        signed=datetime.fromisoformat(row.signed),
        digest=row.digest,
        holds=holds(row),
        is_current=row.result.evidence in current,
    )
