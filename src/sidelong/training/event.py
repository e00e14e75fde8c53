"""Safety events of practice at home, and which positions they close."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sidelong.training.position import Position
from sidelong.training.safety import Tier


@dataclass(frozen=True)
class Event:
    """Something that happened during practice.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    night : int
        The sheet's number, from 1.
    tier : Tier
        How grave it was.
    position : Position or None
        The position that was being practised; None where nobody knows.
    may_go_on_since : date or None
        Day on which a clinician answered that practice may go on; None while nobody has.
    """

    trainee: str
    night: int
    tier: Tier
    position: Position | None = None
    may_go_on_since: date | None = None

    def __post_init__(self) -> None:
        """Refuse a night that is no sheet number."""
        if self.night < 1:
            raise ValueError(f"night {self.night} is not a sheet number")

    @property
    def locks_practice(self) -> bool:
        """Whether practice still waits for a clinician's answer to it."""
        return self.tier.locks_practice and self.may_go_on_since is None


def barred_positions(events: Iterable[Event]) -> dict[str, frozenset[Position]]:
    """Find the positions that are never suggested, by trainee.

    A safety event whose position nobody knows closes all of them: a clinician looks first.

    Parameters
    ----------
    events : iterable of Event
        Of many trainees, in any order.

    Returns
    -------
    dict of str to frozenset of Position
        Only trainees with a safety event; a brief cough that cleared is none.
    """
    barred: dict[str, set[Position]] = defaultdict(set)
    for event in events:
        if event.tier.is_safety_event:
            barred[event.trainee] |= {event.position} if event.position else set(Position)
    return {trainee: frozenset(positions) for trainee, positions in barred.items()}


def locked_trainees(events: Iterable[Event]) -> frozenset[str]:
    """Name the trainees whose practice is locked until a clinician has answered."""
    return frozenset(event.trainee for event in events if event.locks_practice)
