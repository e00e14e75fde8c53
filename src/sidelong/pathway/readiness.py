"""From a referral to where it stands: ready for a clinician's decision, clinician first, not now.

The program sorts and explains. It never clears anybody: a decision is a record of what a named
clinician decided, it expires, and even where every gate is settled a plan needs a decision for
practice as a whole. Rules and gates are in ``docs/method/readiness.md``.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from sidelong.pathway.held_decisions import HeldDecisions, decision_faults
from sidelong.problems import Problem, Refused
from sidelong.training.days import say_day
from sidelong.training.gates import (
    Answer,
    AskedBy,
    Effect,
    FollowUpDecides,
    Gate,
    PlanChange,
    Stop,
)
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import (
    Gap,
    Limits,
    Part,
    Readiness,
    Reason,
    SortedReferral,
    gravest,
)
from sidelong.training.referral import PRACTICE, Decided, Decision, PieceForm, Referral


def sort_readiness(
    referral: Referral, protocol: Protocol, *, today: date, decisions: Iterable[Decision] = ()
) -> SortedReferral:
    """Sort one referral under the site's protocol.

    Parameters
    ----------
    referral : Referral
        Answers of one trainee; what is not answered counts as yes.
    protocol : Protocol
        The site's protocol; a draft sorts too, but no plan may be issued under it.
    today : date
        The day on which it is sorted.
    decisions : iterable of Decision
        What clinicians decided; those of other trainees are passed over.

    Returns
    -------
    SortedReferral
        With every reason, what a plan must keep to, and what is still missing for one.

    Raises
    ------
    Refused
        If the referral is another site's, answers or decides on a gate that the protocol does not
        have, or a decision gives back what its gate takes out for good.
    """
    own = [each for each in decisions if each.trainee == referral.trainee]
    faults = [
        *_referral_faults(referral, protocol),
        *(fault for each in own for fault in decision_faults(each, protocol)),
    ]
    if faults:
        raise Refused(faults)
    held = HeldDecisions(referral, protocol, today, own)
    asked = [_weigh(gate, referral, protocol, held) for gate in protocol.active_gates]
    weighed = [each for each in asked if each is not None]
    practice = held.on(PRACTICE)
    if practice is not None and practice.decided is Decided.DO_NOT_GO:
        state = Readiness.NOT_NOW
    else:
        state = gravest([each.reason.state for each in weighed])
    return _result(referral, protocol, today=today, state=state, weighed=weighed, held=held)


def may_plan(
    sorted_referral: SortedReferral, protocol: Protocol, *, today: date
) -> tuple[Gap, ...]:
    """Say what is missing before a plan may be issued today.

    Parameters
    ----------
    sorted_referral : SortedReferral
        As sorted, or as read back from a table some days later.
    protocol : Protocol
        The protocol under which the plan would be made.
    today : date
        The day of the plan.

    Returns
    -------
    tuple of Gap
        Empty only where every gate is settled, a clinician's decision holds today and the
        protocol is the signed one under which it was sorted.
    """
    gaps = [*sorted_referral.missing, *_protocol_gaps(protocol, today=today)]
    if sorted_referral.protocol_fingerprint != protocol.fingerprint:
        says = "it was sorted under another text of the protocol: sort again"
        gaps.append(Gap(Part.PROTOCOL, says))
    if sorted_referral.sorted_on > today:
        gaps.append(
            Gap(
                Part.DECISION, f"it was sorted on {say_day(sorted_referral.sorted_on)}, after today"
            )
        )
    ends = sorted_referral.expires_on
    if not sorted_referral.missing and (ends is None or ends < today):
        ended = "does not say until when it holds" if ends is None else f"ended on {say_day(ends)}"
        gaps.append(Gap(Part.DECISION, f"the decision {ended}: sort again"))
    return tuple(dict.fromkeys(gaps))


def unanswered_questions(referral: Referral, protocol: Protocol) -> tuple[str, ...]:
    """List the questions that still need an answer.

    Parameters
    ----------
    referral : Referral
        Answers so far.
    protocol : Protocol
        The site's protocol.

    Returns
    -------
    tuple of str
        Keys of gates, by number, each followed by its follow-up question where that is due.
    """
    open_keys = []
    for gate in protocol.active_gates:
        answer = _answer(gate, referral, protocol)
        if not _is_asked(gate, referral, protocol):
            continue
        if answer is None:
            open_keys.append("age_years" if gate.asked_by is AskedBy.AGE else gate.key)
        follow_up = gate.follow_up
        if answer is Answer.YES and follow_up and follow_up.key not in referral.answers:
            open_keys.append(follow_up.key)
    return tuple(dict.fromkeys(open_keys))


@dataclass(frozen=True)
class _Weighed:
    """One gate that counts as yes: its reason, what it takes out, and what it rests on."""

    reason: Reason
    positions: frozenset[Position]
    ingredients: frozenset[IngredientLimit]
    changes: frozenset[PlanChange]
    rests_on: tuple[Decision, ...]


def _weigh(
    gate: Gate, referral: Referral, protocol: Protocol, held: HeldDecisions
) -> _Weighed | None:
    """Weigh one gate; None where it is not asked or answered with no."""
    answer = _answer(gate, referral, protocol)
    if answer is Answer.NO or not _is_asked(gate, referral, protocol):
        return None
    stops, decides = _stops_and_decides(gate, referral)
    decision, ended = held.on(gate.key), held.on(gate.key, stop_ended=True)
    if ended is not None and decision is not None and decision.decided.allows:
        # What was decided while the stop lasted was not decided about the trainee of today.
        decision = None if decision.decided_on < ended.decided_on else decision
    state = _state(gate, stops=stops, decides=decides, decision=decision, ended=ended)
    allowing = decision if decision is not None and decision.decided.allows else None
    given_back = allowing.gives_back if allowing else frozenset()
    ruled_out = allowing.takes_out if allowing else frozenset()
    lifted = allowing.lifts if allowing else frozenset()
    positions = gate.removes | (gate.holds - given_back) | ruled_out
    ingredients = (gate.limits | gate.held_limits) - lifted
    changes = gate.changes - lifted
    in_force = {
        Effect.NOT_NOW: stops,
        Effect.CLINICIAN_DECIDES: decides,
        Effect.POSITIONS: bool(positions),
        Effect.INGREDIENTS: bool(ingredients),
        Effect.PLAN: bool(changes),
    }
    reason = Reason(
        gate=gate.key,
        number=gate.number,
        answer=answer,
        state=state,
        effects=tuple(effect for effect, holds in in_force.items() if holds),
        why=gate.why,
        until=gate.until if stops else "",
        decide_by=gate.decide_by if decides else "",
        refer=gate.refer and stops,
        note=held.note(gate.key),
        source=gate.source,
        status=gate.status,
        support=gate.support,
    )
    rests_on = tuple(each for each in (decision, ended) if each is not None)
    return _Weighed(reason, positions, ingredients, changes, rests_on)


def _answer(gate: Gate, referral: Referral, protocol: Protocol) -> Answer | None:
    if gate.asked_by is AskedBy.STAFF:
        follow_up = gate.follow_up
        if follow_up is not None and referral.answers.get(follow_up.key) is Answer.YES:
            return Answer.YES  # whoever says yes to the second question means the first too
        return referral.answers.get(gate.key)
    if referral.age_years is None:
        return None
    low, high = protocol.ages.not_now_below, protocol.ages.clinician_below
    if gate.stop is Stop.NOTHING:
        return Answer.YES if low <= referral.age_years < high else Answer.NO
    return Answer.YES if referral.age_years < low else Answer.NO


def _is_asked(gate: Gate, referral: Referral, protocol: Protocol) -> bool:
    # A yes that somebody gave counts, whether or not it had to be asked at this age.
    is_of_age = referral.age_years is None or referral.age_years >= gate.from_age
    return is_of_age or _answer(gate, referral, protocol) is Answer.YES


def _stops_and_decides(gate: Gate, referral: Referral) -> tuple[bool, bool]:
    """Say which of the two gravest effects a yes has for this trainee."""
    stops = gate.stop is not Stop.NOTHING
    if gate.stop is Stop.HARD_SUGAR:
        stops = referral.form is PieceForm.HARD_SUGAR
    decides = gate.decide
    if gate.follow_up is not None and referral.answers.get(gate.follow_up.key) is Answer.NO:
        stops = stops and gate.follow_up.decides is not FollowUpDecides.NOT_NOW
        decides = decides and gate.follow_up.decides is not FollowUpDecides.CLINICIAN
    return stops, decides


def _state(
    gate: Gate, *, stops: bool, decides: bool, decision: Decision | None, ended: Decision | None
) -> Readiness:
    """Say what one gate asks for, after what was decided about it."""
    if decision is not None and decision.decided is Decided.DO_NOT_GO:
        return Readiness.NOT_NOW
    # A stop without a decision after it lasts as long as the answer does, and so does the one for
    # hard sugar pieces, which only another form of piece ends.
    if stops and (not decides or gate.stop is Stop.HARD_SUGAR or ended is None):
        return Readiness.NOT_NOW
    if (stops or decides) and decision is None:
        return Readiness.CLINICIAN_FIRST
    return Readiness.READY


def _result(
    referral: Referral,
    protocol: Protocol,
    *,
    today: date,
    state: Readiness,
    weighed: Sequence[_Weighed],
    held: HeldDecisions,
) -> SortedReferral:
    practice = held.on(PRACTICE)
    rests_on = [decision for each in weighed for decision in each.rests_on]
    go = practice if practice is not None and practice.decided.allows else None
    if go is not None and any(each.decided_on > go.decided_on for each in rests_on):
        go = None  # decided before a later decision was known
    limits = _limits(protocol, weighed, [*rests_on, *([go] if go else [])])
    if referral.form is PieceForm.OTHER:
        # The age limits are about hard sugar: who was sorted for another form must not get it.
        ingredients = limits.ingredients | {IngredientLimit.NOT_HARD_SUGAR}
        limits = replace(limits, ingredients=ingredients)
    unanswered = unanswered_questions(referral, protocol)
    by_age = None if referral.age_years is None else protocol.band_of(referral.age_years)
    band = referral.band or (by_age.name if by_age else "")
    missing = [
        *_protocol_gaps(protocol, today=today),
        *_gate_gaps(weighed, unanswered),
        *_limit_gaps(limits),
        *_decision_gaps(practice, go),
    ]
    if not band:
        missing.append(Gap(Part.BAND, "the age lies in no band of the protocol"))
    ends = [held.end_of(each) for each in rests_on]
    return SortedReferral(
        trainee=referral.trainee,
        site=referral.site,
        band=band,
        language=referral.language,
        readiness=state,
        reasons=tuple(each.reason for each in weighed),
        unanswered=unanswered,
        limits=limits,
        sorted_on=today,
        protocol_version=protocol.version,
        protocol_fingerprint=protocol.fingerprint,
        decided_role=go.role if go else "",
        decided_on=go.decided_on if go else None,
        expires_on=min([held.end_of(go), *ends]) if go else None,
        missing=tuple(missing),
    )


def _limits(
    protocol: Protocol, weighed: Sequence[_Weighed], decisions: Sequence[Decision]
) -> Limits:
    taken = frozenset[Position]().union(*(each.positions for each in weighed))
    taken |= frozenset[Position]().union(*(each.takes_out for each in decisions))
    largest = [each.max_piece_mm for each in decisions if each.max_piece_mm is not None]
    water = [each.water_ml for each in decisions if each.water_ml is not None]
    return Limits(
        positions=tuple(each for each in protocol.positions if each not in taken),
        ingredients=frozenset[IngredientLimit]().union(*(each.ingredients for each in weighed)),
        changes=frozenset[PlanChange]().union(*(each.changes for each in weighed)),
        max_piece_mm=min(largest, default=None),
        water_ml=min(water, default=None),
    )


def _protocol_gaps(protocol: Protocol, *, today: date) -> list[Gap]:
    gaps = []
    if not protocol.is_approved:
        says = "the protocol is a draft: nobody has signed it as approved"
        gaps.append(Gap(Part.PROTOCOL, says))
    if protocol.valid_from > today:
        gaps.append(Gap(Part.PROTOCOL, f"the protocol holds from {say_day(protocol.valid_from)}"))
    return gaps


def _gate_gaps(weighed: Sequence[_Weighed], unanswered: Sequence[str]) -> list[Gap]:
    gaps = []
    for state in (Readiness.NOT_NOW, Readiness.CLINICIAN_FIRST):
        keys = [each.reason.gate for each in weighed if each.reason.state is state]
        if keys:
            gaps.append(Gap(Part.GATES, f"{state.value}: {', '.join(keys)}"))
    if unanswered:
        gaps.append(Gap(Part.ANSWERS, f"no answer yet: {', '.join(unanswered)}"))
    return gaps


def _limit_gaps(limits: Limits) -> list[Gap]:
    gaps = []
    if PlanChange.MAX_PIECE_SIZE in limits.changes and limits.max_piece_mm is None:
        gaps.append(Gap(Part.PIECE_SIZE, "a clinician sets the largest piece"))
    if PlanChange.WATER_ALLOWANCE in limits.changes and limits.water_ml is None:
        gaps.append(Gap(Part.WATER, "a clinician sets the water for an evening"))
    if limits.clinic_only:
        gaps.append(Gap(Part.HOME, "practice is at the clinic only: no plan for home"))
    return gaps


def _decision_gaps(practice: Decision | None, go: Decision | None) -> list[Gap]:
    if go is not None:
        return []
    if practice is None:
        says = "a named clinician decides on practice as a whole"
    elif practice.decided is Decided.DO_NOT_GO:
        says = f"{practice.role} decided against practice on {say_day(practice.decided_on)}"
    else:
        says = "the decision on practice is older than a decision on a gate: decide again"
    return [Gap(Part.DECISION, says)]


def _referral_faults(referral: Referral, protocol: Protocol) -> list[Problem]:
    where = f"trainee {referral.trainee}"
    faults = []
    if referral.site != protocol.site:
        what = f'the site is "{referral.site}", the protocol is for "{protocol.site}"'
        faults.append(_fault(where, what, "Sort each site's referrals under its own protocol."))
    by_age = None if referral.age_years is None else protocol.band_of(referral.age_years)
    if referral.band and by_age is not None and referral.band != by_age.name:
        what = f'{referral.age_years} years is band "{by_age.name}", not "{referral.band}"'
        faults.append(_fault(where, what, "Correct the age or the band."))
    faults += [
        _fault(where, f'there is no question "{key}"', "Use the key of a gate in the protocol.")
        for key in sorted(set(referral.answers) - set(protocol.questions))
    ]
    return faults


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "referral")
