"""Entries become arrays, and numbers become an estimate."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.pathway import estimates
from sidelong.pathway.estimates import (
    LOOKING_BACK,
    PractisedCourse,
    estimate_courses,
    gather_courses,
    to_courses,
)
from sidelong.preferences import FIRST, NO, chance_best, estimate_preferences
from sidelong.training.entry import Entry, EntryRow, Scale, WentDown, WhyNot
from sidelong.training.estimate import Verdict
from sidelong.training.plan import Night, Plan
from sidelong.training.position import ALL_POSITIONS

D, L, C, R, U = ALL_POSITIONS


def night_of(number, *, ratings, trainee="HL-1", best=None, went=WentDown.FIRST, **more):
    rows = tuple(
        EntryRow(slot, position, 5.0, rating, went)
        for slot, (position, rating) in enumerate(ratings.items(), start=1)
    )
    return Entry(trainee, number, rows, felt_best=best, **more)


def course_of(*entries, positions=ALL_POSITIONS, nights=14, trainee="HL-1", scale=Scale.FIVE):
    return PractisedCourse(trainee, positions, nights, scale, tuple(entries))


def steady_course(best=L, nights=14, **more):
    ratings = {position: 5 if position is best else 2 for position in ALL_POSITIONS}
    entries = [night_of(k + 1, ratings=ratings, best=best) for k in range(nights)]
    return course_of(*entries, **more)


def test_cells_hold_what_was_recorded_and_what_came_before():
    failed = EntryRow(1, R, 5.0, 1, WentDown.NO, WhyNot.SPAT_OUT)
    entry = Entry("HL-1", 2, (failed, EntryRow(2, D, 6.0, 4, WentDown.FIRST)), felt_best=D)
    courses = to_courses([course_of(entry)])
    assert courses.slot[0, 1].tolist() == [2, 0, 0, 1, 0]
    assert courses.rating[0, 1].tolist() == [4, 0, 0, 1, 0]
    assert courses.went_down[0, 1].tolist() == [FIRST, 0, 0, NO, 0]
    assert courses.previous[0, 1].tolist() == [3, -1, -1, -1, -1]
    assert courses.previous_failed[0, 1].tolist() == [True, False, False, False, False]
    assert courses.felt_best[0].tolist() == [-1, 0] + [-1] * 12
    assert courses.nights_used.tolist() == [1]


def test_piece_that_was_not_tried_did_not_fail():
    rows = (
        EntryRow(1, R, 5.0, 1, WentDown.NO, WhyNot.REFUSED),
        EntryRow(2, D, 5.0, None, WentDown.NO, WhyNot.NOT_TRIED),
    )
    courses = to_courses([course_of(Entry("HL-1", 1, rows))])
    assert courses.slot[0, 0].tolist() == [0, 0, 0, 1, 0]
    assert courses.went_down[0, 0].tolist() == [0, 0, 0, NO, 0]


def test_row_in_a_position_outside_the_plan_is_left_out():
    entry = night_of(1, ratings={U: 5, C: 3})
    courses = to_courses([course_of(entry, positions=(D, L, C))])
    assert courses.rating[0, 0].tolist() == [0, 0, 3, 0, 0]


def test_steady_favourite_gets_a_clear_verdict_and_is_suggested():
    (estimate,) = estimate_courses([steady_course(best=L)])
    assert (estimate.verdict, estimate.suggested) == (Verdict.CLEAR, L)
    assert sum(each.p_best for each in estimate.positions) == pytest.approx(1)
    assert [each.night for each in estimate.earlier] == list(LOOKING_BACK)
    assert len(estimate.nights) == 14 * 5


def test_position_with_a_safety_event_is_never_suggested():
    (estimate,) = estimate_courses([steady_course(best=L)], barred={"HL-1": frozenset({L})})
    assert estimate.suggested is not L
    assert [each.position for each in estimate.positions if not each.may_recommend] == [L, U]


def test_up_is_suggested_only_when_that_was_signed_off():
    (without,) = estimate_courses([steady_course(best=U)])
    (signed,) = estimate_courses([steady_course(best=U)], up_signed_off=True)
    assert without.suggested is not U
    assert signed.suggested is U


@pytest.mark.parametrize("closed", [U, L])
def test_chances_of_being_ahead_are_those_the_verdict_rests_on(closed):
    ratings = {D: 3, L: 5, C: 4, R: 2, U: 5}
    course = course_of(*[night_of(k, ratings=ratings, best=C) for k in range(1, 9)])
    barred = {"HL-1": frozenset({L})} if closed is L else {}
    (estimate,) = estimate_courses([course], barred=barred, up_signed_off=closed is not U)

    # Closed positions must count as if they had never been compared: the engine's own answer
    # for the same evenings, compared among fewer.
    answers = estimate_preferences(to_courses([course]))
    open_to = np.array([[each is not closed for each in ALL_POSITIONS]])
    blurred = answers.covariance + 0.1**2 * np.eye(5)
    among_open = chance_best(answers.ease, blurred, allowed=open_to)[0]

    shown = [each.chance_ahead for each in estimate.positions]
    np.testing.assert_allclose(shown, among_open, atol=1e-5)
    assert sum(shown) == pytest.approx(1)
    assert shown[ALL_POSITIONS.index(closed)] == 0
    assert max(shown) > max(each.p_best for each in estimate.positions if each.may_recommend)
    assert all(sum(each.chances_ahead) == pytest.approx(1) for each in estimate.earlier)


def test_trainee_without_a_night_gets_the_prior_and_no_answer():
    (estimate,) = estimate_courses([course_of()])
    assert estimate.verdict is Verdict.INSUFFICIENT
    assert estimate.nights_used == 0
    np.testing.assert_allclose([each.p_best for each in estimate.positions], 0.2, atol=0.05)


@pytest.mark.parametrize("n_positions", [1, 2, 3, 4])
def test_chances_are_those_of_the_positions_that_may_be_used(n_positions):
    positions = ALL_POSITIONS[:n_positions]
    ratings = dict.fromkeys(positions, 4)
    entries = [night_of(k, ratings=ratings) for k in (1, 2, 3, 5)]
    (estimate,) = estimate_courses([course_of(*entries, positions=positions)])
    assert tuple(each.position for each in estimate.positions) == positions
    assert sum(each.p_best for each in estimate.positions) == pytest.approx(1)


def plan_of(positions=ALL_POSITIONS, *, trainee="HL-1", nights=14, course=1, version=1):
    return Plan(trainee, (Night(positions, 5.0),) * nights, course=course, version=version)


def test_plan_says_which_positions_and_nights_count():
    entries = [night_of(1, ratings={D: 3, C: 4})]
    (course,) = gather_courses(entries, plans=[plan_of((D, C), nights=7)])
    assert (course.positions, course.nights_planned) == ((D, C), 7)


def test_last_plan_version_of_the_last_course_counts_and_its_old_nights_are_kept():
    plans = [plan_of(), plan_of((D, C), version=2), plan_of((D, L), trainee="HL-2", course=2)]
    entries = [
        night_of(1, ratings={D: 3, U: 1}),
        night_of(5, ratings={D: 3, C: 4}, version=2),
        night_of(1, ratings={D: 3}, trainee="HL-2", course=1),
    ]
    first, second = gather_courses(entries, plans=plans)
    assert first.positions == (D, C)
    assert [entry.night for entry in first.entries] == [1, 5]
    assert second.entries == ()


def test_without_a_plan_the_rows_say_which_positions_there_are():
    entries = [night_of(9, ratings={L: 3, C: 4}), night_of(2, ratings={R: 3}, trainee="HL-2")]
    first, second = gather_courses(entries)
    assert (first.positions, second.positions) == ((L, C), (R,))
    assert first.nights_planned == second.nights_planned == 10


def test_form_used_on_most_nights_is_the_form_of_the_course():
    entries = [night_of(k, ratings={D: 2}, scale=Scale.FOUR) for k in (1, 2)]
    entries.append(night_of(3, ratings={D: 2}))
    (course,) = gather_courses(entries)
    assert course.scale is Scale.FOUR


def test_an_answer_that_could_not_be_put_right_says_so(monkeypatch):
    real = estimates.mend_estimates

    def doubt(*args, **more):
        held = real(*args, **more)
        return replace(held, is_trusted=np.zeros_like(held.is_trusted))

    course = steady_course()
    assert estimate_courses([course])[0].is_trusted
    monkeypatch.setattr(estimates, "mend_estimates", doubt)
    assert not estimate_courses([course])[0].is_trusted
