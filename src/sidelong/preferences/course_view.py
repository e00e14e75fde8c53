"""All that a result page shows of a course, from one search for all modes side by side.

The answer rests on every point of the hyperparameters. Its charts (every night looking back, and
what would have been said earlier) rest on some of them, chosen evenly by means and spreads: an
average over fewer points of the same cohort.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sidelong.preferences.courses import BoolArray, Courses, FloatArray, IntArray
from sidelong.preferences.estimate import (
    ARRIVED,
    CHUNK,
    NightTraces,
    PreferenceEstimates,
    conclude_answers,
    conclude_traces,
    join,
)
from sidelong.preferences.hyperparameters import DEFAULT, HyperparameterMixture, Shared, mix
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.outlook import average_information
from sidelong.preferences.ratings import CHART
from sidelong.preferences.skewness import centre_on_mean

CHART_POINTS = 8
"""Points that charts rest on: chances 0.01 away from those under all points, on average."""


@dataclass(frozen=True, eq=False)
class CourseView:
    """What a result page shows of n trainees.

    Parameters
    ----------
    answers : PreferenceEstimates
        For the night after the plan.
    earlier : tuple of PreferenceEstimates
        What would have been said after each night asked for.
    traces : NightTraces
        Every night, looking back.
    telling : ndarray of float, shape (n_trainees, 5, 5)
        What one practised night says on average, see :func:`average_night`.
    """

    answers: PreferenceEstimates
    earlier: tuple[PreferenceEstimates, ...]
    traces: NightTraces
    telling: FloatArray


def view_courses(
    courses: Courses,
    nights: Sequence[int],
    *,
    hyperparameters: Shared = DEFAULT,
    open_to: BoolArray | None = None,
) -> CourseView:
    """Answer, look back and look at what was known earlier, all at once.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    nights : sequence of int
        Nights after which it is asked what would have been said.
    hyperparameters : Hyperparameters or HyperparameterMixture
        Held fixed, or averaged over.
    open_to : ndarray of bool, shape (n_trainees, 5), optional
        Positions that may be suggested; all allowed ones where it is not given.

    Returns
    -------
    CourseView
        The answers are those of :func:`estimate_preferences`.
    """
    shared = mix(hyperparameters)
    chosen = choose_points(shared)
    fewer = _some_points(shared, chosen)
    columns = len(shared.points) + len(nights) * chosen.size
    size = max(1, CHUNK // columns)
    may = courses.allowed if open_to is None else open_to
    starts = range(0, max(courses.n_trainees, 1), size)
    parts = [
        _view(courses.take(rows), nights, shared, chosen=chosen, fewer=fewer, open_to=may[rows])
        for rows in (slice(start, start + size) for start in starts)
    ]
    return CourseView(
        answers=join([part.answers for part in parts]),
        earlier=tuple(
            join([part.earlier[place] for part in parts]) for place in range(len(nights))
        ),
        traces=join([part.traces for part in parts]),
        telling=np.concatenate([part.telling for part in parts]),
    )


def choose_points(shared: HyperparameterMixture) -> IntArray:
    """Choose the points that charts rest on, evenly over what matters most to them.

    Those where positions are alike on average come first, and within each kind those with the
    smallest differences between positions: an even choice holds some of everything.

    Parameters
    ----------
    shared : HyperparameterMixture
        All points.

    Returns
    -------
    ndarray of int
        Places of at most ``CHART_POINTS`` of them.
    """
    points = shared.points
    if len(points) <= CHART_POINTS:
        return np.arange(len(points))
    spreads, drifts = np.array([(point.spread_sd, point.drift_sd) for point in points]).T
    order = np.lexsort((drifts, spreads, [any(point.position_means) for point in points]))
    middles = (np.arange(CHART_POINTS) + 0.5) / CHART_POINTS
    reached = np.cumsum(np.array(shared.weights)[order])
    places: IntArray = order[np.searchsorted(reached, middles)]
    return places


def _some_points(shared: HyperparameterMixture, chosen: IntArray) -> HyperparameterMixture:
    if chosen.size == len(shared.points):
        return shared
    points = tuple(shared.points[place] for place in chosen)
    return HyperparameterMixture(points, (1.0 / chosen.size,) * chosen.size)


def _view(
    courses: Courses,
    nights: Sequence[int],
    shared: HyperparameterMixture,
    *,
    chosen: IntArray,
    fewer: HyperparameterMixture,
    open_to: BoolArray,
) -> CourseView:
    """Put answer and earlier answers side by side, search once, and part them again."""
    n, m, u = courses.n_trainees, len(shared.points), len(nights)
    evidence = prepare_evidence(courses, shared.points)
    before = courses.take(np.tile(np.arange(n), u)).until(np.repeat(np.asarray(nights, int), n))
    if u:
        evidence = evidence.beside(prepare_evidence(before, fewer.points))
    posterior = centre_on_mean(
        find_mode(evidence, tolerance=ARRIVED, measure_again=False), evidence
    )
    whole = posterior.take(slice(0, m * n))
    of_charts = (chosen[:, None] * n + np.arange(n)).ravel()
    in_the_middle = shared.middle * n + np.arange(n)
    earlier: tuple[PreferenceEstimates, ...] = ()
    if u:
        every = conclude_answers(
            posterior.take(slice(m * n, None)),
            before,
            shared=fewer,
            open_to=np.tile(open_to, (u, 1)),
            detail=CHART,
        )
        earlier = tuple(every.take(slice(k * n, (k + 1) * n)) for k in range(u))
    return CourseView(
        answers=conclude_answers(whole, courses, shared=shared, open_to=open_to),
        earlier=earlier,
        traces=conclude_traces(whole.take(of_charts), courses, shared=fewer),
        telling=average_information(whole.take(in_the_middle), courses),
    )
