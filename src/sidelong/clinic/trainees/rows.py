"""Between rows and values: referrals, decisions, visits and plans."""

from typing import Any

from sidelong.clinic.trainees.models import DecisionRow, PlanRow, ReferralRow, VisitRow
from sidelong.clinic.trainees.visit import Seen, SeenPiece, SeenWater, TeachingVisit
from sidelong.training.entry import Scale
from sidelong.training.gates import Answer, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.plan import AllocationRecord, Night, Plan
from sidelong.training.position import Position
from sidelong.training.referral import Decided, Decision, PieceForm, Referral

_LIFTED: dict[str, IngredientLimit | PlanChange] = {
    **{each.value: each for each in PlanChange},
    **{each.value: each for each in IngredientLimit},
}


def referral_of(row: ReferralRow) -> Referral:
    """Read a referral with every answer given since; of one question the latest counts."""
    answers = row.answers | {each.question: each.answer for each in row.given.all()}
    return Referral(
        trainee=row.trainee_id,
        site=row.trainee.site,
        age_years=row.age_years,
        answers={key: Answer(answer) for key, answer in answers.items()},
        band=row.band,
        language=row.trainee.language,
        form=PieceForm(row.form),
        referred=row.referred,
        last_change=row.last_change,
    )


def decision_of(row: DecisionRow) -> Decision:
    """Read a decision."""
    return Decision(
        trainee=row.trainee_id,
        gate=row.gate,
        decided=Decided(row.decided),
        decided_by=row.decided_by,
        role=row.role,
        decided_on=row.decided_on,
        expires_on=row.expires_on,
        reason=row.reason,
        gives_back=frozenset(map(Position, row.gives_back)),
        takes_out=frozenset(map(Position, row.takes_out)),
        lifts=frozenset(_LIFTED[each] for each in row.lifts),
        max_piece_mm=row.max_piece_mm,
        water_ml=row.water_ml,
    )


def decision_columns(decision: Decision) -> dict[str, Any]:
    """Give a decision as columns of its row."""
    return {
        "gate": decision.gate,
        "decided": decision.decided.value,
        "decided_by": decision.decided_by,
        "role": decision.role,
        "decided_on": decision.decided_on,
        "expires_on": decision.expires_on,
        "reason": decision.reason,
        "gives_back": sorted(decision.gives_back),
        "takes_out": sorted(decision.takes_out),
        "lifts": sorted(decision.lifts),
        "max_piece_mm": decision.max_piece_mm,
        "water_ml": decision.water_ml,
    }


def visit_of(row: VisitRow) -> TeachingVisit:
    """Read a visit."""
    return TeachingVisit(
        trainee=row.course.trainee_id,
        held_on=row.held_on,
        adult_present=row.adult_present,
        trainee_agreed=row.trainee_agreed,
        seen=tuple(
            Seen(Position(each["position"]), SeenWater(each["water"]), SeenPiece(each["piece"]))
            for each in row.seen
        ),
        piece=row.piece,
        scale=None if row.scale is None else Scale(row.scale),
    )


def visit_columns(visit: TeachingVisit) -> dict[str, Any]:
    """Give a visit as columns of its row."""
    return {
        "held_on": visit.held_on,
        "adult_present": visit.adult_present,
        "trainee_agreed": visit.trainee_agreed,
        "seen": [
            {"position": str(each.position), "water": str(each.water), "piece": str(each.piece)}
            for each in visit.seen
        ],
        "piece": visit.piece,
        "scale": None if visit.scale is None else int(visit.scale),
        "seen_cleanly": visit.seen_cleanly,
    }


def plan_of(row: PlanRow) -> Plan:
    """Read a plan."""
    return Plan(
        trainee=row.course.trainee_id,
        nights=tuple(
            Night(tuple(map(Position, each["order"])), each["piece_mm"], each["piece"])
            for each in row.nights
        ),
        site=row.course.trainee.site,
        band=row.band,
        course=row.course.number,
        version=row.version,
        start=row.start,
        protocol_version=row.protocol.version,
        allocation=AllocationRecord(row.commitment, row.stream, row.stream_index),
    )


def plan_columns(plan: Plan) -> dict[str, Any]:
    """Give a plan that was drawn as columns of its row.

    Returns
    -------
    dict of str to object
        All but what the row refers to.

    Raises
    ------
    ValueError
        If the plan does not say how it was drawn.
    """
    if plan.allocation is None:
        raise ValueError("a plan that is kept says how it was drawn")
    return {
        "version": plan.version,
        "band": plan.band,
        "start": plan.start,
        "nights": [
            {
                "order": [str(position) for position in night.order],
                "piece_mm": night.piece_mm,
                "piece": night.piece,
            }
            for night in plan.nights
        ],
        "commitment": plan.allocation.commitment,
        "stream": plan.allocation.stream,
        "stream_index": plan.allocation.index,
    }


def scale_of(row: PlanRow) -> Scale | None:
    """Read the form of the rating; None where the supporter's record counts."""
    return None if row.scale is None else Scale(row.scale)
