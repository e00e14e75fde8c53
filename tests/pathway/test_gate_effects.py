"""Every standard gate, one by one, against its effect written down a second time.

The effects follow a table of 54 findings and effect codes (STOP: not now; DECIDE: a named clinician
decides; POS: positions removed; ING: ingredients limited; PLAN: plan changed). That table is
common practice, no source, except the rows whose support is named in the protocol.
"""

from dataclasses import dataclass
from datetime import date

import pytest

from sidelong.exchange.protocols import read_demo_protocol
from sidelong.pathway.readiness import sort_readiness
from sidelong.training.gates import Answer, Evidence, Gate
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import Readiness, SortedReferral
from sidelong.training.referral import Decided, Decision, Referral

TODAY = date(2026, 3, 10)
ALL_BUT_CENTRE = "down left right up"


@dataclass(frozen=True)
class Expected:
    """What one row of the table asks for."""

    number: int
    code: str = ""
    out: str = ""
    limits: str = ""
    changes: str = ""
    age: int = 10


STOP, DECIDE, CHAIN = "STOP", "DECIDE", "STOP, then DECIDE"

ROWS = (
    Expected(1, CHAIN),
    Expected(2, STOP),
    Expected(3, STOP),
    Expected(4, DECIDE, age=30),
    Expected(5, DECIDE, changes="smaller_steps"),
    Expected(6, CHAIN),
    Expected(7, STOP),
    Expected(8, DECIDE, changes="max_piece_size"),
    Expected(9, STOP),
    Expected(10, CHAIN),
    Expected(11, CHAIN),
    Expected(12, DECIDE),
    Expected(13, DECIDE),
    Expected(14, DECIDE),
    Expected(15, CHAIN),
    Expected(16, STOP),
    Expected(17, STOP),
    Expected(18, STOP, changes="spare_sore_teeth"),
    Expected(19, STOP),
    Expected(20, CHAIN),
    Expected(21, CHAIN),
    Expected(22, DECIDE, out="left right up", changes="small_range"),
    Expected(23, STOP, out=ALL_BUT_CENTRE),
    Expected(24, DECIDE, out=ALL_BUT_CENTRE),
    Expected(25, out=ALL_BUT_CENTRE, changes="comfortable_range"),
    Expected(26, DECIDE, out="left right up"),
    Expected(27, DECIDE, out=ALL_BUT_CENTRE),
    Expected(28, DECIDE, changes="two_hours_after_meal"),
    Expected(29, STOP),
    Expected(30, STOP),
    Expected(31, DECIDE, changes="water_allowance"),
    Expected(32, CHAIN),
    Expected(33, DECIDE, limits="must_dissolve"),
    Expected(34, limits="check_every_batch"),
    Expected(35, DECIDE, limits="no_aspartame"),
    Expected(36, DECIDE, limits="no_sugar", changes="count_carbohydrate"),
    Expected(37, limits="no_sugar no_sugar_alcohol"),
    Expected(38, DECIDE, limits="no_fructose no_sorbitol no_sucrose"),
    Expected(39, DECIDE, limits="no_lactose"),
    Expected(40, limits="gluten_free"),
    Expected(41, limits="limit_sugar_alcohol"),
    Expected(42, limits="no_sugar", changes="before_brushing moisten_first"),
    Expected(43, limits="no_gelatin no_insect_colour"),
    Expected(44, DECIDE, changes="moisten_first"),
    Expected(45, DECIDE, changes="longer_course smaller_steps"),
    Expected(46, DECIDE),
    Expected(47, changes="clinic_only"),
    Expected(48, STOP),
    Expected(49, STOP, age=3),
    Expected(50, DECIDE, age=4),
    Expected(51, STOP, age=70),
    Expected(52, changes="when_least_sick", age=30),
    Expected(53, STOP, changes="clinic_only"),
    Expected(54, STOP),
)
BY_AGE = {49, 50}
FIRST_STATE = {
    "": Readiness.READY,
    DECIDE: Readiness.CLINICIAN_FIRST,
    STOP: Readiness.NOT_NOW,
    CHAIN: Readiness.NOT_NOW,
}


@pytest.fixture(scope="module")
def protocol() -> Protocol:
    return read_demo_protocol()


def gate_of(protocol: Protocol, number: int) -> Gate:
    return next(gate for gate in protocol.gates if gate.number == number)


def referral_with(
    protocol: Protocol, number: int, *, age: int, answer: Answer | None = Answer.YES
) -> Referral:
    """Answer every question with no, but one gate and its follow-up."""
    gate = gate_of(protocol, number)
    own = {gate.key, gate.follow_up.key if gate.follow_up else gate.key} & set(protocol.questions)
    answers = {key: Answer.NO for key in protocol.questions if key not in own}
    if answer is not None:
        answers |= dict.fromkeys(own, answer)
    return Referral("T-1", "demo", age, answers)


def decide(gate: Gate, decided: Decided) -> Decision:
    return Decision(
        "T-1", gate.key, decided, "Dr A", "paediatrician", TODAY, TODAY, "seen in clinic"
    )


