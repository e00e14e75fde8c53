"""What the site's written rules say about the next step on the ladder, from a trainee's nights."""

from collections.abc import Sequence

from sidelong.pathway.estimates import PractisedCourse
from sidelong.training.entry import Entry, WentDown, WhyNot
from sidelong.training.event import Event
from sidelong.training.ladder import Ladder
from sidelong.training.safety import Tier
from sidelong.training.stepping import PractisedNight, StepAdvice, SteppingRules, advise_step


def advise_course(
    course: PractisedCourse,
    *,
    ladder: Ladder,
    rules: SteppingRules,
    events: Sequence[Event] = (),
) -> StepAdvice | None:
    """Apply the written rules to the nights of one trainee.

    Parameters
    ----------
    course : PractisedCourse
        What was recorded.
    ladder : Ladder
        The site's pieces.
    rules : SteppingRules
        The site's rules.
    events : sequence of Event
        Events of this trainee.

    Returns
    -------
    StepAdvice or None
        None where no night was practised with one known piece of this ladder.
    """
    nights = [
        night
        for entry in course.entries
        if (night := _practised(entry, course=course, ladder=ladder, events=events)) is not None
    ]
    return advise_step(nights, ladder=ladder, rules=rules) if nights else None


def _practised(
    entry: Entry, *, course: PractisedCourse, ladder: Ladder, events: Sequence[Event]
) -> PractisedNight | None:
    """Count one night; None where its piece is not one step of the ladder."""
    step = _step_of(entry, ladder)
    tried = [row for row in entry.rows if row.why_not is not WhyNot.NOT_TRIED]
    if step is None or not tried:
        return None
    return PractisedNight(
        step=step,
        n_planned=max(len(course.positions), len(entry.rows)),
        n_went_down=sum(row.went_down in {WentDown.FIRST, WentDown.LATER} for row in tried),
        n_failed=sum(row.went_down is WentDown.NO for row in tried),
        ratings=tuple(row.rating for row in tried if row.rating is not None),
        event=_gravest(entry.night, events),
    )


def _step_of(entry: Entry, ladder: Ladder) -> int | None:
    """Find the step by the piece's code, else by its size, if the night used one piece."""
    used = {(row.piece, row.piece_mm) for row in entry.rows}
    if len(used) != 1:
        return None
    ((code, size_mm),) = used
    found = [
        step
        for step, piece in enumerate(ladder.steps, start=1)
        if (piece.code == code if code else piece.largest_mm == size_mm)
    ]
    return found[0] if len(found) == 1 else None


def _gravest(night: int, events: Sequence[Event]) -> Tier | None:
    """Find the gravest event of a night; one that a clinician has answered no longer locks."""
    tiers = [
        event.tier if event.locks_practice or not event.tier.locks_practice else Tier.STOP_TONIGHT
        for event in events
        if event.night == night
    ]
    return max(tiers, key=list(Tier).index, default=None)
