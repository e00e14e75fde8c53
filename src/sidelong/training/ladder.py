"""The ladder of pieces up to the real medicine, and what practice on it does not show."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sidelong.problems import Problem, Refused
from sidelong.training.piece import LARGEST_MM, Buoyancy, Piece, Shape


@dataclass(frozen=True)
class Ladder:
    """Pieces in ascending order; step 1 is the first.

    Parameters
    ----------
    steps : tuple of Piece
        At least one. Every dimension of a step is at least that of the step before, and one is
        larger, so that a step up is a step up in any direction.

    Raises
    ------
    Refused
        With every fault: no steps, a code twice, steps that do not ascend.
    """

    steps: tuple[Piece, ...]

    def __post_init__(self) -> None:
        """Refuse a ladder that does not ascend."""
        if not self.steps:
            remedy = "List at least one piece."
            raise Refused([Problem("steps", "there are none", remedy, "ladder")])
        faults = []
        codes = [piece.code for piece in self.steps]
        for number, piece in enumerate(self.steps, start=1):
            if codes.index(piece.code) != number - 1:
                what = f"piece {piece.code} stands on the ladder twice"
                faults.append(Problem(f"step {number}", what, "Give each piece once.", "ladder"))
            elif number > 1 and not _ascends(self.steps[number - 2], piece):
                what = f"piece {piece.code} is not larger than the step before"
                remedy = "List pieces from small to large; no dimension may shrink."
                faults.append(Problem(f"step {number}", what, remedy, "ladder"))
        if faults:
            raise Refused(faults)

    def step_of(self, code: str) -> int:
        """Find the step of a piece, from 1."""
        return [piece.code for piece in self.steps].index(code) + 1


@dataclass(frozen=True)
class Medicine:
    """The real tablet or capsule, as a pharmacist measured it; sizes differ between makers.

    Parameters
    ----------
    length_mm, width_mm, thickness_mm : float
        Three dimensions, mm, longest first.
    shape : Shape
        Outline.
    buoyancy : Buoyancy
        What it does in water.
    measured_by : str
        Role of who measured it; no name.
    measured_on : date
        When.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    shape: Shape
    buoyancy: Buoyancy
    measured_by: str
    measured_on: date

    def __post_init__(self) -> None:
        """Refuse what was not measured."""
        if not LARGEST_MM >= self.length_mm >= self.width_mm >= self.thickness_mm > 0:
            raise ValueError("a medicine is measured in mm, longest first")
        if not self.measured_by:
            raise ValueError("a medicine's size needs the role of who measured it")

    @property
    def is_long(self) -> bool:
        """Whether the length matters as well as the width."""
        return self.shape in {Shape.OVAL, Shape.CAPSULE}


def target_gaps(ladder: Ladder, medicine: Medicine) -> tuple[str, ...]:
    """Say where a ladder falls short of the medicine.

    The last step is at least as wide as the medicine and, where that is long, at least as long.
    Common practice, no source.

    Parameters
    ----------
    ladder : Ladder
        The trainee's ladder.
    medicine : Medicine
        As measured by the pharmacist.

    Returns
    -------
    tuple of str
        One sentence a gap; empty when the ladder reaches the medicine.
    """
    last = ladder.steps[-1]
    gaps = []
    if last.width_mm < medicine.width_mm:
        gaps.append(
            f"The last piece is {last.width_mm:g} mm wide, the medicine {medicine.width_mm:g} mm."
        )
    if medicine.is_long and last.length_mm < medicine.length_mm:
        gaps.append(
            f"The last piece is {last.length_mm:g} mm long, the medicine {medicine.length_mm:g} mm."
        )
    return tuple(gaps)


def transfer_cautions(seen_swallowed: Sequence[Piece], medicine: Medicine) -> tuple[str, ...]:
    """Say what practice so far does not show about this medicine.

    Parameters
    ----------
    seen_swallowed : sequence of Piece
        Pieces that staff saw go down whole; what home reports say is not enough here.
    medicine : Medicine
        As measured by the pharmacist.

    Returns
    -------
    tuple of str
        Sentences that must stand beside any result; empty when there is nothing to add.
    """
    seen = {piece.buoyancy for piece in seen_swallowed} - {Buoyancy.UNSURE}
    if medicine.buoyancy in seen:
        return ()
    if medicine.buoyancy is Buoyancy.FLOATS:
        return (
            "This medicine floats. Pieces that sink say nothing about it: "
            "a floating piece must be seen swallowed first.",
        )
    if medicine.buoyancy is Buoyancy.SINKS:
        return ("This medicine sinks, and no sinking piece was seen swallowed yet.",)
    return ("Nobody has seen whether this medicine sinks or floats: try it in a glass of water.",)


def _ascends(before: Piece, after: Piece) -> bool:
    pairs = [
        (getattr(before, name), getattr(after, name))
        for name in ("length_mm", "width_mm", "thickness_mm")
    ]
    return all(small <= large for small, large in pairs) and any(
        small < large for small, large in pairs
    )
