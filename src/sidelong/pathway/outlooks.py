"""What follows from an estimate beside its verdict: against centre, own share, further nights.

Nothing of it is said where the estimate is not this trainee's own (no night yet) or cannot be
trusted: it would be more exact than the figures that it rests on.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sidelong.preferences import (
    CorrectedEstimates,
    Courses,
    HyperparameterMixture,
    Hyperparameters,
    MoreNights,
    chance_better,
    expect_of_more_nights,
    share_of_own_nights,
)
from sidelong.training.estimate import Estimate, FurtherNights, Verdict
from sidelong.training.position import Position

FURTHER_NIGHTS = 7
"""A week more: common practice, no source."""

OPEN_VERDICTS = frozenset({Verdict.LIKELY, Verdict.TOO_CLOSE, Verdict.INSUFFICIENT})
"""Verdicts after which more nights are a question."""

_COLUMN = {position: column for column, position in enumerate(Position)}


def add_outlooks(
    estimates: Sequence[Estimate],
    mended: CorrectedEstimates,
    *,
    courses: Courses,
    telling: NDArray[np.float64],
    hyperparameters: Hyperparameters | HyperparameterMixture,
    further_nights: int,
) -> tuple[Estimate, ...]:
    """Add to each estimate what follows from it.

    Parameters
    ----------
    estimates : sequence of Estimate
        With their verdicts.
    mended : CorrectedEstimates
        The figures that they were made of, row by row.
    courses : Courses
        What was recorded.
    telling : ndarray of float, shape (n_trainees, 5, 5)
        What one practised night says, of :class:`CourseView`.
    hyperparameters : Hyperparameters or HyperparameterMixture
        That the figures rest on.
    further_nights : int
        Nights to look ahead to where the answer is open; 0 for not looking ahead.

    Returns
    -------
    tuple of Estimate
        In the order given.
    """
    answers = mended.estimates
    better = chance_better(answers)
    share = share_of_own_nights(courses, answers, hyperparameters=hyperparameters)
    can_say = mended.is_trusted & answers.converged & (answers.nights_used > 0)
    further: dict[int, FurtherNights] = {}
    is_open = np.array([each.verdict in OPEN_VERDICTS for each in estimates])
    rows = np.flatnonzero(can_say & is_open & (answers.open_to.sum(axis=1) > 1))
    if further_nights and rows.size:
        ahead = expect_of_more_nights(
            answers.take(rows),
            telling=telling[rows],
            nights=further_nights,
            hyperparameters=hyperparameters,
        )
        further = {int(row): _further(ahead, place) for place, row in enumerate(rows)}
    return tuple(
        replace(
            each,
            p_better=_better(each, better[row]),
            own_share=_said(share[row]),
            further=further.get(row),
        )
        if can_say[row]
        else each
        for row, each in enumerate(estimates)
    )


def _better(estimate: Estimate, chances: NDArray[np.float64]) -> tuple[float | None, ...]:
    said = tuple(_said(chances[_COLUMN[each.position]]) for each in estimate.positions)
    return said if any(each is not None for each in said) else ()


def _said(figure: float) -> float | None:
    """Keep a number; what is none is not said."""
    return None if np.isnan(figure) else float(figure)


def _further(ahead: MoreNights, place: int) -> FurtherNights:
    now, then, another = (
        float(np.clip(each[place], 0.0, 1.0))
        for each in (ahead.highest_now, ahead.highest_then, ahead.another)
    )
    return FurtherNights(ahead.nights, now, then, another)
