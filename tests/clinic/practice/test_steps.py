"""The way goes on after the booklet: nights, events, result, each by whom and when."""

from datetime import timedelta
from typing import Any

import pytest

from sidelong.clinic.look import StepState, WayStep
from sidelong.clinic.practice.actions import (
    ClinicianAnswer,
    Decision,
    answer_event,
    keep_nights,
    record_event,
    sign_result,
)
from sidelong.clinic.practice.answers import fingerprint_of
from sidelong.clinic.practice.evidence import evidence_of
from sidelong.clinic.practice.nights import known_nights
from sidelong.clinic.trainees.actions import WhyClosed, close_course
from sidelong.clinic.trainees.models import Course
from sidelong.clinic.trainees.pages import told_lines
from sidelong.clinic.trainees.plan_actions import hand_out_booklet
from sidelong.clinic.trainees.queries import read_record, read_records
from sidelong.clinic.trainees.way import next_step, steps_of
from sidelong.paper.sheet import Paper
from sidelong.training.position import Position
from sidelong.training.safety import Tier


@pytest.fixture
def at_home(planned: str, coach: Any, way: Any) -> str:
    hand_out_booklet(
        code=planned,
        paper=Paper.A4,
        language="en",
        now=way.NOW,
        by=coach,
        typeset=lambda template, *, page: template.encode(),
    )
    return planned


@pytest.fixture
def steps(coach: Any, way: Any) -> Any:
    """The steps of somebody by title, some evenings after the plan was issued."""

    def read(code: str, *, after: int = 0) -> dict[str, WayStep]:
        evening = way.TODAY + timedelta(days=after)
        record = read_record(code, today=way.TODAY, evening=evening, seen_by=coach)
        return {step.title: step for step in steps_of(record)}

    return read


@pytest.fixture
def write(coach: Any, way: Any, cast: Any) -> Any:
    """Write down some nights of the first course."""

    def keep(code: str, *, n: int = 14) -> None:
        course = Course.objects.get(trainee=code, number=1)
        nights = cast.invent_nights(known_nights(course).plan)[:n]
        keep_nights(code=code, course=1, nights=nights, now=way.NOW, today=way.TODAY, by=coach)

    return keep


@pytest.fixture
def sign(clinician: Any, way: Any) -> Any:
    def put(code: str) -> None:
        course = Course.objects.get(trainee=code, number=1)
        sign_result(
            code=code,
            course=1,
            seen=fingerprint_of(evidence_of(course)),
            decision=Decision.SAME_PLAN,
            position=Position.CENTRE,
            now=way.NOW,
            by=clinician,
        )

    return put


def test_after_the_booklet_come_the_nights_and_then_the_result(at_home: str, steps: Any) -> None:
    found = steps(at_home)
    assert list(found)[-2:] == ["Nights", "Result"]
    assert (found["Nights"].state, found["Result"].state) == (StepState.NEXT, StepState.LATER)
    assert found["Nights"].url == f"/trainees/{at_home}/courses/1/nights/"
    assert found["Nights"].note == "No night is written down yet."


def test_some_nights_leave_nights_next_until_the_evenings_are_over(
    at_home: str, steps: Any, write: Any, coach: Any
) -> None:
    write(at_home, n=3)
    assert steps(at_home)["Nights"].state is StepState.NEXT
    assert steps(at_home)["Nights"].note == "3 of 14 nights are written down."
    running, over = (steps(at_home, after=after) for after in (13, 14))
    assert running["Nights"].state is StepState.NEXT, "the last evening is still running"
    assert over["Nights"].state is StepState.DONE
    assert over["Nights"].by == coach.display_name
    assert over["Result"].state is StepState.NEXT


def test_without_any_night_they_stay_next_and_the_way_says_since_when(
    at_home: str, steps: Any, way: Any
) -> None:
    nights = steps(at_home, after=20)["Nights"]
    last = way.TODAY + timedelta(days=13)
    assert nights.state is StepState.NEXT
    assert f"the last evening was {last.day} {last:%B}" in nights.note


def test_all_nights_and_a_signature_are_done_by_somebody_on_a_day(
    at_home: str, steps: Any, write: Any, sign: Any, coach: Any, clinician: Any, way: Any
) -> None:
    write(at_home)
    assert steps(at_home)["Result"].state is StepState.NEXT
    sign(at_home)
    found = steps(at_home)
    assert (found["Nights"].by, found["Result"].by) == (coach.display_name, clinician.display_name)
    assert found["Result"].on == way.TODAY
    assert found["Result"].note == "Signed. Practise on, same plan: Centre."
    assert next_step(tuple(found.values())) is None


