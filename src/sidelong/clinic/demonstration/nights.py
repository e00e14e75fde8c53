"""What invented families wrote down: drawn until the course shows what a stage is to show."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from sidelong.clinic.practice.evening import Evening, NotDone
from sidelong.clinic.practice.typed import TypedNight, to_typed
from sidelong.exchange.fits import SHIPPED_FIT, StoredFit
from sidelong.pathway.estimates import estimate_courses, gather_courses, to_courses
from sidelong.pathway.invention import draw_practice
from sidelong.preferences import Conduct, estimate_preferences, give_verdicts
from sidelong.training.entry import Entry, Scale, Source, WentDown
from sidelong.training.estimate import Verdict
from sidelong.training.plan import Plan
from sidelong.training.position import Position

# What is common is found among a few; what is rare needs many at once to be quick.
_ROUNDS = (4, 16, *[48] * 12)
USUAL = Conduct(missing_night=0.06, cut_night=0.04, no_best=0.06)
SPARSE = Conduct(missing_night=0.8)
_REASONS = tuple(NotDone)


@dataclass(frozen=True)
class Course:
    """One course as it may have gone.

    Parameters
    ----------
    entries : tuple of Entry
        By night, under the trainee's own code.
    verdict : Verdict
        What they would show.
    ease : dict of Position to float
        What was true on the night after; only an invented dose may ask.
    """

    entries: tuple[Entry, ...]
    verdict: Verdict
    ease: dict[Position, float]

    @property
    def n_failed(self) -> int:
        """Pieces that did not go down in the first week."""
        rows = [row for entry in self.entries if entry.night <= 7 for row in entry.rows]
        return sum(row.went_down is WentDown.NO for row in rows)


def draw_course(
    plan: Plan,
    *,
    scale: Scale | None,
    rng: np.random.Generator,
    conduct: Conduct = USUAL,
    that: Callable[[Course], bool] | None = None,
    fit: StoredFit = SHIPPED_FIT,
) -> Course:
    """Draw what a family writes down, again and again, until it shows what is wanted.

    Picking by what was written down, and not by what was true, leaves the chances of the estimate
    as honest as they are.

    Parameters
    ----------
    plan : Plan
        What was planned.
    scale : Scale or None
        Form of the rating; None where the supporter's record counts.
    rng : numpy.random.Generator
        Source of chance.
    conduct : Conduct
        How the family keeps to the plan.
    that : callable, optional
        What must hold; the last one drawn is taken where none fits.
    fit : StoredFit
        What the clinic's answers rest on: under it, too, the course must show what is wanted.

    Returns
    -------
    Course
        The first that fits.
    """
    if that is None:
        return _draw_some(plan, n=1, scale=scale, rng=rng, conduct=conduct)[0]
    drawn: Sequence[Course] = ()
    for n in _ROUNDS:
        drawn = _draw_some(plan, n=n, scale=scale, rng=rng, conduct=conduct)
        # Shipped values choose among many; the clinic's own, which cost more, have the last word.
        for course in filter(that, drawn):
            said = _said_under(fit, course, plan)
            if that(said):
                return said
    return drawn[-1]


def shows(verdict: Verdict) -> Callable[[Course], bool]:
    """Ask for a course that shows this verdict."""
    return lambda course: course.verdict is verdict


def says_something(course: Course) -> bool:
    """Ask for a course that is enough for an answer."""
    return course.verdict is not Verdict.INSUFFICIENT


def is_hard(course: Course) -> bool:
    """Ask for a course on which a family would call for help."""
    return course.n_failed >= 6


def typed_nights(
    course: Course, plan: Plan, *, first: date, last_night: int, rng: np.random.Generator
) -> tuple[TypedNight, ...]:
    """Write nights as a coach types them; of nights without an entry, some say why.

    Parameters
    ----------
    course : Course
        What was written down.
    plan : Plan
        What was planned.
    first : date
        The first evening.
    last_night : int
        The last night that has come back.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of TypedNight
        By night.
    """
    known: Mapping[int, Entry] = {each.night: each for each in course.entries}
    typed = []
    for night in range(1, last_night + 1):
        evening = first + timedelta(days=night - 1)
        order = plan.nights[night - 1].order
        if night in known:
            kept = Evening(known[night], evening)
        elif rng.random() < 0.5:
            blank = Entry(plan.trainee, night, (), course=plan.course, version=plan.version)
            scale = course.entries[0].scale if course.entries else blank.scale
            why = _REASONS[rng.integers(len(_REASONS))]
            kept = Evening(replace(blank, scale=scale), evening, why)
        else:
            continue
        typed.append(to_typed(kept, plan=plan, order=order, version=0))
    return tuple(typed)


def _said_under(fit: StoredFit, course: Course, plan: Plan) -> Course:
    if not fit.is_own:
        return course
    practised = gather_courses(course.entries, plans=[plan])
    (exact,) = estimate_courses(practised, hyperparameters=fit.shared)
    return replace(course, verdict=exact.verdict)


def _draw_some(
    plan: Plan, *, n: int, scale: Scale | None, rng: np.random.Generator, conduct: Conduct
) -> list[Course]:
    copies = [replace(plan, trainee=f"copy-{number}") for number in range(n)]
    scales = {copy.trainee: scale for copy in copies}
    practice = draw_practice(copies, scales=scales, rng=rng, conduct=conduct)
    courses = to_courses(gather_courses(practice.entries, plans=copies))
    # The verdict alone, without the nights on the way: most of what is drawn is thrown away.
    open_to = courses.allowed & np.array([each is not Position.UP for each in Position])
    answers = give_verdicts(estimate_preferences(courses, open_to=open_to))
    by_copy: dict[str, list[Entry]] = {copy.trainee: [] for copy in copies}
    for entry in practice.entries:
        mine = replace(entry, trainee=plan.trainee, source=Source.SHEET)
        by_copy[entry.trainee].append(mine)
    return [
        Course(
            tuple(by_copy[copy.trainee]),
            Verdict(answer.word),
            dict(zip(Position, ease.tolist(), strict=True)),
        )
        for copy, answer, ease in zip(copies, answers, practice.next_ease, strict=True)
    ]
