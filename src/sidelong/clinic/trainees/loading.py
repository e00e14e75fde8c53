"""Taking over the files that the commands work on: rules, referrals, decisions and plans.

For clinics that began by command, and for the invented one. Codes stay as they are, so that printed
booklets and tables of nights still belong to their trainees.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from django.utils import timezone

from sidelong.clinic.accounts.people import Person
from sidelong.clinic.protocols.actions import take_up_ladder, take_up_protocol
from sidelong.clinic.trainees.actions import decide, enter_trainee, write_referral
from sidelong.clinic.trainees.plan_actions import record_visit, take_over_plan
from sidelong.clinic.trainees.visit import Seen, SeenPiece, SeenWater, TeachingVisit
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.plans import read_plans
from sidelong.exchange.protocols import read_protocol
from sidelong.exchange.referrals import read_decisions, read_referrals
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.referral import Decision, Referral

_MORNING = time(10)


@dataclass(frozen=True)
class Files:
    """What a folder of the commands holds.

    Parameters
    ----------
    protocol : Protocol
        Of ``protocol.toml``.
    referrals : tuple of Referral
        Of ``referrals.csv`` and ``answers.csv``.
    decisions : tuple of Decision
        Of ``decisions.csv``.
    plans : tuple of Plan
        Of ``plans.csv``.
    """

    protocol: Protocol
    referrals: tuple[Referral, ...]
    decisions: tuple[Decision, ...]
    plans: tuple[Plan, ...]


def read_files(folder: Path) -> Files:
    """Read the tables of a folder; tables that are not there count as empty, but for referrals."""
    protocol = read_protocol(folder / "protocol.toml")
    answers, decisions, plans = (
        path if path.is_file() else None
        for path in (folder / name for name in ("answers.csv", "decisions.csv", "plans.csv"))
    )
    return Files(
        protocol=protocol,
        referrals=read_referrals(folder / "referrals.csv", answers=answers, protocol=protocol),
        decisions=read_decisions(decisions, protocol=protocol) if decisions else (),
        plans=read_plans(plans) if plans else (),
    )


def load_files(folder: Path, *, now: datetime, lead: Person, clinician: Person) -> Files:
    """Take over everything but visits and plans, each act dated as the tables say.

    Parameters
    ----------
    folder : Path
        With ``protocol.toml``, ``ladder.csv``, ``referrals.csv`` and the tables beside it.
    now : datetime
        When protocol and ladder are taken up; with its offset.
    lead, clinician : Person
        In whose names it is done.

    Returns
    -------
    Files
        What was read, plans included, which :func:`load_plans` takes.
    """
    files = read_files(folder)
    take_up_protocol(protocol=files.protocol, now=now, by=lead)
    take_up_ladder(
        site=files.protocol.site, ladder=read_ladder(folder / "ladder.csv"), now=now, by=lead
    )
    for referral in files.referrals:
        _refer(referral, files.protocol, now=now, by=lead)
    for decision in files.decisions:
        decide(decision=decision, now=morning_of(decision.decided_on), by=clinician)
    return files


def load_plans(
    plans: Iterable[Plan], *, visits: Iterable[TeachingVisit], on: date, by: Person
) -> None:
    """Take over plans, after the visits that released their pieces.

    Parameters
    ----------
    plans : iterable of Plan
        In the order of enrolment.
    visits : iterable of TeachingVisit
        One for each; the commands keep none.
    on : date
        The day on which the plans were issued.
    by : Person
        In whose name it is done.
    """
    for visit in visits:
        record_visit(visit=visit, release=True, now=morning_of(visit.held_on), by=by)
    for plan in plans:
        take_over_plan(plan=plan, now=morning_of(on), by=by)


def invent_visit(plan: Plan, *, held_on: date) -> TeachingVisit:
    """Invent the visit before a plan, for the invented clinic alone: all went down cleanly."""
    return TeachingVisit(
        trainee=plan.trainee,
        held_on=held_on,
        adult_present=True,
        trainee_agreed=True,
        seen=tuple(_seen(position) for position in plan.positions),
        piece=plan.nights[0].piece,
    )


def morning_of(day: date) -> datetime:
    """Give a moment of a day at the site, for acts of which only the day is known."""
    return timezone.make_aware(datetime.combine(day, _MORNING))


def _seen(position: Position) -> Seen:
    return Seen(position, SeenWater.CLEAN, SeenPiece.CLEAN)


def _refer(referral: Referral, protocol: Protocol, *, now: datetime, by: Person) -> None:
    when = now if referral.referred is None else morning_of(referral.referred)
    enter_trainee(
        site=referral.site,
        language=referral.language or protocol.languages[0],
        code=referral.trainee,
        now=when,
        below=_nothing_to_draw,
        by=by,
    )
    write_referral(referral=referral, now=when, by=by)


def _nothing_to_draw(n: int) -> int:
    raise AssertionError(f"a code from a file is not drawn, and {n} was asked for")
