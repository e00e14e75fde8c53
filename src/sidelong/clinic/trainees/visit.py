"""The teaching visit: what staff saw in each position, and what may go home after it.

The rules are common practice, no source: water first and then one small piece, nothing goes home
that staff did not see swallowed cleanly, and a position goes home only where water went down
cleanly in it. What is seen here clears nobody; a clinician decided before, and may decide again.
"""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.entry import Scale
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Piece
from sidelong.training.position import Position, in_listed_order
from sidelong.training.readiness import SortedReferral
from sidelong.training.stepping import SteppingRules, start_step


class SeenWater(StrEnum):
    """How a mouthful of water went down in a position."""

    CLEAN = "clean"
    SIGNS = "signs"
    HURTS = "hurts"
    NOT_TRIED = "not_tried"


class SeenPiece(StrEnum):
    """How the piece went down in a position."""

    CLEAN = "clean"
    NOT_DOWN = "not_down"
    SIGNS = "signs"
    NOT_TRIED = "not_tried"


@dataclass(frozen=True)
class Seen:
    """What was seen in one position.

    Parameters
    ----------
    position : Position
        Which one.
    water : SeenWater
        A mouthful of water; `clean` is without cough, wet voice or effort, `hurts` means that the
        head was not held there in comfort.
    piece : SeenPiece
        The piece; `clean` is whole, unchewed and unaided, at the first try or a later one.
    """

    position: Position
    water: SeenWater
    piece: SeenPiece = SeenPiece.NOT_TRIED

    def __post_init__(self) -> None:
        """Refuse a piece where water did not go down first."""
        if self.piece is not SeenPiece.NOT_TRIED and self.water is not SeenWater.CLEAN:
            what = "a piece was tried where water did not go down cleanly first"
            remedy = "Say that the piece was not tried there, or correct what the water did."
            raise Refused([_fault(str(self.position), what, remedy)])


@dataclass(frozen=True)
class TeachingVisit:
    """One teaching visit.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    held_on : date
        The day.
    adult_present : bool
        Whether the adult who will be there at home was taught too.
    trainee_agreed : bool
        Whether the trainee wants to practise.
    seen : tuple of Seen
        One for each position that was shown, in listed order.
    piece : str
        Code of the piece that was tried, the largest one where there were several; empty for
        none.
    scale : Scale or None
        Form of the rating that the warm-up picked; None for the usual one of the band.

    Raises
    ------
    Refused
        If a position stands twice, or a piece was seen of which nobody says which it was.
    """

    trainee: str
    held_on: date
    adult_present: bool
    trainee_agreed: bool
    seen: tuple[Seen, ...]
    piece: str = ""
    scale: Scale | None = None

    def __post_init__(self) -> None:
        """Refuse a visit that contradicts itself."""
        faults = []
        shown = [each.position for each in self.seen]
        if tuple(shown) != in_listed_order(set(shown)):
            remedy = "Give each position once, in the listed order."
            faults.append(_fault("positions", "a position stands twice", remedy))
        tried = any(each.piece is not SeenPiece.NOT_TRIED for each in self.seen)
        if tried and not self.piece:
            what = "a piece was tried, and nobody says which"
            faults.append(_fault("piece", what, "Say which piece of the ladder it was."))
        if faults:
            raise Refused(faults)

    @property
    def seen_cleanly(self) -> bool:
        """Whether staff saw a piece swallowed cleanly in any position."""
        return any(each.piece is SeenPiece.CLEAN for each in self.seen)

    @property
    def has_signs(self) -> bool:
        """Whether there were signs that ask for a clinician."""
        return any(
            each.water is SeenWater.SIGNS or each.piece is SeenPiece.SIGNS for each in self.seen
        )

    @property
    def positions_for_home(self) -> tuple[Position, ...]:
        """Positions in which water went down cleanly, in listed order."""
        return tuple(each.position for each in self.seen if each.water is SeenWater.CLEAN)


def release_faults(visit: TeachingVisit) -> tuple[Problem, ...]:
    """Say what stands against giving pieces home after a visit.

    Parameters
    ----------
    visit : TeachingVisit
        What was seen.

    Returns
    -------
    tuple of Problem
        Empty where a piece was seen swallowed cleanly, without signs anywhere, by somebody who
        agreed, with the adult from home present.
    """
    faults = []
    if not visit.adult_present:
        remedy = "Repeat the visit with the adult who will be there at home."
        faults.append(_fault("adult", "the adult from home was not there", remedy))
    if not visit.trainee_agreed:
        remedy = "Ask again another day; nobody is pressed."
        faults.append(_fault("agreement", "the trainee did not agree", remedy))
    if visit.has_signs:
        what = "there were signs that a swallow was not safe"
        remedy = "Ask the clinician; pieces go home after a later visit without signs."
        faults.append(_fault("signs", what, remedy))
    if not visit.seen_cleanly:
        what = "no piece was seen swallowed cleanly"
        remedy = "Practise at the clinic; pieces go home once one was seen to go down."
        faults.append(_fault("piece", what, remedy))
    if Position.CENTRE not in visit.positions_for_home:
        what = "water was not seen to go down cleanly with the head in the centre"
        remedy = "Show water in the centre; where it is not safe, nobody practises at home."
        faults.append(_fault("centre", what, remedy))
    return tuple(faults)


def keep_to_visit(sorted_referral: SortedReferral, visit: TeachingVisit) -> SortedReferral:
    """Leave the positions in which the visit showed that water goes down.

    Parameters
    ----------
    sorted_referral : SortedReferral
        With the positions that rules and decisions leave.
    visit : TeachingVisit
        A visit after which pieces may go home.

    Returns
    -------
    SortedReferral
        Never with more positions than before.
    """
    shown = set(visit.positions_for_home)
    limits = sorted_referral.limits
    kept = tuple(each for each in limits.positions if each in shown)
    return replace(sorted_referral, limits=replace(limits, positions=kept))


def home_ladder(visit: TeachingVisit, ladder: Ladder, *, rules: SteppingRules) -> Ladder:
    """Give the ladder from the step at which home begins, up to the piece that was seen.

    Parameters
    ----------
    visit : TeachingVisit
        What was seen.
    ladder : Ladder
        The site's pieces.
    rules : SteppingRules
        Say how far below the piece that was seen home begins.

    Returns
    -------
    Ladder
        No piece larger than the one that was seen, and none that behaves otherwise in water.

    Raises
    ------
    Refused
        If the piece is not on the ladder.
    """
    codes = [piece.code for piece in ladder.steps]
    if visit.piece not in codes:
        what = f"piece {visit.piece or 'none'} is not on the ladder in use"
        raise Refused([_fault("piece", what, "Hold another visit with a piece of this ladder.")])
    largest = ladder.step_of(visit.piece)
    seen = ladder.steps[largest - 1]
    first = start_step(largest, ladder=ladder, rules=rules)
    return Ladder(
        tuple(
            piece
            for piece in ladder.steps[first - 1 : largest]
            if piece is seen or _behaves_alike(piece, seen)
        )
    )


def _behaves_alike(piece: Piece, seen: Piece) -> bool:
    """Tell whether what was seen of one piece says something about the other."""
    return piece.buoyancy is seen.buoyancy


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(f"visit, {where}", what, remedy, "held-back")
