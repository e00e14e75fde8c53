"""What a visit, a plan and a booklet rest on, and everything that stands against them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from sidelong.clinic.protocols.documents import ladder_of
from sidelong.clinic.protocols.in_use import ladder_row
from sidelong.clinic.trainees.happened import lock_faults
from sidelong.clinic.trainees.models import Course, PlanRow, Trainee, VisitRow
from sidelong.clinic.trainees.rows import plan_of, visit_of
from sidelong.clinic.trainees.standing import Standing, stand
from sidelong.clinic.trainees.visit import (
    SeenPiece,
    SeenWater,
    TeachingVisit,
    home_ladder,
    keep_to_visit,
    release_faults,
)
from sidelong.pathway.enrolling import Enrolment, enrol_ready
from sidelong.problems import Problem, Refused
from sidelong.training.days import say_day
from sidelong.training.piece import fit_limits
from sidelong.training.plan import Plan
from sidelong.training.readiness import Gap


@dataclass(frozen=True)
class Ground:
    """What a plan rests on.

    Parameters
    ----------
    course : Course
        The open one.
    visit : VisitRow
        Its last visit.
    standing : Standing
        Where the trainee stands on the day of the plan.
    """

    course: Course
    visit: VisitRow
    standing: Standing


def find_ground(trainee: Trainee, *, today: date) -> Ground:
    """Find what a plan rests on, or say everything that is missing.

    Parameters
    ----------
    trainee : Trainee
        Whose plan.
    today : date
        The day of the plan.

    Returns
    -------
    Ground
        A decision that holds and a visit after which pieces may go home.

    Raises
    ------
    Refused
        With everything that is missing.
    """
    standing = stand(trainee.code, today=today)
    faults = [*lock_faults(trainee.code), *gap_faults(trainee.code, standing.gaps)]
    course = trainee.courses.filter(closed__isnull=True).first()
    visit = None if course is None else course.visits.order_by("version").last()
    if course is None or visit is None:
        remedy = "Hold the visit, and record what was seen."
        faults.append(held_back(trainee.code, "there was no teaching visit", remedy))
    elif not visit.released:
        what = "the last visit released nothing for home"
        remedy = "Pieces go home after a visit at which one was seen swallowed cleanly."
        faults.append(held_back(trainee.code, what, remedy))
    if faults or course is None or visit is None:
        raise Refused(faults)
    return Ground(course, visit, standing)


def enrol(ground: Ground) -> Enrolment:
    """Enrol one trainee, within what the visit showed.

    Parameters
    ----------
    ground : Ground
        What the plan rests on.

    Returns
    -------
    Enrolment
        As the command enrols, with the positions and the pieces that the visit leaves.
    """
    visit, protocol = visit_of(ground.visit), ground.standing.protocol
    today = ground.standing.sorted_referral.sorted_on
    whole = ladder_of(ladder_row(protocol.site).text)
    ready = enrol_ready(
        [keep_to_visit(ground.standing.sorted_referral, visit)],
        home_ladder(visit, whole, rules=protocol.steps),
        protocol=protocol,
        today=today,
    )
    refuse(ready.held_back)
    version = ground.course.plans.count() + 1
    return replace(ready.enrolments[0], course=ground.course.number, version=version)


def unchanged_faults(enrolment: Enrolment, *, course: Course) -> list[Problem]:
    """Say that a new version would only be another draw; empty where something has changed."""
    row = course.plans.order_by("version").last()
    if row is None:
        return []
    last = plan_of(row)
    piece = (last.nights[0].piece_mm, last.nights[0].piece)
    if last.positions != enrolment.positions or piece != (
        enrolment.piece.piece_mm,
        enrolment.piece.piece,
    ):
        return []
    what = f"version {row.version} holds the same positions and piece"
    return [held_back(enrolment.trainee, what, "Print its booklet again instead.")]


def faults_beyond(plan: Plan, allowed: Enrolment, *, ground: Ground) -> list[Problem]:
    """Say where a plan from elsewhere goes beyond decision and visit."""
    faults = []
    code = plan.trainee
    if plan.allocation is None:
        remedy = "Use the table that the command wrote, with its record."
        faults.append(held_back(code, "the plan does not say how it was drawn", remedy))
    else:
        place = PlanRow.objects.filter(
            commitment=plan.allocation.commitment,
            stream=plan.allocation.stream,
            stream_index=plan.allocation.index,
        )
        if place.exists():
            what = "its place in the stream is taken by another plan"
            faults.append(held_back(code, what, "Draw a new plan."))
    strange = [each for each in plan.positions if each not in allowed.positions]
    if strange:
        what = f"the plan uses {', '.join(strange)}, which decision or visit leave out"
        faults.append(held_back(code, what, "Draw a new plan."))
    visit = visit_of(ground.visit)
    whole = ladder_of(ladder_row(ground.standing.protocol.site).text)
    at_home = {piece.code: piece.largest_mm for piece in whole.steps[: whole.step_of(visit.piece)]}
    for night in plan.nights:
        if at_home.get(night.piece) != night.piece_mm:
            what = f"piece {night.piece or night.piece_mm} was not seen swallowed cleanly"
            faults.append(held_back(code, what, "Draw a new plan, or hold another visit."))
            break
    return faults


def visit_faults(
    visit: TeachingVisit, standing: Standing, *, release: bool, today: date
) -> list[Problem]:
    """Say what stands against a visit as it was written.

    Parameters
    ----------
    visit : TeachingVisit
        What was seen.
    standing : Standing
        Where the trainee stood on the day of the visit.
    release : bool
        Whether pieces shall go home after it.
    today : date
        The day of writing.

    Returns
    -------
    list of Problem
        Empty where a decision held, and nothing was tried that is ruled out.
    """
    code = visit.trainee
    if visit.held_on > today:
        what = f"it is dated {say_day(visit.held_on)}, after today"
        return [held_back(code, what, "Give the day of the visit.")]
    if not standing.may_visit:
        return gap_faults(code, standing.gaps)
    limits = standing.sorted_referral.limits
    faults = [
        held_back(
            code, f"{each.position} is ruled out and was tried", "Leave it out; ask a clinician."
        )
        for each in visit.seen
        if each.position not in limits.positions
        and (each.water, each.piece) != (SeenWater.NOT_TRIED, SeenPiece.NOT_TRIED)
    ]
    if visit.piece:
        faults += _piece_faults(visit, standing)
    if release:
        faults += [*lock_faults(code), *release_faults(visit), *gap_faults(code, standing.gaps)]
    return faults


def _piece_faults(visit: TeachingVisit, standing: Standing) -> list[Problem]:
    ladder = ladder_of(ladder_row(standing.protocol.site).text)
    limits = standing.sorted_referral.limits
    for piece in ladder.steps:
        if piece.code == visit.piece:
            fit = fit_limits(piece, limits.ingredients, max_piece_mm=limits.max_piece_mm)
            remedy = "Use a piece that keeps to the limits."
            return [
                held_back(visit.trainee, f"piece {piece.code}: {fault}", remedy)
                for fault in fit.faults
            ]
    what = f"piece {visit.piece} is not on the ladder in use"
    return [held_back(visit.trainee, what, "Choose a piece of the ladder.")]


def gap_faults(code: str, gaps: Sequence[Gap]) -> list[Problem]:
    """Say what a plan lacks, as problems."""
    remedy = "Complete this first; nobody is cleared by the program."
    return [held_back(code, f"still open: {gap.says or gap.part.value}", remedy) for gap in gaps]


def refuse(faults: Sequence[Problem]) -> None:
    """Refuse with all faults at once; go on where there is none."""
    if faults:
        raise Refused(faults)


def held_back(code: str, what: str, remedy: str) -> Problem:
    """Say why somebody gets no plan."""
    return Problem(f"trainee {code}", what, remedy, "held-back")
