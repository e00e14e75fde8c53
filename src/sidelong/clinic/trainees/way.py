"""The steps of one trainee's way: what is done, by whom, what is next, what was left out."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from django.urls import reverse
from django.utils import timezone

from sidelong.clinic.look import StepState, WayStep
from sidelong.clinic.trainees.record import KeptDecision, Record
from sidelong.clinic.trainees.visit import release_faults
from sidelong.training.readiness import Part, Readiness
from sidelong.training.referral import PRACTICE, Decided

Steps = tuple[WayStep, ...]
FurtherSteps = Callable[[Sequence[Record]], Mapping[str, Steps]]
_further: dict[FurtherSteps, str] = {}


def add_further_steps(steps: FurtherSteps, *, before: str = "") -> None:
    """Let an app that stands above this one say which steps come after the booklet.

    Parameters
    ----------
    steps : callable
        Gives the further steps of some trainees by code, so that a list of them all asks once.
        Steps of apps that are registered later come later.
    before : str
        Title of the step of another app before which they come; empty for after all others.
    """
    _further[steps] = before


def ways_of(records: Sequence[Record]) -> dict[str, Steps]:
    """Lay out the ways of some trainees.

    Parameters
    ----------
    records : sequence of Record
        What is known of each.

    Returns
    -------
    dict of str to tuple of WayStep
        By code, in order. A step that was passed over while a later one was done is shown as
        skipped.
    """
    added = [(before, further(records)) for further, before in _further.items()]
    return {
        each.code: _laid_out(
            each, _in_order([(before, steps.get(each.code, ())) for before, steps in added])
        )
        for each in records
    }


def _in_order(added: Sequence[tuple[str, Steps]]) -> Steps:
    """Put steps of other apps in order: those without a wish first, the others before theirs."""
    laid: list[WayStep] = [step for before, steps in added if not before for step in steps]
    for before, steps in added:
        titles = [step.title for step in laid]
        if before:
            at = titles.index(before) if before in titles else len(laid)
            laid[at:at] = steps
    return tuple(laid)


def steps_of(record: Record) -> Steps:
    """Lay out one trainee's way; see :func:`ways_of`."""
    return ways_of([record])[record.code]


def _laid_out(record: Record, further: Sequence[WayStep]) -> Steps:
    own = (
        _referral(record),
        _questions(record),
        _decision(record),
        _visit(record),
        _plan(record),
        _booklet(record),
    )
    laid = _with_skipped(_one_next((*own, *further)))
    return laid if record.is_open or not record.course else _closed(laid)


def openable(steps: Sequence[WayStep], may: Callable[[str], bool]) -> Steps:
    """Take the links away that would lead a reader to a refusal; what is known stays.

    Parameters
    ----------
    steps : sequence of WayStep
        A trainee's way.
    may : callable
        Tells of a path whether the reader may open it.

    Returns
    -------
    tuple of WayStep
        The same steps.
    """
    return tuple(
        step if not step.url or may(step.url) else replace(step, url="", action="")
        for step in steps
    )


def next_step(steps: Sequence[WayStep]) -> WayStep | None:
    """Find what is to be done next; None where everything is done or it has stopped."""
    return next((step for step in steps if step.state is StepState.NEXT), None)


def _one_next(steps: Steps) -> Steps:
    """Let one step be the next one: those after it wait."""
    laid: list[WayStep] = []
    is_open = True
    for step in steps:
        if step.state is StepState.NEXT and not is_open:
            laid.append(replace(step, state=StepState.LATER, action=""))
            continue
        is_open = is_open and step.state not in {StepState.NEXT, StepState.STOPPED}
        laid.append(step)
    return tuple(laid)


def _closed(steps: Steps) -> Steps:
    """Show the way of a course that is closed: nothing is next, and what was left out stays out."""
    open_states = {StepState.NEXT, StepState.LATER}
    return tuple(
        replace(step, state=StepState.SKIPPED, action="") if step.state in open_states else step
        for step in steps
    )


def _with_skipped(steps: Steps) -> Steps:
    """Show what was passed over; a decision that has ended is not passed over but open again."""
    laid = []
    for number, step in enumerate(steps):
        later_done = any(each.state is StepState.DONE for each in steps[number + 1 :])
        if step.title == "Booklet" and step.state is not StepState.DONE and later_done:
            laid.append(replace(step, state=StepState.SKIPPED))
        else:
            laid.append(step)
    return tuple(laid)


def _referral(record: Record) -> WayStep:
    url = reverse("referral", args=[record.code])
    if record.referral is None:
        return WayStep("Referral", StepState.NEXT, url=url, action="Write the referral")
    kept = record.referral
    age = kept.referral.age_years
    told = "Age not known." if age is None else f"{age} years old."
    return WayStep(
        "Referral",
        StepState.DONE,
        by=kept.written.by,
        on=_day(kept.written.at),
        note=told,
        url=url,
    )


def _questions(record: Record) -> WayStep:
    url = reverse("questions", args=[record.code])
    title = "Readiness questions"
    if record.referral is None:
        return WayStep(title, StepState.LATER)
    if record.standing is None:
        note = "They cannot be asked: the site's protocol in use does not fit this referral."
        return WayStep(title, StepState.STOPPED, note=note, url=url)
    n_open = len(record.standing.sorted_referral.unanswered)
    if n_open:
        note = "One question is open." if n_open == 1 else f"{n_open} questions are open."
        return WayStep(title, StepState.NEXT, note=note, url=url, action="Ask the questions")
    answered = record.referral.answered
    return WayStep(title, StepState.DONE, by=answered.by, on=_day(answered.at), url=url)


