"""Gates: what is asked before anybody practises, and what a "yes" does.

A gate asks one plain question. "Don't know" counts as yes, and so does no answer yet. What a yes
does is written in the gate itself: not now, a clinician decides, positions taken out, ingredients
limited, the plan changed. The 54 standard gates stand in the default protocol; every site reviews
them with its own swallowing specialist before use, and none of them clears anybody.
"""

from dataclasses import dataclass, field
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position

N_STANDARD_GATES = 54


class Stop(StrEnum):
    """What a yes stops."""

    NOTHING = "nothing"
    EVERYTHING = "everything"
    HARD_SUGAR = "hard_sugar"
    HOME_PRACTICE = "home_practice"


class Effect(StrEnum):
    """The five kinds of effect, gravest first."""

    NOT_NOW = "not now"
    CLINICIAN_DECIDES = "a clinician decides"
    POSITIONS = "positions removed"
    INGREDIENTS = "ingredients limited"
    PLAN = "plan changed"


class PlanChange(StrEnum):
    """How a yes changes the plan."""

    SMALLER_STEPS = "smaller_steps"
    LONGER_COURSE = "longer_course"
    CLINIC_ONLY = "clinic_only"
    MAX_PIECE_SIZE = "max_piece_size"
    WATER_ALLOWANCE = "water_allowance"
    TWO_HOURS_AFTER_MEAL = "two_hours_after_meal"
    BEFORE_BRUSHING = "before_brushing"
    MOISTEN_FIRST = "moisten_first"
    COUNT_CARBOHYDRATE = "count_carbohydrate"
    COMFORTABLE_RANGE = "comfortable_range"
    SMALL_RANGE = "small_range"
    SPARE_SORE_TEETH = "spare_sore_teeth"
    WHEN_LEAST_SICK = "when_least_sick"


class Evidence(StrEnum):
    """Where a statement rests."""

    READ = "read"
    MEMORY = "memory"
    COMMON_PRACTICE = "common practice"


class AskedBy(StrEnum):
    """Whether a person is asked or the age answers."""

    STAFF = "staff"
    AGE = "age"


class Answer(StrEnum):
    """What was answered."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class FollowUpDecides(StrEnum):
    """Which effect of its gate a follow-up question switches."""

    NOT_NOW = "not_now"
    CLINICIAN = "clinician"


@dataclass(frozen=True)
class FollowUp:
    """A second question, asked where the first is yes, on which one effect depends.

    Parameters
    ----------
    key : str
        Short name of its own, unique among all gates.
    question : str
        One plain question; don't know and no answer count as yes.
    decides : FollowUpDecides
        The effect that needs a yes here as well.
    """

    key: str
    question: str
    decides: FollowUpDecides


@dataclass(frozen=True)
class Gate:
    """One question and what a yes does.

    Parameters
    ----------
    number : int
        1..54 for the standard gates; a site numbers its own from 101.
    key : str
        Short snake-case name.
    question, why : str
        One plain yes-or-no question, and the reason for it.
    stop : Stop
        What a yes stops.
    until : str
        When a stop ends, in words; empty if only the answer ends it.
    decide : bool
        A named clinician must decide. Beside a stop, it is decided after the stop has ended.
    decide_by : str
        Which clinician; empty where any named clinician may.
    refer : bool
        A stop that also asks for a referral.
    removes : frozenset of Position
        Positions taken out for good while the answer is yes.
    holds : frozenset of Position
        Positions taken out until a decision names them as allowed.
    limits, held_limits : frozenset of IngredientLimit
        Restrictions; held ones may be lifted by a decision that names them.
    changes : frozenset of PlanChange
        Changes of the plan.
    either : bool
        The clinician's decision may choose among limits and changes; until then all hold.
    follow_up : FollowUp or None
        Second question, where an effect depends on one.
    asked_by : AskedBy
        Staff, or the trainee's age.
    from_age : int
        Asked only from this age in years.
    support : str
        Published support, where some was read; empty otherwise.
    source, status : str, Evidence
        Where the row comes from.

    Raises
    ------
    Refused
        With every fault of the gate.
    """

    number: int
    key: str
    question: str
    why: str
    stop: Stop = Stop.NOTHING
    until: str = ""
    decide: bool = False
    decide_by: str = ""
    refer: bool = False
    removes: frozenset[Position] = field(default_factory=frozenset)
    holds: frozenset[Position] = field(default_factory=frozenset)
    limits: frozenset[IngredientLimit] = field(default_factory=frozenset)
    held_limits: frozenset[IngredientLimit] = field(default_factory=frozenset)
    changes: frozenset[PlanChange] = field(default_factory=frozenset)
    either: bool = False
    follow_up: FollowUp | None = None
    asked_by: AskedBy = AskedBy.STAFF
    from_age: int = 0
    support: str = ""
    source: str = "common practice"
    status: Evidence = Evidence.MEMORY

    def __post_init__(self) -> None:
        """Refuse a gate that asks nothing, does nothing or closes every position."""
        faults = [
            _fault(name, "it is empty", "Fill it in.")
            for name in ("key", "question", "why", "source")
            if not str(getattr(self, name)).strip()
        ]
        if not (1 <= self.number <= N_STANDARD_GATES or self.number > 100):
            what = f"{self.number} is neither a standard gate nor the site's own"
            faults.append(_fault("number", what, "Number your own gates from 101."))
        if self.question.strip() and not self.question.strip().endswith("?"):
            faults.append(_fault("question", "it does not ask", "Write one yes-or-no question."))
        if Position.CENTRE in self.removes | self.holds:
            what = "it takes out the centre"
            faults.append(_fault("removes", what, "Use not now where no position is safe."))
        if self.removes & self.holds:
            what = "a position is both removed and held"
            faults.append(_fault("holds", what, "Name each position once."))
        if not self.effects:
            faults.append(_fault("stop", "a yes would do nothing", "Give the gate an effect."))
        if faults:
            raise Refused(faults)

    @property
    def effects(self) -> tuple[Effect, ...]:
        """Kinds of effect that a yes can have, gravest first."""
        held = {
            Effect.NOT_NOW: self.stop is not Stop.NOTHING,
            Effect.CLINICIAN_DECIDES: self.decide,
            Effect.POSITIONS: bool(self.removes | self.holds),
            Effect.INGREDIENTS: bool(self.limits | self.held_limits),
            Effect.PLAN: bool(self.changes),
        }
        return tuple(effect for effect, holds in held.items() if holds)

    @property
    def decides_after_stop(self) -> bool:
        """Whether a clinician decides after a stop has ended."""
        return self.stop is not Stop.NOTHING and self.decide

    @property
    def is_standard(self) -> bool:
        """Whether it is one of the 54."""
        return self.number <= N_STANDARD_GATES


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "gates")