def test_what_is_written_after_a_signature_asks_for_another_one(
    at_home: str, steps: Any, write: Any, sign: Any, coach: Any, way: Any
) -> None:
    write(at_home, n=5)
    sign(at_home)
    record_event(
        code=at_home,
        course=1,
        night=2,
        tier=Tier.STOP_TONIGHT,
        position=None,
        now=way.NOW + timedelta(minutes=1),
        by=coach,
    )
    found = steps(at_home)["Result"]
    assert found.state is StepState.NEXT
    assert "changed since it was signed" in found.note


def test_an_event_that_locks_stops_the_way_until_it_is_answered(
    at_home: str, steps: Any, write: Any, coach: Any, clinician: Any, way: Any
) -> None:
    write(at_home, n=2)
    event = record_event(
        code=at_home, course=1, night=2, tier=Tier.ACT_FIRST, position=None, now=way.NOW, by=coach
    )
    found = steps(at_home)
    assert found["Events"].state is StepState.STOPPED
    assert found["Events"].action
    assert (found["Nights"].state, found["Result"].state) == (StepState.LATER, StepState.LATER)
    answer_event(
        code=at_home, event=event, answer=ClinicianAnswer.MAY_GO_ON, now=way.NOW, by=clinician
    )
    found = steps(at_home)
    assert (found["Events"].state, found["Events"].by) == (
        StepState.DONE,
        clinician.display_name,
    )
    assert found["Nights"].state is StepState.NEXT


def test_a_booklet_that_was_never_made_is_shown_as_skipped(
    planned: str, steps: Any, write: Any
) -> None:
    write(planned)
    assert steps(planned)["Booklet"].state is StepState.SKIPPED


def test_of_a_closed_course_nothing_is_next_and_what_was_left_out_stays_visible(
    at_home: str, steps: Any, write: Any, coach: Any, way: Any
) -> None:
    write(at_home, n=4)
    close_course(code=at_home, why=WhyClosed.LOST, now=way.NOW, by=coach)
    found = steps(at_home, after=60)
    assert next_step(tuple(found.values())) is None
    assert found["Result"].state is StepState.SKIPPED


def test_a_decision_that_ends_after_the_evenings_does_not_come_back_as_next(
    at_home: str, coach: Any, write: Any, way: Any
) -> None:
    write(at_home)
    later = way.TODAY + timedelta(days=80)
    record = read_record(at_home, today=later, seen_by=coach)
    found = {step.title: step for step in steps_of(record)}
    assert found["Clinician's decision"].state is StepState.DONE
    assert "a new one comes before anybody" in found["Clinician's decision"].note
    assert found["Result"].state is StepState.NEXT


def test_a_decision_that_ends_while_evenings_run_is_next(
    at_home: str, coach: Any, way: Any
) -> None:
    later = way.TODAY + timedelta(days=80)
    record = read_record(at_home, today=later, evening=way.TODAY, seen_by=coach)
    assert next_step(steps_of(record)).title == "Clinician's decision"


def test_the_list_of_all_trainees_asks_for_all_ways_at_once(
    at_home: str, coach: Any, clinician: Any, way: Any
) -> None:
    def n_queries() -> int:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as captured:
            told_lines(read_records(today=way.TODAY, seen_by=coach))
        return len(captured)

    few = n_queries()
    for nth in range(1, 5):
        code = way.refer(coach, nth=nth)
        way.clear(code, clinician)
        way.visit(code, coach)
        way.issue(code, coach)
    assert n_queries() <= few + 2


def test_a_course_is_closed_in_the_browser_and_says_why(
    at_home: str, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    assert f"/trainees/{at_home}/close/" in browser.get(f"/trainees/{at_home}/").content.decode()
    refused = browser.post(f"/trainees/{at_home}/close/", {"why": ""}).content.decode()
    assert "One thing to put right" in refused
    browser.post(f"/trainees/{at_home}/close/", {"why": "lost"})
    assert Course.objects.get(trainee=at_home).why_closed == WhyClosed.LOST
    assert "begins with a" in browser.get(f"/trainees/{at_home}/").content.decode()
    again = browser.get(f"/trainees/{at_home}/close/").content.decode()
    assert "No course is open." in again


def test_one_night_is_said_as_one(at_home: str, steps: Any, write: Any) -> None:
    write(at_home, n=1)
    assert steps(at_home)["Nights"].note == "1 of 14 nights is written down."
