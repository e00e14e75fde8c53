"""Answers and decisions: kept as given, and sorted as the command sorts them."""

from dataclasses import replace
from datetime import timedelta
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from sidelong.cli.application import run
from sidelong.clinic.accounts.people import NotPermitted, Operator
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.queries import links_about
from sidelong.clinic.trainees.actions import answer_questions, decide, write_referral
from sidelong.clinic.trainees.loading import load_files
from sidelong.clinic.trainees.models import AnswerRow, DecisionRow
from sidelong.clinic.trainees.queries import latest_referral, read_record
from sidelong.clinic.trainees.standing import stand
from sidelong.exchange.files import write_text
from sidelong.exchange.protocols import read_demo_protocol, write_protocol
from sidelong.exchange.readiness import read_readiness, write_readiness, write_reasons
from sidelong.exchange.referrals import write_decisions, write_referrals
from sidelong.pathway.enrolling import simulation_rng
from sidelong.pathway.invented_referrals import draw_decisions, draw_referrals
from sidelong.problems import Refused
from sidelong.training.gates import Answer
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.readiness import Readiness
from sidelong.training.referral import Decided


def test_an_answer_given_later_counts_and_the_earlier_one_stays(
    referred: str, coach: Any, cast: Any
) -> None:
    for answer in (Answer.UNKNOWN, Answer.YES):
        given = {"diabetes": answer}
        answer_questions(code=referred, answers=given, now=cast.NOW, by=coach)
    latest = latest_referral(referred, seen_by=coach)
    assert latest is not None
    assert latest.answers["diabetes"] is Answer.YES
    assert list(AnswerRow.objects.values_list("answer", flat=True)) == ["unknown", "yes"]


def test_the_trail_says_what_was_answered_but_not_how(referred: str, coach: Any, cast: Any) -> None:
    given = {"diabetes": Answer.YES}
    answer_questions(code=referred, answers=given, now=cast.NOW, by=coach)
    last = list(links_about(f"trainee:{referred}"))[-1]
    assert "diabetes" in last.detail
    assert "yes" not in last.detail


def test_an_answer_to_no_question_is_refused(referred: str, coach: Any, cast: Any) -> None:
    for given in ({"shoe_size": Answer.YES}, {}):
        with pytest.raises(Refused):
            answer_questions(code=referred, answers=given, now=cast.NOW, by=coach)


def test_nobody_is_ready_for_a_plan_without_a_decision(referred: str, cast: Any) -> None:
    standing = stand(referred, today=cast.TODAY)
    assert standing.sorted_referral.readiness is Readiness.READY
    assert not standing.may_visit
    assert [gap.part for gap in standing.gaps] == ["decision"]


def test_a_decision_comes_back_as_it_was_made(referred: str, clinician: Any, cast: Any) -> None:
    made = cast.decision(
        referred,
        "diabetes",
        decided=Decided.GO_WITH_LIMITS,
        takes_out=frozenset({Position.DOWN}),
        max_piece_mm=5.5,
        water_ml=120.0,
    )
    decide(decision=made, now=cast.NOW, by=clinician)
    record = read_record(referred, today=cast.TODAY, seen_by=clinician)
    assert record is not None
    assert [each.decision for each in record.decisions] == [made]


def test_the_reason_stays_out_of_the_trail(referred: str, clinician: Any, cast: Any) -> None:
    cast.clear(referred, clinician, reason="planted words")
    details = " ".join(link.detail for link in links_about(f"trainee:{referred}"))
    assert "planted" not in details
    assert cast.END.isoformat() in details


def test_a_decision_lifts_only_what_its_gate_leaves_open(
    referred: str, clinician: Any, cast: Any
) -> None:
    lifting = frozenset({IngredientLimit.NO_SUGAR})
    with pytest.raises(Refused, match="does not leave open"):
        cast.clear(referred, clinician, gate="swallowing_difficulty", lifts=lifting)


