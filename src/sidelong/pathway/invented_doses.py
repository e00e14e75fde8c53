"""Invented first doses for the demo and for trying things out: never to be taken for real ones.

An invented dose goes down with the invented trainee's true chance, which the estimate never saw, so
the plot of promises kept shows what the method does where its own model holds. That is no
clinical accuracy, and no page or figure may say so.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from sidelong.pathway.invention import InventedPractice
from sidelong.preferences import DEFAULT, Hyperparameters
from sidelong.preferences.hyperparameters import REFERENCE_PIECE_MM
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.estimate import Verdict
from sidelong.training.piece import Shape
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, LockedEstimate, SeenBy

_FORMS = (
    (DoseKind.TABLET, Shape.DISC, 7.0),
    (DoseKind.TABLET, Shape.OVAL, 12.0),
    (DoseKind.CAPSULE, Shape.CAPSULE, 15.9),
    (DoseKind.LIQUID_FILLED, Shape.OVAL, 14.0),
)
_REPORTED = 0.15
"""Share of invented doses that home reports; an assumption."""

_WHY_NOT = (WhyNot.SPAT_OUT, WhyNot.MELTED, WhyNot.REFUSED)


@dataclass(frozen=True)
class ChancesOfDose:
    """True chances of one invented dose.

    Parameters
    ----------
    first, later : float
        Going down at the first try, and at a later one; [0, 1], together at most 1.
    """

    first: float
    later: float

    def __post_init__(self) -> None:
        """Refuse what are no chances."""
        if min(self.first, self.later) < 0 or self.first + self.later > 1 + 1e-9:
            raise ValueError(f"{self.first} and {self.later} are not chances of one dose")


def true_chances(
    ease: float,
    *,
    rng: np.random.Generator,
    n_slots: int = len(Position),
    piece_mm: float = REFERENCE_PIECE_MM,
    hyperparameters: Hyperparameters = DEFAULT,
) -> ChancesOfDose:
    """Give the true chances of an invented trainee, for a dose as easy as the practice piece.

    Parameters
    ----------
    ease : float
        True latent ease of the position that is used, on the night after the plan
        (:attr:`sidelong.preferences.SimulatedCourses.next_ease`).
    rng : numpy.random.Generator
        Draws how good a moment it is: the noise of night and piece.
    n_slots : int
        Positions of the plan: the chance is that of an average place in the night's order.
    piece_mm : float
        Size of the last practice piece, which the estimate's chance is about, mm.
    hyperparameters : Hyperparameters
        What all invented trainees share.

    Returns
    -------
    ChancesOfDose
        Of this one moment.
    """
    shared = hyperparameters
    noise = rng.normal(0.0, np.hypot(shared.night_sd, shared.piece_sd))
    size = shared.size_effect * (piece_mm - REFERENCE_PIECE_MM)
    pull = shared.went_slope * (ease + float(np.mean(shared.slot_effects[:n_slots])) + size + noise)
    no, not_first = (1 / (1 + np.exp(pull - cut)) for cut in shared.went_cuts)
    return ChancesOfDose(first=float(1 - not_first), later=float(not_first - no))


def invent_first_dose(
    trainee: str,
    *,
    course: int,
    position: Position,
    chances: ChancesOfDose,
    given_on: date,
    rng: np.random.Generator,
    seen_by: SeenBy | None = None,
) -> FirstDose:
    """Invent the first real dose of an invented trainee.

    Parameters
    ----------
    trainee : str
        Code of the invented trainee.
    course : int
        Course of the trainee, from 1.
    position : Position
        The position that is used.
    chances : ChancesOfDose
        What is true of it: :func:`true_chances` where the trainee was simulated, else for example
        the estimate's own ``p_first_try``, which makes the estimate right by construction.
    given_on : date
        Day of the dose; not before the day on which the estimate was locked.
    rng : numpy.random.Generator
        Source of chance.
    seen_by : SeenBy or None
        Who saw it; drawn where it is not given, mostly staff.

    Returns
    -------
    FirstDose
        The plot of promises kept needs :data:`sidelong.pathway.promises.FEWEST` of them, 20, that
        staff saw.
    """
    kind, shape, largest_mm = _FORMS[rng.integers(len(_FORMS))]
    drawn, fate = rng.random(), rng.random()
    went = WentDown.NO
    if fate < chances.first:
        went = WentDown.FIRST
    elif fate < chances.first + chances.later:
        went = WentDown.LATER
    down = went is not WentDown.NO
    unlike, likes = rng.random(2) < 0.95, (4, 5) if went is WentDown.FIRST else (2, 3)
    return FirstDose(
        trainee=trainee,
        course=course,
        given_on=given_on,
        position=position,
        kind=kind,
        shape=shape,
        largest_mm=largest_mm,
        seen_by=seen_by or (SeenBy.HOME if drawn < _REPORTED else SeenBy.STAFF),
        went_down=went,
        why_not=None if down else _WHY_NOT[rng.integers(len(_WHY_NOT))],
        rating=int(rng.choice(likes)) if down else 1,
        whole=True if down else None,
        unchewed=bool(unlike[0]) if down else None,
        unaided=bool(unlike[1]) if down else None,
    )


def draw_first_doses(
    locks: Iterable[LockedEstimate],
    *,
    plans: Sequence[Plan],
    practice: InventedPractice,
    given_on: date,
    rng: np.random.Generator,
) -> tuple[FirstDose, ...]:
    """Invent first doses of a whole invented clinic, where a position may be recommended.

    Parameters
    ----------
    locks : iterable of LockedEstimate
        What was said of each trainee; the chances in it are not looked at.
    plans : sequence of Plan
        One for each trainee, in the order in which the practice was drawn.
    practice : InventedPractice
        What is true of them.
    given_on : date
        Day of all doses.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of FirstDose
        In the suggested position, else in centre, the simplest; none for other trainees.
    """
    place = {plan.trainee: number for number, plan in enumerate(plans)}
    doses = []
    for lock in locks:
        position = lock.suggested or Position.CENTRE
        figures = lock.of(position)
        if lock.verdict is Verdict.INSUFFICIENT or figures is None or not figures.may_recommend:
            continue
        number = place[lock.trainee]
        plan = plans[number]
        chances = true_chances(
            float(practice.next_ease[number, list(Position).index(position)]),
            rng=rng,
            n_slots=len(plan.positions),
            piece_mm=plan.nights[-1].piece_mm,
        )
        doses.append(
            invent_first_dose(
                lock.trainee,
                course=lock.course,
                position=position,
                chances=chances,
                given_on=given_on,
                rng=rng,
            )
        )
    return tuple(doses)
