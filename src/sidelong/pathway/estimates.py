"""From a trainee's nights to an answer: entries become arrays, and numbers become an estimate."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidelong.designs import SUPPORTED_NIGHTS
from sidelong.pathway.outlooks import add_outlooks
from sidelong.pathway.planning import latest_plans
from sidelong.preferences import (
    DEFAULT,
    FIRST,
    LATER,
    NO,
    Courses,
    HyperparameterMixture,
    Hyperparameters,
    NightTraces,
    PreferenceEstimates,
    VerdictAnswer,
    give_verdicts,
    mend_estimates,
    view_courses,
)
from sidelong.training.entry import Entry, EntryRow, Scale, WentDown, WhyNot
from sidelong.training.estimate import (
    EarlierAnswer,
    Estimate,
    NightEstimate,
    PositionEstimate,
    Verdict,
)
from sidelong.training.plan import Plan
from sidelong.training.position import Position, in_listed_order

LOOKING_BACK = (3, 7, 10)
"""Nights after which the report says what would have been said."""

_COLUMN = {position: column for column, position in enumerate(Position)}
_WENT_DOWN = {WentDown.FIRST: FIRST, WentDown.LATER: LATER, WentDown.NO: NO}


@dataclass(frozen=True)
class PractisedCourse:
    """What one trainee was to practise, and what was recorded of it.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    positions : tuple of Position
        Positions that this trainee may use, in listed order.
    nights_planned : int
        Nights of the plan.
    scale : Scale
        Form of the rating; fixed for the course.
    entries : tuple of Entry
        By night.
    """

    trainee: str
    positions: tuple[Position, ...]
    nights_planned: int
    scale: Scale
    entries: tuple[Entry, ...]


def gather_courses(
    entries: Iterable[Entry], *, plans: Sequence[Plan] | None = None
) -> tuple[PractisedCourse, ...]:
    """Put each trainee's entries together with what was planned.

    The last course of a trainee counts, with all its plan versions; positions and nights are those
    of its last version. Without plans the positions are those with at least one row, and the
    nights are the shortest course offered that holds every night of the table.

    Parameters
    ----------
    entries : iterable of Entry
        Of many trainees, in any order.
    plans : sequence of Plan, optional
        In order of enrolment; a trainee without entries is kept and gets no more than the prior.

    Returns
    -------
    tuple of PractisedCourse
        In the order of the plans, else of first appearance.
    """
    of_trainee: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        of_trainee[entry.trainee].append(entry)
    if plans is None:
        nights = _nights_that_hold(of_trainee.values())
        return tuple(
            _without_plan(trainee, recorded, nights) for trainee, recorded in of_trainee.items()
        )
    return tuple(_with_plan(plan, of_trainee[plan.trainee]) for plan in latest_plans(plans))


def estimate_courses(
    practised: Sequence[PractisedCourse],
    *,
    hyperparameters: Hyperparameters | HyperparameterMixture = DEFAULT,
    barred: Mapping[str, frozenset[Position]] | None = None,
    up_signed_off: bool = False,
    further_nights: int = 0,
) -> tuple[Estimate, ...]:
    """Answer for every trainee: chances, verdict, the nights, and what was known earlier.

    Parameters
    ----------
    practised : sequence of PractisedCourse
        At least one.
    hyperparameters : Hyperparameters or HyperparameterMixture
        What all trainees share, or all that a small cohort leaves possible of it.
    barred : mapping of str to frozenset of Position, optional
        By trainee, positions that had a safety event: they are never suggested.
    up_signed_off : bool
        Whether a swallowing specialist has signed that ``up`` may be suggested.
    further_nights : int
        Nights to look ahead to where the answer is open; 0 for not looking ahead, which is dearer
        than all else where many are answered.

    Returns
    -------
    tuple of Estimate
        In the order given.
    """
    courses = to_courses(practised)
    open_to = _open_positions(practised, barred or {}, up_signed_off=up_signed_off)
    view = view_courses(courses, LOOKING_BACK, hyperparameters=hyperparameters, open_to=open_to)
    # Where the approximation is likely to be off, its answer is held against the exact posterior.
    mended = mend_estimates(courses, view.answers, hyperparameters=hyperparameters)
    verdicts = give_verdicts(mended.estimates)
    earlier_verdicts = [give_verdicts(each) for each in view.earlier]
    estimates = tuple(
        Estimate(
            trainee=course.trainee,
            positions=_position_estimates(course, row, mended.estimates),
            nights_used=int(mended.estimates.nights_used[row]),
            nights_planned=course.nights_planned,
            verdict=Verdict(verdicts[row].word),
            suggested=_suggested(verdicts[row], open_to[row]),
            nights=_night_estimates(course, row, view.traces),
            earlier=_earlier_answers(course, row, view.earlier, earlier_verdicts),
            is_trusted=bool(mended.is_trusted[row]),
        )
        for row, course in enumerate(practised)
    )
    return add_outlooks(
        estimates,
        mended,
        courses=courses,
        telling=view.telling,
        hyperparameters=hyperparameters,
        further_nights=further_nights,
    )


def to_courses(practised: Sequence[PractisedCourse]) -> Courses:
    """Write entries into the padded arrays that the engine takes.

    A row in a position that the plan does not have is left out, and so is one that was not tried:
    the engine is told what happened, and a piece that was never taken did not fail.

    Parameters
    ----------
    practised : sequence of PractisedCourse
        At least one.

    Returns
    -------
    Courses
        One row per trainee, in the order given.
    """
    n = len(practised)
    n_nights = max(course.nights_planned for course in practised)
    cells = (n, n_nights, len(Position))
    slot = np.zeros(cells, dtype=np.int8)
    rating = np.zeros(cells, dtype=np.int8)
    went_down = np.zeros(cells, dtype=np.int8)
    felt_best = np.full((n, n_nights), -1, dtype=np.int8)
    piece_mm = np.full(cells, np.nan)
    previous = np.full(cells, -1, dtype=np.int8)
    previous_failed = np.zeros(cells, dtype=np.bool_)
    for who, course in enumerate(practised):
        for entry in course.entries:
            night = entry.night - 1
            rows = [row for row in entry.rows if _was_tried(row)]
            for before, row in zip([None, *rows], rows, strict=False):
                if row.position not in course.positions:
                    continue
                cell = (who, night, _COLUMN[row.position])
                slot[cell] = row.slot
                rating[cell] = row.rating or 0
                went_down[cell] = _WENT_DOWN[row.went_down] if row.went_down else 0
                if row.piece_mm is not None:
                    piece_mm[cell] = row.piece_mm
                if before is not None:
                    previous[cell] = _COLUMN[before.position]
                    previous_failed[cell] = before.went_down is WentDown.NO
            if entry.felt_best in course.positions:
                felt_best[who, night] = _COLUMN[entry.felt_best]
    return Courses(
        slot=slot,
        rating=rating,
        went_down=went_down,
        felt_best=felt_best,
        piece_mm=piece_mm,
        previous=previous,
        previous_failed=previous_failed,
        allowed=np.array([[each in c.positions for each in Position] for c in practised]),
        scale=np.array([int(course.scale) for course in practised]),
        planned=np.array([course.nights_planned for course in practised]),
    )


def _was_tried(row: EntryRow) -> bool:
    return row.why_not is not WhyNot.NOT_TRIED


def _nights_that_hold(recorded: Iterable[Sequence[Entry]]) -> int:
    last = max((entry.night for entries in recorded for entry in entries), default=1)
    return next((nights for nights in SUPPORTED_NIGHTS if nights >= last), last)


def _without_plan(trainee: str, recorded: Sequence[Entry], nights: int) -> PractisedCourse:
    entries = _of_last_course(recorded)
    tried = {row.position for entry in entries for row in entry.rows}
    positions = in_listed_order(tried) or tuple(Position)
    return PractisedCourse(trainee, positions, nights, _scale_of(entries), entries)


def _with_plan(plan: Plan, recorded: Sequence[Entry]) -> PractisedCourse:
    nights = len(plan.nights)
    entries = tuple(
        entry
        for entry in sorted(recorded, key=lambda each: each.night)
        if entry.course == plan.course and entry.night <= nights
    )
    return PractisedCourse(plan.trainee, plan.positions, nights, _scale_of(entries), entries)


def _of_last_course(recorded: Sequence[Entry]) -> tuple[Entry, ...]:
    last = max(entry.course for entry in recorded)
    kept = (entry for entry in recorded if entry.course == last)
    return tuple(sorted(kept, key=lambda entry: entry.night))


def _scale_of(entries: Sequence[Entry]) -> Scale:
    """Take the form used on most nights; it is fixed for a course, but slips happen."""
    used = Counter(entry.scale for entry in entries)
    return used.most_common(1)[0][0] if used else Scale.FIVE


def _open_positions(
    practised: Sequence[PractisedCourse],
    barred: Mapping[str, frozenset[Position]],
    *,
    up_signed_off: bool,
) -> NDArray[np.bool_]:
    """Say which positions may be suggested, shape (n_trainees, 5)."""
    return np.array(
        [
            [
                position in course.positions
                and position not in barred.get(course.trainee, frozenset())
                and (position is not Position.UP or up_signed_off)
                for position in Position
            ]
            for course in practised
        ]
    )


def _suggested(answer: VerdictAnswer, open_to: NDArray[np.bool_]) -> Position | None:
    if answer.best is not None:
        return tuple(Position)[answer.best]
    if Verdict(answer.word) is Verdict.ALL_WORK and open_to[_COLUMN[Position.CENTRE]]:
        return Position.CENTRE
    return None


def _position_estimates(
    course: PractisedCourse, row: int, answers: PreferenceEstimates
) -> tuple[PositionEstimate, ...]:
    return tuple(
        PositionEstimate(
            position=position,
            p_best=float(answers.p_best[row, column]),
            p_first_try=float(answers.p_first_try[row, column]),
            expected_rating=float(answers.expected_rating[row, column]),
            sd=float(answers.sd[row, column]),
            lower=float(answers.lower[row, column]),
            upper=float(answers.upper[row, column]),
            may_recommend=bool(answers.open_to[row, column]),
            p_ahead=float(answers.p_ahead[row, column]),
        )
        for position in course.positions
        for column in (_COLUMN[position],)
    )


def _earlier_answers(
    course: PractisedCourse,
    row: int,
    earlier: Sequence[PreferenceEstimates],
    verdicts: Sequence[tuple[VerdictAnswer, ...]],
) -> tuple[EarlierAnswer, ...]:
    return tuple(
        EarlierAnswer(
            night,
            _in_order(course, each.p_best[row]),
            Verdict(words[row].word),
            _in_order(course, each.p_ahead[row]),
        )
        for night, each, words in zip(LOOKING_BACK, earlier, verdicts, strict=True)
        if night < course.nights_planned
    )


def _in_order(course: PractisedCourse, chances: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(chances[_COLUMN[position]]) for position in course.positions)


def _night_estimates(
    course: PractisedCourse, row: int, traces: NightTraces
) -> tuple[NightEstimate, ...]:
    return tuple(
        NightEstimate(
            night=night + 1,
            position=position,
            expected_rating=float(traces.expected_rating[row, night, _COLUMN[position]]),
            lower=float(traces.lower[row, night, _COLUMN[position]]),
            upper=float(traces.upper[row, night, _COLUMN[position]]),
        )
        for night in range(course.nights_planned)
        for position in course.positions
    )
