"""Which decisions of clinicians hold on a day, and what a decision may not do."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from sidelong.problems import Problem
from sidelong.training.days import say_day
from sidelong.training.gates import Gate, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.protocol import Protocol
from sidelong.training.referral import PRACTICE, Decided, Decision, Referral


class HeldDecisions:
    """Decisions that hold today, by gate, and why others do not.

    Parameters
    ----------
    referral : Referral
        Whose decisions.
    protocol : Protocol
        Says how long a decision holds at most.
    today : date
        The day.
    decisions : sequence of Decision
        All decisions about this trainee.
    """

    def __init__(
        self, referral: Referral, protocol: Protocol, today: date, decisions: Sequence[Decision]
    ) -> None:
        self._longest = timedelta(days=protocol.course.decision_days)
        self._today = today
        self._last_change = referral.last_change
        self._by_gate: dict[str, list[Decision]] = defaultdict(list)
        for each in decisions:
            self._by_gate[each.gate].append(each)

    def end_of(self, decision: Decision) -> date:
        """Give the last day of a decision: its own, or the protocol's longest validity."""
        return min(decision.expires_on, decision.decided_on + self._longest)

    def lapse(self, decision: Decision) -> str:
        """Say why a decision does not hold today; empty where it does."""
        if decision.decided_on > self._today:
            return "the decision is dated after today"
        if self.end_of(decision) < self._today:
            ended = say_day(self.end_of(decision))
            return f"the decision ended on {ended} and the question is open again"
        if self._last_change is not None and decision.decided_on < self._last_change:
            return f"the decision is older than the change on {say_day(self._last_change)}"
        return ""

    def on(self, gate: str, *, stop_ended: bool = False) -> Decision | None:
        """Find the latest decision on a gate that holds; of one day the strictest."""
        # A later decision takes the place of an earlier one even where the later one has lapsed
        # by now: what somebody has since thought better of does not come back to life.
        of_kind = [
            each
            for each in self._by_gate.get(gate, [])
            if (each.decided is Decided.STOP_ENDED) is stop_ended and each.decided_on <= self._today
        ]
        strictness = (Decided.GO, Decided.GO_WITH_LIMITS, Decided.DO_NOT_GO, Decided.STOP_ENDED)
        latest = max(
            of_kind,
            key=lambda each: (each.decided_on, strictness.index(each.decided)),
            default=None,
        )
        return None if latest is None or self.lapse(latest) else latest

    def note(self, gate: str) -> str:
        """Say what was recorded about a gate, without names."""
        latest = max(self._by_gate.get(gate, []), key=lambda each: each.decided_on, default=None)
        if latest is None:
            return ""
        decided = latest.decided.value.replace("_", " ")
        said = f"{decided} by {latest.role} on {say_day(latest.decided_on)}"
        return f"{said}; {self.lapse(latest) or f'holds to {say_day(self.end_of(latest))}'}"


def decision_faults(decision: Decision, protocol: Protocol) -> tuple[Problem, ...]:
    """List what a decision may not do.

    Parameters
    ----------
    decision : Decision
        A clinician's decision.
    protocol : Protocol
        The site's protocol.

    Returns
    -------
    tuple of Problem
        Empty where it stays within what its gate leaves to a clinician.
    """
    where = f"decision on {decision.gate} for {decision.trainee}"
    if decision.gate == PRACTICE:
        if decision.gives_back or decision.lifts or decision.decided is Decided.STOP_ENDED:
            what = "a decision for practice as a whole lifts no limit and ends no stop"
            return (_fault(where, what, "Decide on the gate that set it."),)
        return ()
    gate = next((each for each in protocol.active_gates if each.key == decision.gate), None)
    if gate is None:
        what = "the protocol has no such gate in use"
        return (_fault(where, what, f"Use a gate's key, or {PRACTICE}."),)
    return (*_lift_faults(decision, gate, where=where), *_stop_faults(decision, gate, where=where))


def _lift_faults(decision: Decision, gate: Gate, *, where: str) -> list[Problem]:
    faults = []
    firm = decision.gives_back - gate.holds
    if firm:
        what = f"it gives back {', '.join(sorted(firm))}, which {gate.key} does not hold"
        faults.append(_fault(where, what, "Only held positions can be given back."))
    on_offer: frozenset[IngredientLimit | PlanChange] = gate.held_limits
    if gate.either:
        on_offer = on_offer | gate.limits | gate.changes
    beyond = decision.lifts - on_offer
    if beyond:
        what = f"it lifts {', '.join(sorted(beyond))}, which {gate.key} does not leave open"
        faults.append(_fault(where, what, "Leave it out, or decide do_not_go."))
    if gate.either and decision.lifts >= gate.limits | gate.changes:
        what = f"it lifts everything that {gate.key} asks for"
        faults.append(_fault(where, what, "Keep one side of the choice."))
    return faults


def _stop_faults(decision: Decision, gate: Gate, *, where: str) -> list[Problem]:
    if decision.decided is Decided.STOP_ENDED and not gate.decides_after_stop:
        what = f"no decision ends what {gate.key} asks for; only another answer does"
        return [_fault(where, what, "Ask the question again when it may have changed.")]
    return []


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "decision")