def _decision(record: Record) -> WayStep:
    url = reverse("readiness", args=[record.code])
    title = "Clinician's decision"
    if record.standing is None:
        return WayStep(title, StepState.LATER)
    held = record.standing.sorted_referral
    last = _last_on_practice(record)
    refused = last is not None and last.decision.decided is Decided.DO_NOT_GO
    if last is not None and record.standing.may_visit:
        return WayStep(
            title,
            StepState.DONE,
            by=last.decision.decided_by,
            on=last.decision.decided_on,
            note=f"{_DECIDED[last.decision.decided]}; {_ends(held.expires_on)}.",
            url=url,
        )
    if refused and last is not None:
        decision = last.decision
        return WayStep(
            title,
            StepState.STOPPED,
            by=decision.decided_by,
            on=decision.decided_on,
            note="Decided: not to practise.",
            url=url,
        )
    if held.readiness is Readiness.NOT_NOW and not held.unanswered:
        return WayStep(title, StepState.STOPPED, note="Not now: see the reasons.", url=url)
    if last is not None and _practised_on_it(record):
        ended = _in_words(last.decision.expires_on)
        note = f"It held until {ended}: a new one comes before anybody practises on."
        return WayStep(
            title,
            StepState.DONE,
            by=last.decision.decided_by,
            on=last.decision.decided_on,
            note=note,
            url=url,
        )
    note = "The last decision no longer holds." if last is not None else ""
    return WayStep(title, StepState.NEXT, note=note, url=url, action="See reasons and decide")


def _practised_on_it(record: Record) -> bool:
    """Tell whether the evenings that a decision was for are behind us, or the course is closed."""
    kept = record.plan
    return kept is not None and (not record.is_open or kept.is_over(record.evening))


_DECIDED = {
    Decided.GO: "Go",
    Decided.GO_WITH_LIMITS: "Go, with limits",
    Decided.DO_NOT_GO: "Do not go",
    Decided.STOP_ENDED: "Stop ended",
}


def _last_on_practice(record: Record) -> KeptDecision | None:
    on_practice = [each for each in record.decisions if each.decision.gate == PRACTICE]
    return max(on_practice, key=lambda each: each.decision.decided_on, default=None)


def _visit(record: Record) -> WayStep:
    url = reverse("visit", args=[record.code])
    title = "Teaching visit"
    kept = record.visit
    if kept is None:
        return WayStep(title, StepState.NEXT, url=url, action="Record the visit")
    if kept.released:
        note = f"Pieces may go home: {kept.piece} was seen swallowed cleanly."
        on = kept.visit.held_on
        return WayStep(title, StepState.DONE, by=kept.written.by, on=on, note=note, url=url)
    if _is_clinic_only(record):
        note = "Seen; practice is at the clinic only."
        on = kept.visit.held_on
        return WayStep(title, StepState.DONE, by=kept.written.by, on=on, note=note, url=url)
    why = "; ".join(each.what for each in release_faults(kept.visit)) or "nobody released pieces"
    note = f"Nothing went home: {why}."
    return WayStep(title, StepState.NEXT, note=note, url=url, action="Record another visit")


def _is_clinic_only(record: Record) -> bool:
    standing = record.standing
    return standing is not None and any(gap.part is Part.HOME for gap in standing.gaps)


def _plan(record: Record) -> WayStep:
    url = reverse("plan", args=[record.code])
    kept = record.plan
    if kept is not None:
        plan = kept.plan
        note = f"Version {plan.version}: {len(plan.nights)} nights; {kept.piece}."
        on = _day(kept.issued.at)
        return WayStep("Plan", StepState.DONE, by=kept.issued.by, on=on, note=note, url=url)
    if _is_clinic_only(record) and _last_on_practice(record) is not None:
        note = "No plan for home: a decision keeps practice at the clinic."
        return WayStep("Plan", StepState.STOPPED, note=note)
    if record.is_locked:
        return WayStep("Plan", StepState.STOPPED, note=_LOCKED, url=url)
    return WayStep("Plan", StepState.NEXT, url=url, action="Issue the plan")


def _booklet(record: Record) -> WayStep:
    if record.plan is None:
        return WayStep("Booklet", StepState.LATER)
    url = reverse("plan", args=[record.code])
    last = record.plan.booklet
    made = last.made if last else None
    if made is None and record.is_locked:
        return WayStep("Booklet", StepState.STOPPED, note=_LOCKED, url=url)
    if made is None:
        return WayStep("Booklet", StepState.NEXT, url=url, action="Make the booklet")
    version = record.plan.plan.version
    note = f"Of version {version}, made {_times(len(record.plan.booklets))}."
    return WayStep("Booklet", StepState.DONE, by=made.by, on=_day(made.at), note=note, url=url)


_LOCKED = "Practice is locked until a clinician has answered an event."


def _ends(on: date | None) -> str:
    return f"it ends on {_in_words(on)}" if on else "without an end"


def _in_words(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"


def _day(at: datetime) -> date:
    return timezone.localdate(at)
