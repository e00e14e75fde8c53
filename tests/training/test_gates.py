"""Gates as values, and what a site may do with them."""

from dataclasses import replace

import pytest

from sidelong.exchange.protocols import read_default_protocol
from sidelong.problems import Refused
from sidelong.training.gate_rules import set_faults, weakened
from sidelong.training.gates import Effect, Evidence, FollowUp, FollowUpDecides, Gate, Stop
from sidelong.training.position import Position

STANDARD = read_default_protocol().gates


def own_gate(**changes: object) -> Gate:
    given = {"number": 101, "key": "own", "question": "Is it so?", "why": "A reason."}
    return Gate(**{**given, "stop": Stop.EVERYTHING, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "wrong",
    [
        {"number": 55},
        {"number": 0},
        {"key": " "},
        {"question": "It is so."},
        {"why": ""},
        {"stop": Stop.NOTHING},
        {"removes": frozenset({Position.CENTRE})},
        {"removes": frozenset({Position.UP}), "holds": frozenset({Position.UP})},
    ],
)
def test_gate_that_asks_or_does_nothing_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(Refused):
        own_gate(**wrong)


def test_effects_are_listed_gravest_first() -> None:
    gate = own_gate(decide=True, removes=frozenset({Position.UP}))

    assert gate.effects == (Effect.NOT_NOW, Effect.CLINICIAN_DECIDES, Effect.POSITIONS)
    assert gate.decides_after_stop


def test_site_may_add_gates_of_its_own() -> None:
    draft = read_default_protocol()

    assert replace(draft, gates=(*draft.gates, own_gate())).active_gates[-1].key == "own"


def test_missing_and_doubled_gates_are_named() -> None:
    what = [str(each) for each in set_faults([*STANDARD[1:], STANDARD[5]])]

    assert any("missing: 1" in each for each in what)
    assert any("number 6 is used twice" in each for each in what)
    assert any("key choking_needing_help is used twice" in each for each in what)


def test_standard_gates_are_not_weaker_than_themselves() -> None:
    assert weakened(STANDARD, STANDARD) == ()


@pytest.mark.parametrize("gate", STANDARD, ids=lambda gate: gate.key)
def test_emptied_gate_is_found_to_be_weaker(gate: Gate) -> None:
    """Leave a gate its name but only a harmless effect, whatever it did before."""
    hollow = Gate(
        gate.number, gate.key, gate.question, gate.why, limits=frozenset({"check_every_batch"})
    )  # type: ignore[arg-type]
    if gate.key == "food_allergy":
        hollow = Gate(gate.number, gate.key, gate.question, gate.why, changes=gate.changes | {"x"})  # type: ignore[arg-type, operator]

    (fault,) = weakened([hollow], [gate])

    assert gate.key in fault.what
    assert "gates_off" in fault.remedy


FOLLOW_UP = FollowUp("more", "Is it more?", FollowUpDecides.NOT_NOW)


@pytest.mark.parametrize(
    ("number", "changes"),
    [
        (2, {"stop": Stop.HOME_PRACTICE}),
        (2, {"refer": False}),
        (2, {"follow_up": FOLLOW_UP}),
        (2, {"from_age": 12}),
        (7, {"decide": True}),
        (22, {"removes": frozenset(), "holds": frozenset({Position.UP})}),
        (53, {"decide": True}),
        (37, {"limits": frozenset(), "held_limits": STANDARD[36].limits}),
        (38, {"either": True}),
        (1, {"key": "renamed"}),
    ],
)
def test_every_way_of_loosening_a_gate_is_found(number: int, changes: dict[str, object]) -> None:
    model = STANDARD[number - 1]

    assert weakened([replace(model, **changes)], [model])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("number", "changes"),
    [
        (2, {"question": "In other words?"}),
        (13, {"stop": Stop.EVERYTHING}),
        (22, {"removes": frozenset(Position) - {Position.CENTRE}, "holds": frozenset()}),
        (53, {"stop": Stop.EVERYTHING}),
        (
            37,
            {"limits": STANDARD[36].limits | STANDARD[36].held_limits, "held_limits": frozenset()},
        ),
        (23, {"follow_up": FollowUp("neck_sign_new", "Is it new?", FollowUpDecides.CLINICIAN)}),
        (4, {"from_age": 8}),
        (2, {"status": Evidence.MEMORY}),
    ],
)
def test_other_words_and_stricter_effects_are_no_fault(
    number: int, changes: dict[str, object]
) -> None:
    model = STANDARD[number - 1]

    assert weakened([replace(model, **changes)], [model]) == ()  # type: ignore[arg-type]
