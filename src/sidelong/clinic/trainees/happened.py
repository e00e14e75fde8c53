"""Events of practice, as the steps up to the booklet see them: whoever is locked gets nothing.

Events are kept by an app that stands above this one, and are asked for through the door below.
"""

from collections.abc import Callable, Collection, Sequence

from sidelong.pathway.locked_practice import lock_problems
from sidelong.problems import Problem
from sidelong.training.event import Event

EventSource = Callable[[Collection[str]], Sequence[Event]]
_sources: list[EventSource] = []


def add_event_source(source: EventSource) -> None:
    """Let an app that stands above this one tell which events happened.

    Parameters
    ----------
    source : callable
        Gives all events of the trainees with these codes, of all their courses.
    """
    if source not in _sources:
        _sources.append(source)


def events_of_trainees(codes: Collection[str]) -> tuple[Event, ...]:
    """Give all events of some trainees.

    Parameters
    ----------
    codes : collection of str
        Whose.

    Returns
    -------
    tuple of Event
        Of all courses, in no particular order.
    """
    return tuple(event for source in _sources for event in source(codes))


def lock_faults(code: str) -> list[Problem]:
    """Say that practice is locked; empty where nothing waits for a clinician's answer."""
    return list(lock_problems([code], events_of_trainees([code])))
