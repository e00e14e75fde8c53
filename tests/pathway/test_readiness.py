"""Sorting referrals: what decides, what lapses, and that nobody is ever cleared by the program."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidelong.exchange.protocols import read_default_protocol, read_demo_protocol
from sidelong.pathway.readiness import may_plan, sort_readiness, unanswered_questions
from sidelong.problems import Refused
from sidelong.training.gates import Answer, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.protocol import AgeLimits, Protocol
from sidelong.training.readiness import Part, Readiness
from sidelong.training.referral import PRACTICE, Decided, Decision, PieceForm, Referral

TODAY = date(2026, 3, 10)
LATER = TODAY + timedelta(days=30)


@pytest.fixture(scope="module")
def protocol() -> Protocol:
    return read_demo_protocol()


def referral(
    protocol: Protocol, *, age: int | None = 10, yes: str = "", **more: object
) -> Referral:
    """Answer no to everything but the named questions."""
    answers = dict.fromkeys(protocol.questions, Answer.NO)
    answers |= dict.fromkeys(yes.split(), Answer.YES)
    return Referral("T-1", "demo", age, answers, **more)  # type: ignore[arg-type]


def decision(gate: str = PRACTICE, decided: Decided = Decided.GO, **more: object) -> Decision:
    given = {
        "decided_by": "Dr A",
        "role": "paediatrician",
        "decided_on": TODAY,
        "expires_on": LATER,
        "reason": "seen in clinic",
    }
    return Decision("T-1", gate, decided, **{**given, **more})  # type: ignore[arg-type]


def parts(gaps: tuple[object, ...]) -> set[Part]:
    return {gap.part for gap in gaps}  # type: ignore[attr-defined]


def test_ready_is_not_cleared_until_a_clinician_has_decided(protocol: Protocol) -> None:
    result = sort_readiness(referral(protocol), protocol, today=TODAY)

    assert result.readiness is Readiness.READY
    assert not result.may_plan
    assert parts(result.missing) == {Part.DECISION}


def test_decision_for_practice_completes_a_ready_referral(protocol: Protocol) -> None:
    result = sort_readiness(referral(protocol), protocol, today=TODAY, decisions=[decision()])

    assert result.may_plan
    assert result.decided_role == "paediatrician"
    assert may_plan(result, protocol, today=TODAY) == ()


def test_decision_for_practice_settles_no_gate(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")

    result = sort_readiness(asked, protocol, today=TODAY, decisions=[decision()])

    assert result.readiness is Readiness.CLINICIAN_FIRST
    assert Part.GATES in parts(result.missing)


def test_unanswered_referral_is_not_now_with_only_the_centre(protocol: Protocol) -> None:
    result = sort_readiness(Referral("T-1", "demo", 10), protocol, today=TODAY)

    assert result.readiness is Readiness.NOT_NOW
    assert result.limits.positions == (Position.CENTRE,)
    n_asked_at_ten = 52 - 2  # two gates are answered by the age, two are for other ages
    assert len(result.unanswered) == n_asked_at_ten


def test_unknown_age_counts_against_practice(protocol: Protocol) -> None:
    result = sort_readiness(referral(protocol, age=None), protocol, today=TODAY)

    assert result.readiness is Readiness.NOT_NOW
    assert "age_years" in result.unanswered


def test_follow_up_is_due_only_after_a_yes(protocol: Protocol) -> None:
    answers = {key: Answer.NO for key in protocol.questions if key != "galactosaemia"}

    assert unanswered_questions(Referral("T-1", "demo", 10, answers), protocol) == ()
    answers["lactose"] = Answer.YES
    due = unanswered_questions(Referral("T-1", "demo", 10, answers), protocol)
    assert due == ("galactosaemia",)


@pytest.mark.parametrize(
    ("age", "state"),
    [
        (3, Readiness.NOT_NOW),
        (4, Readiness.CLINICIAN_FIRST),
        (5, Readiness.READY),
        (80, Readiness.READY),
    ],
)
def test_age_limits_for_hard_sugar_pieces(age: int, state: Readiness, protocol: Protocol) -> None:
    assert sort_readiness(referral(protocol, age=age), protocol, today=TODAY).readiness is state


def test_another_form_of_piece_under_four_needs_a_decision(protocol: Protocol) -> None:
    asked = referral(protocol, age=3, form=PieceForm.OTHER)

    before = sort_readiness(asked, protocol, today=TODAY)
    after = sort_readiness(asked, protocol, today=TODAY, decisions=[decision("under_age")])

    assert before.readiness is Readiness.CLINICIAN_FIRST
    assert after.readiness is Readiness.READY


def test_who_was_sorted_for_another_form_gets_no_hard_sugar(protocol: Protocol) -> None:
    asked = referral(protocol, age=3, form=PieceForm.OTHER)

    result = sort_readiness(
        asked, protocol, today=TODAY, decisions=[decision("under_age"), decision()]
    )

    # The shipped bands begin at four: a site that trains younger children adds a band of its own.
    assert parts(result.missing) == {Part.BAND}
    assert IngredientLimit.NOT_HARD_SUGAR in result.limits.ingredients


def test_no_decision_lets_a_child_under_four_have_hard_sugar(protocol: Protocol) -> None:
    asked = referral(protocol, age=3)

    result = sort_readiness(
        asked, protocol, today=TODAY, decisions=[decision("under_age"), decision()]
    )

    assert result.readiness is Readiness.NOT_NOW
    assert not result.may_plan


def test_raised_ages_are_used() -> None:
    stricter = replace(read_default_protocol(), site="demo", ages=AgeLimits(6, 8))

    states = [
        sort_readiness(referral(stricter, age=age), stricter, today=TODAY).readiness
        for age in (5, 6, 7, 8)
    ]

    assert states == [
        Readiness.NOT_NOW,
        Readiness.CLINICIAN_FIRST,
        Readiness.CLINICIAN_FIRST,
        Readiness.READY,
    ]


def test_expired_decision_leaves_the_question_open(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    decisions = [decision("reflux")]

    on_last_day = sort_readiness(asked, protocol, today=LATER, decisions=decisions)
    day_after = sort_readiness(
        asked, protocol, today=LATER + timedelta(days=1), decisions=decisions
    )

    assert on_last_day.readiness is Readiness.READY
    assert day_after.readiness is Readiness.CLINICIAN_FIRST
    assert "open again" in day_after.reasons[0].note


def test_no_decision_holds_longer_than_the_protocol_allows(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    forever = decision("reflux", expires_on=date(2099, 1, 1))
    longest = timedelta(days=protocol.course.decision_days)

    states = [
        sort_readiness(asked, protocol, today=day, decisions=[forever]).readiness
        for day in (TODAY + longest, TODAY + longest + timedelta(days=1))
    ]

    assert states == [Readiness.READY, Readiness.CLINICIAN_FIRST]


def test_illness_or_new_medicine_opens_decisions_again(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux", last_change=TODAY + timedelta(days=2))

    result = sort_readiness(
        asked, protocol, today=TODAY + timedelta(days=3), decisions=[decision("reflux"), decision()]
    )

    assert result.readiness is Readiness.CLINICIAN_FIRST
    assert Part.DECISION in parts(result.missing)


def test_decision_dated_after_today_does_not_count(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    tomorrow = decision("reflux", decided_on=TODAY + timedelta(days=1))

    result = sort_readiness(asked, protocol, today=TODAY, decisions=[tomorrow])

    assert result.readiness is Readiness.CLINICIAN_FIRST


def test_later_decision_takes_the_place_of_an_earlier_one(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    no = decision("reflux", Decided.DO_NOT_GO, decided_on=TODAY + timedelta(days=1))

    result = sort_readiness(
        asked, protocol, today=TODAY + timedelta(days=1), decisions=[no, decision("reflux")]
    )

    assert result.readiness is Readiness.NOT_NOW


def test_of_one_day_the_strictest_decision_counts(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    no = decision("reflux", Decided.DO_NOT_GO)

    result = sort_readiness(asked, protocol, today=TODAY, decisions=[no, decision("reflux")])

    assert result.readiness is Readiness.NOT_NOW


def test_a_lapsed_later_decision_does_not_bring_back_an_earlier_go(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    day = TODAY + timedelta(days=5)
    no = decision("reflux", Decided.DO_NOT_GO, decided_on=day, expires_on=day)

    result = sort_readiness(
        asked, protocol, today=day + timedelta(days=1), decisions=[no, decision("reflux")]
    )

    assert result.readiness is Readiness.CLINICIAN_FIRST


def test_decision_against_practice_stops_everything(protocol: Protocol) -> None:
    no = decision(decided=Decided.DO_NOT_GO)

    result = sort_readiness(referral(protocol), protocol, today=TODAY, decisions=[no])

    assert result.readiness is Readiness.NOT_NOW
    assert not result.may_plan


def test_decision_on_practice_must_know_the_decisions_on_gates(protocol: Protocol) -> None:
    asked = referral(protocol, yes="reflux")
    next_day = TODAY + timedelta(days=1)

    result = sort_readiness(
        asked,
        protocol,
        today=next_day,
        decisions=[decision(), decision("reflux", decided_on=next_day)],
    )

    assert parts(result.missing) == {Part.DECISION}


def test_held_positions_come_back_only_by_a_decision_that_names_them(protocol: Protocol) -> None:
    asked = referral(protocol, yes="neck_condition")
    some = decision(
        "neck_condition",
        Decided.GO_WITH_LIMITS,
        gives_back=frozenset({Position.LEFT, Position.RIGHT}),
    )

    plain = sort_readiness(asked, protocol, today=TODAY, decisions=[decision("neck_condition")])
    named = sort_readiness(asked, protocol, today=TODAY, decisions=[some])

    assert plain.limits.positions == (Position.CENTRE,)
    assert named.limits.positions == (Position.LEFT, Position.CENTRE, Position.RIGHT)


def test_position_stays_out_while_any_gate_takes_it_out(protocol: Protocol) -> None:
    asked = referral(protocol, yes="neck_condition dizzy_on_turning")
    all_back = decision("neck_condition", gives_back=frozenset(Position) - {Position.CENTRE})

    result = sort_readiness(asked, protocol, today=TODAY, decisions=[all_back])

    assert result.limits.positions == (Position.DOWN, Position.CENTRE)


def test_positions_taken_out_for_good_cannot_be_given_back(protocol: Protocol) -> None:
    asked = referral(protocol, yes="down_syndrome")
    up = decision("down_syndrome", gives_back=frozenset({Position.UP}))

    with pytest.raises(Refused, match="does not hold"):
        sort_readiness(asked, protocol, today=TODAY, decisions=[up])


def test_clinician_may_rule_out_a_position(protocol: Protocol) -> None:
    no_left = decision(decided=Decided.GO_WITH_LIMITS, takes_out=frozenset({Position.LEFT}))

    result = sort_readiness(referral(protocol), protocol, today=TODAY, decisions=[no_left])

    assert Position.LEFT not in result.limits.positions
    assert result.may_plan


@pytest.mark.parametrize(
    ("out", "n_left"), [("up", 4), ("up right", 3), ("up right left", 2), ("up right left down", 1)]
)
def test_removed_positions_leave_four_three_two_or_one(
    out: str, n_left: int, protocol: Protocol
) -> None:
    limited = decision(
        decided=Decided.GO_WITH_LIMITS, takes_out=frozenset(map(Position, out.split()))
    )

    result = sort_readiness(referral(protocol), protocol, today=TODAY, decisions=[limited])

    assert len(result.limits.positions) == n_left
    assert Position.CENTRE in result.limits.positions


def test_up_is_in_no_plan_of_a_protocol_that_is_not_signed_for_it() -> None:
    draft = read_default_protocol()
    answers = dict.fromkeys(draft.questions, Answer.NO)

    result = sort_readiness(Referral("T-1", "draft", 10, answers), draft, today=TODAY)

    assert Position.UP not in result.limits.positions


def test_no_plan_under_a_draft() -> None:
    draft = read_default_protocol()
    answers = dict.fromkeys(draft.questions, Answer.NO)
    asked = Referral("T-1", "draft", 10, answers)

    result = sort_readiness(asked, draft, today=TODAY, decisions=[decision()])

    assert result.readiness is Readiness.READY
    assert parts(result.missing) == {Part.PROTOCOL}


def test_no_plan_before_the_protocol_holds(protocol: Protocol) -> None:
    day = protocol.valid_from - timedelta(days=1)
    early = decision(decided_on=day)

    result = sort_readiness(referral(protocol), protocol, today=day, decisions=[early])

    assert parts(result.missing) == {Part.PROTOCOL}


@pytest.mark.parametrize(
    ("key", "part", "limit"),
    [
        ("narrow_gullet", Part.PIECE_SIZE, {"max_piece_mm": 6.0}),
        ("fluid_limit", Part.WATER, {"water_ml": 80.0}),
    ],
)
def test_limits_that_need_a_number_ask_for_it(
    key: str, part: Part, limit: dict[str, float], protocol: Protocol
) -> None:
    asked = referral(protocol, yes=key)
    with_number = decision(key, Decided.GO_WITH_LIMITS, **limit)

    without = sort_readiness(asked, protocol, today=TODAY, decisions=[decision(key), decision()])
    complete = sort_readiness(asked, protocol, today=TODAY, decisions=[with_number, decision()])

    assert parts(without.missing) == {part}
    assert complete.may_plan
    assert {complete.limits.max_piece_mm, complete.limits.water_ml} == {None, *limit.values()}


def test_clinic_only_practice_gets_no_plan_for_home(protocol: Protocol) -> None:
    asked = referral(protocol, yes="unsafe_storage")

    result = sort_readiness(asked, protocol, today=TODAY, decisions=[decision()])

    assert result.limits.clinic_only
    assert parts(result.missing) == {Part.HOME}


def test_choice_holds_both_sides_until_a_decision_chooses(protocol: Protocol) -> None:
    asked = referral(protocol, yes="diabetes")
    count = decision(
        "diabetes", Decided.GO_WITH_LIMITS, lifts=frozenset({IngredientLimit.NO_SUGAR})
    )

    open_choice = sort_readiness(asked, protocol, today=TODAY).limits
    chosen = sort_readiness(asked, protocol, today=TODAY, decisions=[count]).limits

    assert IngredientLimit.NO_SUGAR in open_choice.ingredients
    assert chosen.ingredients == frozenset()
    assert chosen.changes == {PlanChange.COUNT_CARBOHYDRATE}


@pytest.mark.parametrize(
    ("key", "lifts"),
    [
        ("phenylketonuria", {IngredientLimit.NO_ASPARTAME}),
        ("ketogenic_diet", {IngredientLimit.NO_SUGAR}),
        ("diabetes", {IngredientLimit.NO_SUGAR, PlanChange.COUNT_CARBOHYDRATE}),
        ("reflux", {PlanChange.TWO_HOURS_AFTER_MEAL}),
    ],
)
def test_decision_cannot_lift_what_its_gate_does_not_leave_open(
    key: str, lifts: set[IngredientLimit | PlanChange], protocol: Protocol
) -> None:
    lifting = decision(key, Decided.GO_WITH_LIMITS, lifts=frozenset(lifts))

    with pytest.raises(Refused):
        sort_readiness(referral(protocol, yes=key), protocol, today=TODAY, decisions=[lifting])


def test_dietitian_may_lift_the_held_limit_on_sugar_alcohol(protocol: Protocol) -> None:
    asked = referral(protocol, yes="ketogenic_diet")
    lifting = decision("ketogenic_diet", lifts=frozenset({IngredientLimit.NO_SUGAR_ALCOHOL}))

    result = sort_readiness(asked, protocol, today=TODAY, decisions=[lifting])

    assert result.limits.ingredients == {IngredientLimit.NO_SUGAR}


def test_yes_below_the_age_of_asking_counts(protocol: Protocol) -> None:
    gates = [gate for gate in protocol.active_gates if gate.from_age]

    for gate in gates:
        young = referral(protocol, age=gate.from_age - 1, yes=gate.key)
        result = sort_readiness(young, protocol, today=TODAY)
        assert [reason.gate for reason in result.reasons] == [gate.key]
    assert len(gates) >= 2


def test_yes_to_a_second_question_is_not_undone_by_a_no_to_the_first(protocol: Protocol) -> None:
    gates = [gate for gate in protocol.active_gates if gate.follow_up is not None]

    for gate in gates:
        second = gate.follow_up.key  # type: ignore[union-attr]
        at_odds = sort_readiness(referral(protocol, yes=second), protocol, today=TODAY)
        plain = sort_readiness(
            referral(protocol, yes=f"{gate.key} {second}"), protocol, today=TODAY
        )
        assert (at_odds.readiness, at_odds.limits) == (plain.readiness, plain.limits)
        assert [reason.gate for reason in at_odds.reasons] == [gate.key]
    assert len(gates) >= 5


@pytest.mark.parametrize(
    ("days_before", "expected"), [(0, Readiness.READY), (1, Readiness.CLINICIAN_FIRST)]
)
def test_decision_made_while_a_stop_lasted_does_not_hold_after_it(
    protocol: Protocol, days_before: int, expected: Readiness
) -> None:
    gate = next(g for g in protocol.active_gates if g.decides_after_stop).key
    decided_on = TODAY - timedelta(days=days_before)
    decisions = [
        decision(gate, decided_on=decided_on),
        decision(gate, Decided.STOP_ENDED),
        decision(),
    ]

    result = sort_readiness(
        referral(protocol, yes=gate), protocol, today=TODAY, decisions=decisions
    )

    assert result.readiness is expected
    assert result.may_plan is (expected is Readiness.READY)


def test_stop_that_no_decision_lifts_refuses_to_have_ended(protocol: Protocol) -> None:
    ended = decision("food_sticks", Decided.STOP_ENDED)

    with pytest.raises(Refused, match="only another answer"):
        sort_readiness(
            referral(protocol, yes="food_sticks"), protocol, today=TODAY, decisions=[ended]
        )


def test_every_fault_of_a_referral_is_named_at_once(protocol: Protocol) -> None:
    wrong = Referral("T-1", "elsewhere", 10, {"no_such_gate": Answer.NO}, band="adult")

    with pytest.raises(Refused) as refusal:
        sort_readiness(wrong, protocol, today=TODAY, decisions=[decision("nothing")])

    assert len(refusal.value.problems) == 4


def test_decisions_on_others_are_passed_over(protocol: Protocol) -> None:
    other = replace(decision(), trainee="T-2")

    result = sort_readiness(referral(protocol), protocol, today=TODAY, decisions=[other])

    assert not result.may_plan


def test_sorted_referral_grows_stale(protocol: Protocol) -> None:
    result = sort_readiness(referral(protocol), protocol, today=TODAY, decisions=[decision()])
    changed = replace(read_default_protocol(), site="demo")

    assert parts(may_plan(result, protocol, today=LATER + timedelta(days=1))) == {Part.DECISION}
    assert parts(may_plan(result, protocol, today=TODAY - timedelta(days=1))) == {Part.DECISION}
    assert Part.PROTOCOL in parts(may_plan(result, changed, today=TODAY))


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_no_set_of_answers_is_cleared_and_more_yes_never_loosens(data: st.DataObject) -> None:
    protocol = read_demo_protocol()
    keys = sorted(protocol.questions)
    yes = data.draw(st.sets(st.sampled_from(keys), max_size=6))
    one_more = data.draw(st.sampled_from(keys))
    gravity = [Readiness.READY, Readiness.CLINICIAN_FIRST, Readiness.NOT_NOW]

    fewer = sort_readiness(referral(protocol, yes=" ".join(yes)), protocol, today=TODAY)
    more = sort_readiness(referral(protocol, yes=" ".join(yes | {one_more})), protocol, today=TODAY)

    assert not fewer.may_plan
    assert gravity.index(more.readiness) >= gravity.index(fewer.readiness)
    assert set(more.limits.positions) <= set(fewer.limits.positions)
    assert more.limits.ingredients >= fewer.limits.ingredients
    assert Position.CENTRE in more.limits.positions
