"""A trainee's plan: the order of positions and the piece for every night of a course."""

from dataclasses import dataclass
from datetime import date

from sidelong.training.position import Position


@dataclass(frozen=True)
class Night:
    """One evening of a plan.

    Parameters
    ----------
    order : tuple of Position
        Positions in the order in which they are practised; slot 1 first.
    piece_mm : float
        Largest dimension of the piece for this night, mm.
    piece : str
        Code of the piece in the site's list; empty where only the size is known.
    """

    order: tuple[Position, ...]
    piece_mm: float
    piece: str = ""

    def __post_init__(self) -> None:
        """Refuse an empty or repeating order and an impossible piece."""
        if not self.order or len(set(self.order)) != len(self.order):
            raise ValueError("a night needs one to five positions, each once")
        if not self.piece_mm > 0:
            raise ValueError(f"a piece of {self.piece_mm} mm cannot be")


@dataclass(frozen=True)
class AllocationRecord:
    """How a plan's orders were drawn, so that anybody can draw them again.

    Parameters
    ----------
    commitment : str
        SHA-256 of the secret seed, recorded before the first draw, hexadecimal.
    stream : str
        Site, band, allowed positions and nights that share one balanced sequence.
    index : int
        Place of this trainee in the stream, from 0.
    """

    commitment: str
    stream: str
    index: int


@dataclass(frozen=True)
class Plan:
    """All nights' orders and pieces for one course of one trainee.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    nights : tuple of Night
        Sheet 1 first; every night uses the same positions.
    site, band : str
        Where the trainee practises and the age band that the site uses; empty where unknown.
    course, version : int
        Course of the trainee and version of the plan within it, from 1.
    start : date or None
        First evening, where one was agreed.
    protocol_version : str
        Version of the signed protocol that this plan was made under; empty by command.
    allocation : AllocationRecord or None
        None for a plan that came from a file.
    """

    trainee: str
    nights: tuple[Night, ...]
    site: str = ""
    band: str = ""
    course: int = 1
    version: int = 1
    start: date | None = None
    protocol_version: str = ""
    allocation: AllocationRecord | None = None

    def __post_init__(self) -> None:
        """Refuse a plan without nights or with positions that change on the way."""
        if not self.trainee:
            raise ValueError("a plan needs a trainee's code")
        if not self.nights:
            raise ValueError("a plan needs at least one night")
        if len({frozenset(night.order) for night in self.nights}) != 1:
            raise ValueError("every night of a plan version uses the same positions")

    @property
    def positions(self) -> tuple[Position, ...]:
        """Positions of this plan, in listed order."""
        used = set(self.nights[0].order)
        return tuple(position for position in Position if position in used)