def test_a_decision_is_not_dated_ahead(referred: str, clinician: Any, cast: Any) -> None:
    ahead = cast.TODAY + timedelta(days=1)
    with pytest.raises(Refused, match="after today"):
        cast.clear(referred, clinician, decided_on=ahead)


def test_a_coach_and_a_lead_decide_nothing(referred: str, coach: Any, lead: Any, cast: Any) -> None:
    for person in (coach, lead):
        with pytest.raises(NotPermitted, match="decide about practice"):
            cast.clear(referred, person)
    assert not DecisionRow.objects.exists()


def test_an_illness_after_the_decision_opens_it_again(decided: str, coach: Any, cast: Any) -> None:
    before = latest_referral(decided, seen_by=coach)
    assert before is not None
    changed = replace(before, last_change=cast.TODAY + timedelta(days=1))
    write_referral(referral=changed, now=cast.NOW, by=coach)
    assert stand(decided, today=cast.TODAY).may_visit is False


def test_a_decision_ends_with_its_day(decided: str, cast: Any) -> None:
    assert stand(decided, today=cast.END).may_visit
    assert not stand(decided, today=cast.END + timedelta(days=1)).may_visit


@pytest.mark.parametrize("fields", [{"decided_by": ""}, {"reason": ""}, {"role": ""}])
def test_the_database_refuses_a_decision_of_nobody(
    fields: dict[str, str], decided: str, cast: Any
) -> None:
    row = DecisionRow.objects.get()
    row.pk = None
    for name, value in fields.items():
        setattr(row, name, value)
    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        act("x", by=Operator(), subject="x"),
    ):
        row.save()


def test_a_site_without_a_protocol_sorts_nobody(coach: Any, cast: Any) -> None:
    code = cast.refer(coach)
    with pytest.raises(Refused, match="no protocol was taken into use"):
        stand(code, today=cast.TODAY)


@pytest.fixture
def folder(tmp_path: Path, cast: Any) -> Path:
    """The files of an invented clinic, as the commands read them."""
    protocol = read_demo_protocol()
    rng = simulation_rng("11", purpose="referrals")
    referrals = draw_referrals(40, protocol=protocol, prefix="QS", today=cast.TODAY, rng=rng)
    decisions = draw_decisions(referrals, protocol=protocol, today=cast.TODAY, rng=rng)
    write_protocol(tmp_path / "protocol.toml", protocol)
    write_referrals(tmp_path / "referrals.csv", referrals, answers=tmp_path / "answers.csv")
    write_decisions(tmp_path / "decisions.csv", decisions)
    ladder = (files("sidelong.exchange") / "demo_ladder.csv").read_text(encoding="utf-8")
    write_text(tmp_path / "ladder.csv", ladder)
    return tmp_path


def test_readiness_is_the_same_by_command_and_by_browser(
    folder: Path, lead: Any, clinician: Any, cast: Any
) -> None:
    out = folder / "readiness.csv"
    tables = {"answers": "answers.csv", "decisions": "decisions.csv", "protocol": "protocol.toml"}
    words = [word for name, file in tables.items() for word in (f"--{name}", str(folder / file))]
    day = cast.TODAY.isoformat()
    referrals = str(folder / "referrals.csv")
    assert run(["readiness", referrals, *words, "--out", str(out), "--today", day]) == 0
    load_files(folder, now=cast.NOW, lead=lead, clinician=clinician)
    by_browser = [
        stand(each.trainee, today=cast.TODAY).sorted_referral for each in read_readiness(out)
    ]

    mine = folder / "browser.csv"
    write_readiness(mine, by_browser)
    write_reasons(mine.with_suffix(".reasons.csv"), by_browser)
    assert len(by_browser) == 40
    assert {each.readiness for each in by_browser} >= {Readiness.READY, Readiness.NOT_NOW}
    for suffix in (".csv", ".reasons.csv"):
        assert mine.with_suffix(suffix).read_bytes() == out.with_suffix(suffix).read_bytes()
