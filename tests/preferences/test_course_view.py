"""All of a result page from one search: the same answers as one by one."""

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    HyperparameterMixture,
    Hyperparameters,
    estimate_earlier,
    estimate_preferences,
    simulate_courses,
    trace_nights,
    view_courses,
)
from sidelong.preferences.course_view import CHART_POINTS, choose_points

NIGHTS = (3, 7, 10)


@pytest.fixture(scope="module")
def courses() -> Courses:
    rng = np.random.default_rng(11)
    orders = np.argsort(rng.random((7, 14, 5)), axis=2)
    conduct = Conduct(missing_night=0.2)
    return simulate_courses(orders, hyperparameters=DEFAULT, rng=rng, conduct=conduct).courses


@pytest.fixture(scope="module")
def mixture() -> HyperparameterMixture:
    rng = np.random.default_rng(12)
    points = tuple(
        Hyperparameters(
            spread_sd=float(0.8 * np.exp(0.3 * rng.normal())),
            drift_sd=float(0.12 * np.exp(0.3 * rng.normal())),
            learning_rate=float(rng.choice([0.0, 0.2])),
        )
        for _ in range(64)
    )
    return HyperparameterMixture(points, (1 / 64,) * 64)


def test_under_one_point_everything_is_what_it_is_one_by_one(courses) -> None:
    view = view_courses(courses, NIGHTS)
    for found, alone in zip(
        (view.answers, *view.earlier),
        (estimate_preferences(courses), *estimate_earlier(courses, NIGHTS)),
        strict=True,
    ):
        np.testing.assert_allclose(found.p_best, alone.p_best, atol=1e-6)
        np.testing.assert_allclose(found.expected_rating, alone.expected_rating, atol=1e-4)
    traces = trace_nights(courses)
    np.testing.assert_allclose(view.traces.ease, traces.ease, atol=1e-5)
    np.testing.assert_allclose(view.traces.lower, traces.lower, atol=1e-5)


def test_the_answer_rests_on_every_point_and_charts_on_some(courses, mixture) -> None:
    view = view_courses(courses, NIGHTS, hyperparameters=mixture)
    whole = estimate_preferences(courses, hyperparameters=mixture)
    np.testing.assert_allclose(view.answers.p_best, whole.p_best, atol=1e-5)
    np.testing.assert_allclose(view.answers.lower, whole.lower, atol=1e-5)
    earlier = estimate_earlier(courses, NIGHTS, hyperparameters=mixture)
    for some, every in zip(view.earlier, earlier, strict=True):
        away = np.abs(some.p_best - every.p_best)
        assert 0 < away.max() < 0.03
        assert away.mean() < 0.006
    every_night = trace_nights(courses, hyperparameters=mixture)
    assert np.nanmax(np.abs(view.traces.expected_rating - every_night.expected_rating)) < 0.07


def test_points_of_charts_reach_from_small_to_large_differences(mixture) -> None:
    chosen = choose_points(mixture)
    assert chosen.size == len(set(chosen.tolist())) == CHART_POINTS
    spreads = np.array([point.spread_sd for point in mixture.points])
    assert np.median(spreads[chosen]) == pytest.approx(np.median(spreads), rel=0.1)
    few = HyperparameterMixture(mixture.points[:3], (0.5, 0.25, 0.25))
    assert choose_points(few).tolist() == [0, 1, 2]


def test_many_trainees_in_groups_are_the_same_as_alone(courses, mixture) -> None:
    whole = view_courses(courses, (7,), hyperparameters=mixture)
    last = view_courses(courses.take(slice(6, 7)), (7,), hyperparameters=mixture)
    np.testing.assert_allclose(whole.answers.p_best[6:], last.answers.p_best, atol=1e-7)
    np.testing.assert_allclose(whole.earlier[0].p_best[6:], last.earlier[0].p_best, atol=1e-7)


def test_without_an_earlier_night_there_is_none(courses) -> None:
    assert view_courses(courses, ()).earlier == ()