def seen(result: SortedReferral, protocol: Protocol) -> tuple[str, str, str]:
    taken = [each for each in protocol.positions if each not in result.limits.positions]
    limits = " ".join(sorted(result.limits.ingredients))
    return " ".join(taken), limits, " ".join(sorted(result.limits.changes))


def test_the_table_has_every_standard_gate_once(protocol: Protocol) -> None:
    assert [row.number for row in ROWS] == list(range(1, 55))
    assert sorted(gate.number for gate in protocol.gates) == list(range(1, 55))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"gate {row.number}")
def test_yes_has_exactly_the_effect_of_its_row(row: Expected, protocol: Protocol) -> None:
    referral = referral_with(protocol, row.number, age=row.age)

    result = sort_readiness(referral, protocol, today=TODAY)

    assert result.readiness is FIRST_STATE[row.code]
    assert seen(result, protocol) == (row.out, row.limits, row.changes)
    assert [reason.number for reason in result.reasons] == [row.number]
    assert result.reasons[0].why
    assert result.reasons[0].source


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row.number not in BY_AGE], ids=lambda row: f"gate {row.number}"
)
@pytest.mark.parametrize("answer", [Answer.UNKNOWN, None], ids=["unknown", "unanswered"])
def test_dont_know_and_no_answer_count_as_yes(
    row: Expected, answer: Answer | None, protocol: Protocol
) -> None:
    referral = referral_with(protocol, row.number, age=row.age, answer=answer)

    result = sort_readiness(referral, protocol, today=TODAY)

    assert result.readiness is FIRST_STATE[row.code]
    assert seen(result, protocol) == (row.out, row.limits, row.changes)
    assert bool(result.unanswered) is (answer is None)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"gate {row.number}")
def test_no_has_no_effect(row: Expected, protocol: Protocol) -> None:
    age = 10 if row.number in BY_AGE else row.age
    referral = referral_with(protocol, row.number, age=age, answer=Answer.NO)

    result = sort_readiness(referral, protocol, today=TODAY)

    assert result.readiness is Readiness.READY
    assert result.reasons == ()
    assert result.limits.positions == protocol.positions


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"gate {row.number}")
def test_a_go_settles_only_what_a_decision_may_settle(row: Expected, protocol: Protocol) -> None:
    gate = gate_of(protocol, row.number)
    referral = referral_with(protocol, row.number, age=row.age)

    result = sort_readiness(referral, protocol, today=TODAY, decisions=[decide(gate, Decided.GO)])

    # Where there is a stop, a go alone settles nothing: the stop has to have ended first.
    settled = row.code in {"", DECIDE}
    assert (result.readiness is Readiness.READY) is settled


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row.code == CHAIN], ids=lambda row: f"gate {row.number}"
)
def test_after_a_stop_has_ended_a_clinician_still_decides(
    row: Expected, protocol: Protocol
) -> None:
    gate = gate_of(protocol, row.number)
    referral = referral_with(protocol, row.number, age=row.age)
    ended = decide(gate, Decided.STOP_ENDED)

    waiting = sort_readiness(referral, protocol, today=TODAY, decisions=[ended])
    settled = sort_readiness(
        referral, protocol, today=TODAY, decisions=[ended, decide(gate, Decided.GO)]
    )

    assert waiting.readiness is Readiness.CLINICIAN_FIRST
    assert settled.readiness is Readiness.READY
    assert gate.until


READ = {2, 3, 4, 5, 7, 8, 21, 22, 23, 35, 38, 45}


def test_gates_say_where_they_come_from_and_how_sure_that_is(protocol: Protocol) -> None:
    read = {gate.number for gate in protocol.gates if gate.status is Evidence.READ}

    assert read == READ
    assert all(gate.support for gate in protocol.gates if gate.number in READ)
    others = [gate for gate in protocol.gates if gate.number not in READ]
    assert {gate.status for gate in others} == {Evidence.COMMON_PRACTICE}
    assert all("memory" in gate.source for gate in others)


FOLLOW_UPS = {
    18: ("teeth_unsettled", Readiness.READY),
    23: ("neck_sign_new", Readiness.READY),
    39: ("galactosaemia", Readiness.READY),
    44: ("dry_mouth_severe", Readiness.READY),
    45: ("piece_misused", Readiness.READY),
}


@pytest.mark.parametrize("number", FOLLOW_UPS)
def test_no_to_the_follow_up_leaves_the_other_effects(number: int, protocol: Protocol) -> None:
    key, state = FOLLOW_UPS[number]
    row = ROWS[number - 1]
    referral = referral_with(protocol, number, age=row.age)
    calmer = Referral("T-1", "demo", row.age, {**referral.answers, key: Answer.NO})

    result = sort_readiness(calmer, protocol, today=TODAY)

    assert result.readiness is state
    assert seen(result, protocol) == (row.out, row.limits, row.changes)


def test_only_gates_of_the_table_with_a_condition_have_a_follow_up(protocol: Protocol) -> None:
    assert {gate.number for gate in protocol.gates if gate.follow_up} == set(FOLLOW_UPS)


REFERRED = {2, 3, 7, 23, 51}


def test_red_flags_ask_for_a_referral(protocol: Protocol) -> None:
    assert {gate.number for gate in protocol.gates if gate.refer} == REFERRED
