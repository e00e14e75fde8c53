"""A trainee's way through, as values: what is done, by whom, what is next, what was skipped."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class StepState(StrEnum):
    """Where a step stands; each has a mark of its own shape."""

    DONE = "done"
    NEXT = "next"
    LATER = "later"
    SKIPPED = "skipped"
    STOPPED = "stopped"


STATE_WORDS = {
    StepState.DONE: "done",
    StepState.NEXT: "next",
    StepState.LATER: "not yet",
    StepState.SKIPPED: "skipped",
    StepState.STOPPED: "stopped here",
}


@dataclass(frozen=True)
class WayStep:
    """One step of the way.

    Parameters
    ----------
    title : str
        What it is, for example "Readiness".
    state : StepState
        Where it stands.
    by : str
        Who did it; empty where nobody has.
    on : date or None
        When.
    note : str
        One short sentence: what came of it, what is missing, why it was skipped.
    url : str
        Where it is done or shown; empty where it cannot be opened.
    action : str
        Words of the link that leads on, for example "Set a plan"; only for the next step.

    Raises
    ------
    ValueError
        If a step that was done says neither by whom nor when, or if one that was not says so.
    """

    title: str
    state: StepState
    by: str = ""
    on: date | None = None
    note: str = ""
    url: str = ""
    action: str = ""

    def __post_init__(self) -> None:
        """Keep who and when together with what was done."""
        if self.state is StepState.DONE and not (self.by and self.on):
            raise ValueError(f"{self.title}: a step that is done says by whom and when")
        if self.state in {StepState.NEXT, StepState.LATER} and (self.by or self.on):
            raise ValueError(f"{self.title}: a step that is not done was done by nobody")

    @property
    def state_words(self) -> str:
        """What the mark means."""
        return STATE_WORDS[self.state]
