"""What an answer about a course rests on, read from its rows; answers are kept by fingerprint."""

from collections.abc import Collection

from django.core.cache import cache

from sidelong.clinic.practice.answers import Answer, Evidence, answer, fingerprint_of
from sidelong.clinic.practice.fits import fit_of, key_in_use
from sidelong.clinic.practice.models import EventRow
from sidelong.clinic.practice.nights import known_nights, plan_rows
from sidelong.clinic.practice.reading_once import once
from sidelong.clinic.practice.rows import to_events
from sidelong.clinic.practice.up_sign_off import sign_off_of
from sidelong.clinic.protocols.documents import protocol_of
from sidelong.clinic.trainees.models import Course
from sidelong.training.event import Event, locked_trainees
from sidelong.training.protocol import Protocol

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
        Plan, nights, events, the sign-off for ``up``, and the key of the fit.
    """
    return once(("evidence", course.pk), lambda: _read_evidence(course))


def _read_evidence(course: Course) -> Evidence:
    known = known_nights(course)
    sign_off = sign_off_of(course)
    return Evidence(
        plan=known.plan,
        evenings=tuple(each.evening for _, each in sorted(known.nights.items())),
        events=to_events(course.events.all(), trainee=course.trainee_id),
        up_signed_off=sign_off is not None,
        up_sign_off=sign_off,
        fit=key_in_use(),
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
        said = answer(evidence, fit=fit_of(evidence.fit))
        cache.set(key, said, _KEEP_SECONDS)
    return said


def protocol_for(course: Course) -> Protocol:
    """Give the protocol that the last version of a course's plan was made under."""
    return protocol_of(plan_rows(course)[-1].protocol.text)


def events_of_codes(codes: Collection[str]) -> tuple[Event, ...]:
    """Give all events of some trainees, of all their courses."""
    rows = EventRow.objects.filter(course__trainee__in=codes).select_related("course")
    return to_events(rows)


def is_locked(course: Course) -> bool:
    """Tell whether practice waits for a clinician: an event of any course locks the trainee."""
    return bool(locked_trainees(events_of_codes([course.trainee_id])))
