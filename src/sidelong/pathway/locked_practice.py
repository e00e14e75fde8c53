"""Practice that is locked after an event: one sentence for command and page alike."""

from collections.abc import Collection, Iterable

from sidelong.problems import Problem
from sidelong.training.event import Event, locked_trainees


def lock_problems(
    trainees: Collection[str],
    events: Iterable[Event],
    *,
    remedy: str = "A clinician answers the event first.",
) -> tuple[Problem, ...]:
    """Say for whom nothing that leads to practice may be given out.

    Parameters
    ----------
    trainees : collection of str
        Codes of those who are asked about.
    events : iterable of Event
        Of these and any others, in any order.
    remedy : str
        What to do, where the entrance has a way of its own.

    Returns
    -------
    tuple of Problem
        One for each whose practice waits for a clinician's answer, in the order asked.
    """
    locked = locked_trainees(events)
    return tuple(
        Problem(f"trainee {code}", "practice is locked after an event", remedy, "held-back")
        for code in trainees
        if code in locked
    )
