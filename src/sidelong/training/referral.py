"""A referral with its answers, and what clinicians decided about it; codes only."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.days import say_day
from sidelong.training.gates import Answer, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position

PRACTICE = "practice"


class PieceForm(StrEnum):
    """What kind of piece is meant for a trainee; age limits are about hard sugar."""

    HARD_SUGAR = "hard_sugar"
    OTHER = "other"


@dataclass(frozen=True)
class Referral:
    """One trainee as referred and screened.

    Parameters
    ----------
    trainee, site : str
        Codes.
    age_years : int or None
        Completed years; None where not known, which counts against practice until it is.
    answers : mapping of str to Answer
        Answers by key of a gate or of its follow-up question; a missing key is unanswered.
    band, language : str
        The site's band and the family's language; empty where not kept.
    form : PieceForm
        What kind of piece is meant.
    referred : date or None
        When.
    last_change : date or None
        Last visit, illness or new medicine: decisions from before it are open again.

    Raises
    ------
    Refused
        If the code is empty or the age cannot be.
    """

    trainee: str
    site: str
    age_years: int | None
    answers: Mapping[str, Answer] = field(default_factory=dict)
    band: str = ""
    language: str = ""
    form: PieceForm = PieceForm.HARD_SUGAR
    referred: date | None = None
    last_change: date | None = None

    def __post_init__(self) -> None:
        """Refuse a referral of nobody."""
        faults = []
        if not self.trainee:
            remedy = "Give the trainee's code."
            faults.append(Problem("trainee", "it is empty", remedy, "referral"))
        if self.age_years is not None and not 0 <= self.age_years <= 120:
            what = f"{self.age_years} years cannot be"
            remedy = "Give completed years."
            faults.append(Problem("age_years", what, remedy, "referral"))
        if faults:
            raise Refused(faults)


class Decided(StrEnum):
    """What a clinician decided about one gate, or about practice as a whole."""

    GO = "go"
    GO_WITH_LIMITS = "go_with_limits"
    DO_NOT_GO = "do_not_go"
    STOP_ENDED = "stop_ended"

    @property
    def allows(self) -> bool:
        """Whether practice may go on as far as this decision reaches."""
        return self in {Decided.GO, Decided.GO_WITH_LIMITS}


@dataclass(frozen=True)
class Decision:
    """A named clinician's decision; it expires, and then the question is open again.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    gate : str
        Key of the gate, or :data:`PRACTICE` for practice as a whole.
    decided : Decided
        What was decided; `stop_ended` records that a gate's stop has ended, before the decision.
    decided_by, role : str
        Who decided.
    decided_on, expires_on : date
        From when to when it holds, both included.
    reason : str
        Why.
    gives_back : frozenset of Position
        Positions that the gate holds and that are allowed nevertheless.
    takes_out : frozenset of Position
        Positions that the clinician rules out.
    lifts : frozenset of IngredientLimit or PlanChange
        Held limits that are lifted, or the side not chosen where a gate offers a choice.
    max_piece_mm, water_ml : float or None
        Largest piece allowed, mm, and water allowed for an evening, mL.

    Raises
    ------
    Refused
        With every fault: nobody decided, no reason, it ends before it begins, limits where the
        decision has none, the centre ruled out.
    """

    trainee: str
    gate: str
    decided: Decided
    decided_by: str
    role: str
    decided_on: date
    expires_on: date
    reason: str
    gives_back: frozenset[Position] = frozenset()
    takes_out: frozenset[Position] = frozenset()
    lifts: frozenset[IngredientLimit | PlanChange] = frozenset()
    max_piece_mm: float | None = None
    water_ml: float | None = None

    def __post_init__(self) -> None:
        """Refuse a decision of nobody, without a reason, or one that contradicts itself."""
        faults = [
            _fault(name, "it is empty", "A decision needs a person, a role and a reason.")
            for name in ("trainee", "gate", "decided_by", "role", "reason")
            if not str(getattr(self, name)).strip()
        ]
        if self.expires_on < self.decided_on:
            what = f"{say_day(self.expires_on)} is before {say_day(self.decided_on)}"
            faults.append(_fault("expires_on", what, "Give the last day on which it holds."))
        if self._has_limits and not self.decided.allows:
            what = f"{self.decided.value} has no limits"
            faults.append(_fault("decision", what, "Use go_with_limits, or leave the limits out."))
        if self.decided is Decided.GO and (self.takes_out or self.max_piece_mm or self.water_ml):
            faults.append(_fault("decision", "go has no limits", "Use go_with_limits."))
        if Position.CENTRE in self.takes_out:
            what = "the centre is ruled out"
            faults.append(_fault("takes_out", what, "Use do_not_go where the centre is not safe."))
        for name in ("max_piece_mm", "water_ml"):
            held = getattr(self, name)
            if held is not None and not held > 0:
                faults.append(_fault(name, f"{held:g} cannot be", "Give a positive number."))
        if faults:
            raise Refused(faults)

    @property
    def _has_limits(self) -> bool:
        numbers = self.max_piece_mm is not None or self.water_ml is not None
        return bool(self.gives_back or self.takes_out or self.lifts) or numbers


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "decision")
