"""The result of the check before anybody practises; it explains, and clears nobody."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sidelong.training.gates import Answer, Effect, Evidence, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position, in_listed_order


class Readiness(StrEnum):
    """Where a referral stands; `ready` means ready for a clinician's decision."""

    READY = "ready"
    CLINICIAN_FIRST = "clinician first"
    NOT_NOW = "not now"


_GRAVITY = (Readiness.READY, Readiness.CLINICIAN_FIRST, Readiness.NOT_NOW)


def gravest(states: list[Readiness]) -> Readiness:
    """Find the strictest of several states; `ready` if there is none."""
    return max(states, key=_GRAVITY.index, default=Readiness.READY)


@dataclass(frozen=True)
class Reason:
    """One gate that counts as yes, and where it stands.

    Parameters
    ----------
    gate, number : str, int
        Key and number of the gate.
    answer : Answer or None
        What was answered; None where nothing was.
    state : Readiness
        What this gate alone asks for today; `ready` where it is decided or only limits.
    effects : tuple of Effect
        Kinds of effect in force, gravest first.
    why : str
        Reason for the gate.
    until, decide_by : str
        When its stop ends and who decides; empty where the gate does not say.
    refer : bool
        Whether it asks for a referral.
    note : str
        What was recorded about it, for staff; no names.
    source, status, support : str, Evidence, str
        Where the gate comes from.
    """

    gate: str
    number: int
    answer: Answer | None
    state: Readiness
    effects: tuple[Effect, ...]
    why: str
    until: str
    decide_by: str
    refer: bool
    note: str
    source: str
    status: Evidence
    support: str


@dataclass(frozen=True)
class Limits:
    """What a plan must keep to.

    Parameters
    ----------
    positions : tuple of Position
        Positions left, in listed order; always the centre.
    ingredients : frozenset of IngredientLimit
        Restrictions on pieces.
    changes : frozenset of PlanChange
        Changes of the plan.
    max_piece_mm : float or None
        Largest piece that a clinician allows, mm.
    water_ml : float or None
        Water that a clinician allows for an evening, mL.

    Raises
    ------
    ValueError
        If the centre is missing or the order is not the listed one.
    """

    positions: tuple[Position, ...]
    ingredients: frozenset[IngredientLimit] = frozenset()
    changes: frozenset[PlanChange] = frozenset()
    max_piece_mm: float | None = None
    water_ml: float | None = None

    def __post_init__(self) -> None:
        """Refuse limits that leave no position."""
        if self.positions != in_listed_order(set(self.positions)):
            raise ValueError("positions stand once each in listed order")
        if Position.CENTRE not in self.positions:
            raise ValueError("the centre is always left; where it is not safe, it is not now")

    @property
    def clinic_only(self) -> bool:
        """Whether practice happens with staff alone, and no booklet goes home."""
        return PlanChange.CLINIC_ONLY in self.changes


class Part(StrEnum):
    """What a plan needs, and may still lack."""

    PROTOCOL = "protocol"
    BAND = "band"
    GATES = "gates"
    ANSWERS = "answers"
    PIECE_SIZE = "piece_size"
    WATER = "water"
    HOME = "home"
    DECISION = "decision"


@dataclass(frozen=True)
class Gap:
    """Something that is missing before a plan may be issued.

    Parameters
    ----------
    part : Part
        What is missing.
    says : str
        In plain words, for staff; empty after reading it back from a table.
    """

    part: Part
    says: str = ""


@dataclass(frozen=True)
class SortedReferral:
    """Where one referral stands on one day.

    Parameters
    ----------
    trainee, site, band, language : str
        As referred; the band from the protocol where none was given.
    readiness : Readiness
        The strictest of all reasons.
    reasons : tuple of Reason
        Every gate that counts as yes, by number.
    unanswered : tuple of str
        Keys of questions without an answer; they count as yes.
    limits : Limits
        What a plan must keep to.
    sorted_on : date
        The day.
    protocol_version, protocol_fingerprint : str
        Under which protocol.
    decided_role : str
        Role of the clinician whose decision for practice as a whole holds today; empty if none.
    decided_on, expires_on : date or None
        Of that decision; it ends with the first decision that it rests on.
    missing : tuple of Gap
        What is still missing before a plan may be issued; empty when nothing is.
    """

    trainee: str
    site: str
    band: str
    language: str
    readiness: Readiness
    reasons: tuple[Reason, ...]
    unanswered: tuple[str, ...]
    limits: Limits
    sorted_on: date
    protocol_version: str
    protocol_fingerprint: str
    decided_role: str = ""
    decided_on: date | None = None
    expires_on: date | None = None
    missing: tuple[Gap, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a plan for somebody for whom nobody decided."""
        if not self.missing and (self.readiness is not Readiness.READY or not self.decided_role):
            raise ValueError("nobody is cleared without a decision")

    @property
    def may_plan(self) -> bool:
        """Whether a plan may be issued on the day of sorting."""
        return not self.missing
