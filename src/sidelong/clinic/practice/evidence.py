"""What an answer about a course rests on, read from its rows; answers are kept by fingerprint."""

from django.core.cache import cache

from sidelong.clinic.practice.answers import Answer, Evidence, answer, fingerprint_of
from sidelong.clinic.practice.models import EventRow
from sidelong.clinic.practice.nights import known_nights, plan_rows
from sidelong.clinic.practice.rows import to_events
from sidelong.clinic.protocols.documents import protocol_of
from sidelong.clinic.trainees.models import Course
from sidelong.training.protocol import Protocol
from sidelong.training.safety import Tier

MAY_GO_ON = "may_go_on"
_KEEP_SECONDS = 3600


def evidence_of(course: Course) -> Evidence:
    """Read everything that an answer about a course rests on.

    Parameters
    ----------
    course : Course
        Its row.

    Returns
    -------
    Evidence
        Plan, nights and events.
    """
    known = known_nights(course)
    events = tuple(course.events.all())
    return Evidence(
        plan=known.plan,
        evenings=tuple(each.evening for _, each in sorted(known.nights.items())),
        events=to_events(events, trainee=course.trainee_id),
        is_unlocked=any(_locks(each) for each in events) and not is_locked(course),
    )


def answer_now(evidence: Evidence) -> Answer:
    """Say what the nights show; the same evidence is not computed twice within an hour.

    Parameters
    ----------
    evidence : Evidence
        Plan, nights and events.

    Returns
    -------
    Answer
        With figures as the table of estimates writes them.
    """
    key = f"answer:{fingerprint_of(evidence)}"
    said: Answer | None = cache.get(key)
    if said is None:
        said = answer(evidence)
        cache.set(key, said, _KEEP_SECONDS)
    return said


def protocol_for(course: Course) -> Protocol:
    """Give the protocol that the last version of a course's plan was made under."""
    return protocol_of(plan_rows(course)[-1].protocol.text)


def is_locked(course: Course) -> bool:
    """Tell whether practice waits for a clinician: an event locked it and nobody let it go on."""
    return any(_locks(each) and each.answer != MAY_GO_ON for each in course.events.all())


def _locks(row: EventRow) -> bool:
    return Tier(row.tier).locks_practice
