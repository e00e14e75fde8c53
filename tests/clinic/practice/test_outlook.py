"""What follows from an answer: on the page where it may be, kept with what is signed and locked."""

import json
from dataclasses import replace
from typing import Any

import pytest

from sidelong.clinic.practice.actions import Decision, sign_result
from sidelong.clinic.practice.answers import Answer, answer, fingerprint_of
from sidelong.clinic.practice.evidence import answer_now, evidence_of
from sidelong.clinic.practice.locks import answer_of, lock_holds
from sidelong.clinic.practice.models import Result
from sidelong.clinic.practice.queries import signed_result
from sidelong.clinic.practice.snapshot import canonical
from sidelong.clinic.practice.typed import TypedCell
from sidelong.clinic.practice.up_actions import sign_off_up, withdraw_up
from sidelong.training.estimate import Estimate, Verdict
from sidelong.training.position import Position

MORE = "What 7 more evenings might change"


@pytest.fixture
def at(cast: Any) -> str:
    return f"/trainees/{cast.CODE}/courses/1"


@pytest.fixture
def few_nights(course: Any, plan: Any, keep: Any, cast: Any) -> Any:
    keep(cast.invent_nights(plan)[:4])
    return course


@pytest.fixture
def up_is_best(course: Any, plan: Any, keep: Any, cast: Any) -> Any:
    """Fourteen nights on which nothing but up went down well."""
    nights = []
    for night in cast.invent_nights(plan):
        cells = tuple(
            TypedCell("5", "first") if position is Position.UP else TypedCell("2", "later")
            for position in plan.nights[night.night - 1].order
        )
        nights.append(replace(night, cells=cells, felt_best="up"))
    keep(nights)
    return course


def test_an_open_answer_shows_what_more_evenings_might_change(
    few_nights: Any, at: str, coach: Any, signed_in: Any
) -> None:
    page = signed_in(coach).get(f"{at}/result/")
    estimate, text = page.context["estimate"], page.content.decode()
    assert estimate.verdict is Verdict.INSUFFICIENT
    assert estimate.further is not None
    assert f"<summary>{MORE}</summary>" in text
    assert "How firm the answer is" in text
    for cell in page.context["report"].outlook.rows[0]:
        assert cell in text


def test_a_settled_answer_does_not_ask_for_more_evenings(
    up_is_best: Any, at: str, coach: Any, clinician: Any, signed_in: Any, cast: Any
) -> None:
    sign_up(clinician, cast)
    page = signed_in(coach).get(f"{at}/result/")
    assert page.context["estimate"].verdict is Verdict.CLEAR
    assert page.context["estimate"].further is None
    assert MORE not in page.content.decode()
    assert "The chance that it is easier for you than Centre is" in page.content.decode()


def sign_up(clinician: Any, cast: Any, *, day: Any = None) -> None:
    told = {"role": "swallowing specialist", "reason": "seen at the visit"}
    sign_off_up(code=cast.CODE, course=1, **told, now=day or cast.NOW, by=clinician)


def test_page_and_report_name_who_signed_for_up(
    up_is_best: Any, at: str, coach: Any, clinician: Any, signed_in: Any, cast: Any
) -> None:
    browser = signed_in(coach)
    protocol = "That Up may be practised here was signed by Invented Specialist"
    person = f"That Up may be suggested to this person was signed by {clinician.display_name}"
    before = browser.get(f"{at}/result/").content.decode()
    assert protocol in before
    assert person not in before
    sign_up(clinician, cast)
    after = browser.get(f"{at}/result/").content.decode()
    # Beside the verdict, and once more under the cautions.
    assert after.count(person) == 2
    assert protocol in after


def test_what_was_signed_keeps_its_figures_and_names(
    up_is_best: Any, clinician: Any, cast: Any
) -> None:
    sign_up(clinician, cast)
    evidence = evidence_of(up_is_best)
    sign_result(
        code=cast.CODE,
        course=1,
        seen=fingerprint_of(evidence),
        decision=Decision.SAME_PLAN,
        position=None,
        now=cast.NOW,
        by=clinician,
    )
    withdraw_up(code=cast.CODE, course=1, reason="a new sign", now=cast.NOW, by=clinician)
    kept = signed_result(cast.CODE, 1, 1, seen_by=clinician).answer
    assert kept.evidence.up_sign_off is not None
    assert kept.evidence.up_sign_off.name == clinician.display_name
    assert kept.estimate == answer_now(evidence).estimate
    assert kept.estimate.better_than_centre(Position.UP) is not None
    assert evidence_of(up_is_best).up_sign_off is None


def test_a_lock_keeps_what_was_expected_of_more_evenings(
    course: Any, plan: Any, keep: Any, at: str, coach: Any, signed_in: Any, cast: Any
) -> None:
    keep(cast.invent_nights(plan, seed=8))
    said = signed_in(coach).get(f"{at}/result/").context["estimate"]
    (row,) = course.locks.all()
    assert answer_of(row).estimate == said
    assert said.own_share is not None
    assert lock_holds(row)


def test_answers_kept_before_can_still_be_read(few_nights: Any) -> None:
    """What was kept knows neither these figures nor the name of a signer."""
    said = answer(evidence_of(few_nights))
    plain = json.loads(said.content)
    for name in ("p_better", "own_share", "further"):
        del plain["estimate"][name]
    del plain["evidence"]["up_sign_off"]
    old = Answer.from_content(plain)
    assert (old.estimate.p_better, old.estimate.own_share, old.estimate.further) == ((), None, None)
    assert old.evidence.up_sign_off is None
    assert old.estimate.positions == said.estimate.positions


def test_what_is_kept_holds_no_number_that_is_none(few_nights: Any) -> None:
    said = answer(evidence_of(few_nights))
    assert isinstance(said.estimate, Estimate)
    assert said.estimate.p_better[2] is None
    assert canonical(json.loads(said.content)) == said.content
    assert not Result.objects.exists()
