"""The steps of a trainee's way that practice adds: nights, events, result with its signature."""

from collections.abc import Mapping, Sequence

from django.urls import reverse
from django.utils import timezone

from sidelong.clinic.look import StepState, WayStep
from sidelong.clinic.practice.actions import Decision
from sidelong.clinic.practice.progress import Progress, progress_of
from sidelong.clinic.practice.words import DECISION_WORDS
from sidelong.clinic.trainees.record import KeptPlan, Record
from sidelong.clinic.trainees.recording import staff_names
from sidelong.paper.heads import HEAD_WORDS
from sidelong.training.position import Position

NIGHTS, EVENTS, RESULT = "Nights", "Events", "Result"


def practice_steps(records: Sequence[Record]) -> Mapping[str, tuple[WayStep, ...]]:
    """Say of each trainee how far the nights of the last course, their events and result are.

    Parameters
    ----------
    records : sequence of Record
        Trainees with what is known up to the booklet.

    Returns
    -------
    mapping of str to tuple of WayStep
        By code. An event that waits for a clinician stops the way until it is answered.
    """
    found = progress_of([each.code for each in records])
    names = staff_names()
    return {
        each.code: _steps(each, found.get((each.code, each.course), Progress()), names)
        for each in records
    }


def _steps(record: Record, progress: Progress, names: Mapping[str, str]) -> tuple[WayStep, ...]:
    if record.plan is None:
        return (WayStep(NIGHTS, StepState.LATER), WayStep(RESULT, StepState.LATER))
    events = _events(record, progress, names)
    nights = _nights(record, record.plan, progress, names)
    return (*events, nights, _result(record, progress))


def _events(record: Record, progress: Progress, names: Mapping[str, str]) -> tuple[WayStep, ...]:
    """Show the events of a course, where there are any; the lock comes before what it stops."""
    if not progress.events:
        return ()
    url = _url("events", record)
    n = len(progress.events)
    told = "One event is recorded." if n == 1 else f"{n} events are recorded."
    waiting = progress.waiting_event
    if waiting is not None:
        return (
            WayStep(
                EVENTS,
                StepState.STOPPED,
                by=names.get(waiting.kept_by, waiting.kept_by),
                on=timezone.localdate(waiting.kept),
                note=f"Practice is locked since night {waiting.night}: a clinician answers first.",
                url=url,
                action="See and answer the event",
            ),
        )
    last = progress.events[-1]
    by, at = (
        (last.answered_by, last.answered)
        if last.answered is not None
        else (last.kept_by, last.kept)
    )
    on = timezone.localdate(at)
    return (WayStep(EVENTS, StepState.DONE, by=names.get(by, by), on=on, note=told, url=url),)


def _nights(
    record: Record, kept: KeptPlan, progress: Progress, names: Mapping[str, str]
) -> WayStep:
    url = _url("nights", record)
    n_planned = len(kept.plan.nights)
    last = progress.last
    verb = "is" if progress.n_known == 1 else "are"
    told = f"{progress.n_known} of {n_planned} nights {verb} written down."
    is_over = kept.is_over(record.evening)
    if last is None:
        if progress.signed is not None:
            return WayStep(NIGHTS, StepState.SKIPPED, note="No night was written down.", url=url)
        last_one = kept.last_evening
        over = f"; the last evening was {last_one.day} {last_one:%B}" if is_over else ""
        note = f"No night is written down yet{over}."
        return WayStep(NIGHTS, StepState.NEXT, note=note, url=url, action="Write down the nights")
    if progress.n_known >= n_planned or is_over or progress.signed is not None:
        by, on = names.get(last.by, last.by), timezone.localdate(last.at)
        return WayStep(NIGHTS, StepState.DONE, by=by, on=on, note=told, url=url)
    return WayStep(NIGHTS, StepState.NEXT, note=told, url=url, action="Write down the nights")


def _result(record: Record, progress: Progress) -> WayStep:
    url, signed = _url("result", record), progress.signed
    if signed is None:
        action = "See the result and sign"
        return WayStep(RESULT, StepState.NEXT, url=url, action=action)
    if signed.is_stale and record.is_open:
        note = "Something has changed since it was signed."
        return WayStep(
            RESULT, StepState.NEXT, note=note, url=url, action="Look again, and sign again"
        )
    decided = DECISION_WORDS[Decision(signed.meaning)]
    where = f": {HEAD_WORDS[Position(signed.position)].name}" if signed.position else ""
    return WayStep(
        RESULT,
        StepState.DONE,
        by=signed.shown_as,
        on=timezone.localdate(signed.at),
        note=f"Signed. {decided}{where}.",
        url=url,
    )


def _url(name: str, record: Record) -> str:
    return reverse(name, kwargs={"code": record.code, "course": record.course})
