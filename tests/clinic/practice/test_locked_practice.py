"""While practice is locked after an event, nothing that leads to practice is given out."""

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.practice.actions import ClinicianAnswer, answer_event, record_event
from sidelong.clinic.trainees.models import BookletRow, PlanRow, VisitRow
from sidelong.clinic.trainees.plan_actions import hand_out_booklet, issue_plan, take_over_plan
from sidelong.clinic.trainees.queries import read_record
from sidelong.paper.sheet import Paper
from sidelong.problems import Refused
from sidelong.training.position import ALL_POSITIONS
from sidelong.training.safety import Tier

LOCKED = "practice is locked after an event. A clinician answers the event first."


def fake_pdf(template: str, *, page: Any) -> bytes:
    return f"{template} {page['code']}".encode()


@pytest.fixture
def tell(coach: Any, way: Any) -> Callable[..., int]:
    """Record an event, by default one that locks."""

    def record(code: str, tier: Tier = Tier.ACT_FIRST) -> int:
        return record_event(
            code=code, course=1, night=2, tier=tier, position=None, now=way.NOW, by=coach
        )

    return record


@pytest.fixture
def locked(planned: str, tell: Callable[..., int]) -> str:
    tell(planned)
    return planned


@pytest.fixture
def verbs(way: Any, coach: Any) -> dict[str, Callable[[str], Any]]:
    """Everything that gives something out for practice; a bigger piece was seen before."""

    def bigger(code: str) -> int:
        way.visit(code, coach, piece="bead-5", release=False)
        return way.visit(code, coach, piece="bead-5")

    return {
        "booklet": lambda code: hand_out_booklet(
            code=code, paper=Paper.A4, language="en", now=way.NOW, by=coach, typeset=fake_pdf
        ),
        "next plan": lambda code: issue_plan(code=code, now=way.NOW, by=coach),
        "plan of the command": lambda code: take_over_plan(
            plan=way.plan_elsewhere(code), now=way.NOW, by=coach
        ),
        "bigger piece": bigger,
    }


@pytest.mark.parametrize("name", ["booklet", "next plan", "plan of the command", "bigger piece"])
def test_nothing_is_given_out_while_an_event_waits(name: str, locked: str, verbs: Any) -> None:
    n_before = (PlanRow.objects.count(), BookletRow.objects.count())
    with pytest.raises(Refused) as refusal:
        verbs[name](locked)
    assert f"trainee {locked}: {LOCKED}" in [str(each) for each in refusal.value.problems]
    assert (PlanRow.objects.count(), BookletRow.objects.count()) == n_before
    assert not VisitRow.objects.filter(piece="bead-5", released=True).exists()


def test_what_was_seen_at_a_visit_is_recorded_all_the_same(
    locked: str, way: Any, coach: Any
) -> None:
    assert way.visit(locked, coach, release=False) == 2


def test_all_of_it_goes_on_once_a_clinician_has_answered(
    planned: str, tell: Any, verbs: Any, clinician: Any, way: Any
) -> None:
    event = tell(planned)
    answer_event(
        code=planned, event=event, answer=ClinicianAnswer.MAY_GO_ON, now=way.NOW, by=clinician
    )
    assert verbs["booklet"](planned)
    assert verbs["bigger piece"](planned) == 3
    assert verbs["next plan"](planned) == 2


def test_an_answer_that_practice_stays_stopped_keeps_the_lock(
    planned: str, tell: Any, verbs: Any, clinician: Any, way: Any, signed_in: Any
) -> None:
    event = tell(planned)
    answer_event(
        code=planned, event=event, answer=ClinicianAnswer.STAYS_STOPPED, now=way.NOW, by=clinician
    )
    with pytest.raises(Refused, match="practice is locked"):
        verbs["booklet"](planned)
    at = f"/trainees/{planned}/courses/1/events/"
    browser = signed_in(clinician)
    assert "Record my answer" in browser.get(at).content.decode(), "it can still be answered"
    browser.post(f"{at}{event}/answer/", {"answer": "may_go_on"})
    assert verbs["booklet"](planned)


@pytest.mark.parametrize("tier", [Tier.PAUSE, Tier.STOP_TONIGHT])
def test_a_milder_event_locks_nothing(planned: str, tell: Any, verbs: Any, tier: Tier) -> None:
    tell(planned, tier)
    assert verbs["booklet"](planned)


def test_an_event_of_an_earlier_course_locks_the_next_one_too(
    locked: str, verbs: Any, way: Any, make_staff: Any
) -> None:
    from sidelong.clinic.trainees.actions import WhyClosed, close_course, open_course

    lead = make_staff(Role.LEAD, username="second lead")
    close_course(code=locked, why=WhyClosed.FINISHED, now=way.NOW, by=lead)
    open_course(code=locked, now=way.NOW, by=lead)
    with pytest.raises(Refused, match="practice is locked"):
        verbs["next plan"](locked)


def test_an_event_that_comes_while_pages_are_set_stops_the_booklet(
    planned: str, tell: Any, way: Any, coach: Any
) -> None:
    def slow(template: str, *, page: Any) -> bytes:
        tell(planned)
        return fake_pdf(template, page=page)

    with pytest.raises(Refused, match="practice is locked"):
        hand_out_booklet(
            code=planned, paper=Paper.A4, language="en", now=way.NOW, by=coach, typeset=slow
        )
    assert not BookletRow.objects.exists()


def test_the_trainees_pages_say_it_and_offer_nothing_that_is_refused(
    locked: str, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    page = browser.get(f"/trainees/{locked}/plan/").content.decode()
    assert "Practice is locked" in page
    assert "Make the booklet" not in page
    assert "Issue a new version" not in page
    assert f"/trainees/{locked}/courses/1/events/" in page
    sent = browser.post(f"/trainees/{locked}/booklet/", {"paper": "a4", "language": "en"})
    assert "practice is locked after an event" in sent.content.decode()
    assert "Practice is locked" in browser.get(f"/trainees/{locked}/").content.decode()
    record = read_record(locked, today=timezone.localdate(), seen_by=coach)
    assert record is not None
    assert record.is_locked
    assert len(ALL_POSITIONS) == len(record.plan.plan.positions), "the plan itself stays as it was"
