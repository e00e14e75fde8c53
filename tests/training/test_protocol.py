"""The protocol as a value: what it refuses, and what signatures bind to."""

from dataclasses import replace
from datetime import date

import pytest

from sidelong.exchange.protocols import read_default_protocol, read_demo_protocol
from sidelong.problems import Refused
from sidelong.training.entry import RatedBy, Scale
from sidelong.training.gate_rules import GateOff, SignOff
from sidelong.training.position import Position
from sidelong.training.protocol import Meaning, Protocol, Signature, fingerprint_of
from sidelong.training.safety import Tonight
from sidelong.training.settings import AgeLimits, Band, Course, Success

DAY = date(2025, 12, 1)


def signed(draft: Protocol, *signatures: tuple[str, Meaning], **changes: object) -> Protocol:
    """Sign the text that the changes make, as people do: first the text, then the names."""
    content = {
        name: getattr(draft, name) for name in draft.__dataclass_fields__ if name != "signatures"
    }
    fingerprint = fingerprint_of(content | changes)
    return replace(
        draft,
        **changes,  # type: ignore[arg-type]
        signatures=tuple(
            Signature(role, "A. Signer", DAY, meaning, fingerprint) for role, meaning in signatures
        ),
    )


def whats(refusal: pytest.ExceptionInfo[Refused]) -> str:
    return "\n".join(map(str, refusal.value.problems))


def test_draft_is_not_approved_and_has_no_up() -> None:
    draft = read_default_protocol()

    assert not draft.is_approved
    assert Position.UP not in draft.positions
    assert not draft.gates_off


def test_up_needs_the_signature_of_a_swallowing_specialist() -> None:
    draft = read_default_protocol()
    everything = {"positions": tuple(Position)}

    for signatures in (
        [],
        [("programme lead", Meaning.UP_ALLOWED)],
        [("swallowing specialist", Meaning.GATES_REVIEWED)],
    ):
        with pytest.raises(Refused, match="no swallowing specialist has signed"):
            signed(draft, *signatures, **everything)
    allowed = signed(draft, ("Swallowing specialist", Meaning.UP_ALLOWED), **everything)
    assert Position.UP in allowed.positions


def test_refusal_of_up_names_the_fingerprint_to_sign() -> None:
    with pytest.raises(Refused) as refusal:
        replace(read_default_protocol(), positions=tuple(Position))

    with_up = signed(
        read_default_protocol(),
        ("swallowing specialist", Meaning.UP_ALLOWED),
        positions=tuple(Position),
    )
    assert with_up.fingerprint in whats(refusal)


def test_signature_under_another_text_is_refused() -> None:
    demo = read_demo_protocol()

    with pytest.raises(Refused) as refusal:
        replace(demo, course=replace(demo.course, minutes_upright=31))

    assert len(refusal.value.problems) == len(demo.signatures)
    assert "signed another text" in whats(refusal)


def test_fingerprint_knows_every_setting_but_not_the_signatures() -> None:
    draft = read_default_protocol()
    again = signed(draft, ("swallowing specialist", Meaning.GATES_REVIEWED))

    assert again.fingerprint == draft.fingerprint
    seen = {draft.fingerprint}
    for changes in (
        {"version": "2"},
        {"valid_from": date(2026, 1, 2)},
        {"ages": AgeLimits(4, 6)},
        {"course": Course(nights=10)},
        {"technique": draft.technique[:-1]},
        {"gates": (replace(draft.gates[0], why="another reason"), *draft.gates[1:])},
        {"tonight": (replace(draft.tonight[0], key="own"), *draft.tonight)},
    ):
        seen.add(replace(draft, **changes).fingerprint)  # type: ignore[arg-type]
    assert len(seen) == 8


def test_approved_protocol_leaves_no_line_open() -> None:
    with pytest.raises(Refused) as refusal:
        signed(read_default_protocol(), ("programme lead", Meaning.PROTOCOL_APPROVED))

    places = {each.where for each in refusal.value.problems}
    assert places == {"site_name", "clinic_line", "emergency[1]"}


@pytest.mark.parametrize(("low", "high"), [(3, 5), (4, 4), (0, 0), (4, 3)])
def test_ages_for_hard_sugar_can_only_be_raised(low: int, high: int) -> None:
    with pytest.raises(Refused):
        AgeLimits(low, high)


def test_raised_ages_are_taken() -> None:
    assert AgeLimits(5, 7).not_now_below == 5


@pytest.mark.parametrize(
    "wrong",
    [
        {"from_age": 4, "to_age": 7, "scale": Scale.FOUR},
        {"from_age": 5, "to_age": 9, "scale": Scale.FIVE},
        {"from_age": 9, "to_age": 8},
        {"name": "two words"},
        {"to_age": 121},
    ],
)
def test_band_that_asks_more_than_its_age_can_answer_is_refused(wrong: dict[str, object]) -> None:
    right = {"name": "older", "from_age": 8, "to_age": 17, "scale": Scale.FIVE}

    with pytest.raises(Refused):
        Band(**{**right, **wrong})  # type: ignore[arg-type]


def test_default_bands_follow_the_ages_of_the_rating_forms() -> None:
    draft = read_default_protocol()

    forms = {age: draft.band_of(age) for age in (3, 4, 5, 7, 8, 17, 18, 90)}
    assert forms[3] is None
    assert [forms[age].scale for age in (5, 7, 8, 17, 18, 90)] == [4, 4, 5, 5, 5, 5]  # type: ignore[union-attr]
    assert forms[4].rated_by is RatedBy.SUPPORTER  # type: ignore[union-attr]
    assert forms[5].rated_by is RatedBy.TRAINEE  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "wrong",
    [
        {"nights": 12},
        {"tries": 3},
        {"failed_positions_stop": 3},
        {"minutes_trying": 21},
        {"minutes_upright": 1},
        {"decision_days": 0},
        {"spares": -1},
    ],
)
def test_course_numbers_are_held_to_what_is_safe_and_printable(wrong: dict[str, int]) -> None:
    with pytest.raises(Refused):
        Course(**wrong)  # type: ignore[arg-type]


def test_common_practice_numbers_of_a_course() -> None:
    # Common practice, no source: 14 nights, 70 pieces and 10 spares, two weeks of evenings.
    course = read_default_protocol().course

    assert (course.nights, course.spares, course.tries) == (14, 10, 2)
    assert course.nights * len(Position) == 70


def test_success_is_whole_unchewed_unaided_at_target_size_and_seen() -> None:
    assert Success.CRITERIA == (
        "whole",
        "unchewed",
        "unaided",
        "at the target size",
        "seen by staff",
    )
    with pytest.raises(Refused):
        Success(swallows=3, attempts=2)


def off(protocol: Protocol, key: str, *names: str, reason: str = "asked elsewhere") -> Protocol:
    sign_offs = tuple(SignOff("clinician", name, DAY) for name in names)
    return replace(protocol, gates_off=(GateOff(key, reason, sign_offs),))


STOPS = [
    gate.key
    for gate in read_default_protocol().gates
    if gate.stop.value != "nothing" and gate.key != "under_age"
]


@pytest.mark.parametrize("key", STOPS)
def test_not_now_gate_goes_off_only_with_two_people(key: str) -> None:
    draft = read_default_protocol()

    with pytest.raises(Refused, match="two different people"):
        off(draft, key, "A. One")
    with pytest.raises(Refused, match="two different people"):
        off(draft, key, "A. One", "a.  one")
    assert key not in [gate.key for gate in off(draft, key, "A. One", "B. Two").active_gates]


def test_other_gates_go_off_with_one_name_and_a_reason() -> None:
    draft = read_default_protocol()

    assert len(off(draft, "coeliac_disease", "A. One").active_gates) == 53
    with pytest.raises(Refused):
        off(draft, "coeliac_disease", "A. One", reason=" ")
    with pytest.raises(Refused):
        off(draft, "coeliac_disease")
    with pytest.raises(Refused, match="no gate"):
        off(draft, "no_such_gate", "A. One", "B. Two")


def test_sign_off_comes_before_use() -> None:
    late = SignOff("clinician", "A. One", date(2026, 6, 1))

    with pytest.raises(Refused, match="after the protocol's first day"):
        replace(read_default_protocol(), gates_off=(GateOff("coeliac_disease", "reason", (late,)),))


@pytest.mark.parametrize("key", ["under_age", "age_in_dispute"])
def test_age_gates_are_switched_off_by_nobody(key: str) -> None:
    draft = read_default_protocol()
    people = [SignOff("lead", name, draft.valid_from) for name in ("Dr A", "Dr B", "Dr C")]

    with pytest.raises(Refused, match="may raise these ages and not lower them"):
        replace(draft, gates_off=(GateOff(key, "we know them", tuple(people)),))


def test_every_fault_of_a_protocol_is_named_at_once() -> None:
    draft = read_default_protocol()

    with pytest.raises(Refused) as refusal:
        replace(
            draft,
            site="",
            time_zone="Nowhere/Here",
            languages=("en", "fr"),
            bands=(draft.bands[0], draft.bands[2]),
            positions=(Position.LEFT,),
            technique=(),
            tiers=draft.tiers[:2],
            tonight=draft.tonight[1:],
            gates=draft.gates[1:],
        )

    places = [each.where for each in refusal.value.problems]
    assert places == [
        "site",
        "time_zone",
        "bands[2]",
        "positions",
        "technique",
        "tiers",
        "emergency",
        "tonight",
        "gates",
    ]
    assert all(each.remedy.endswith(".") for each in refusal.value.problems)


def test_six_questions_before_every_evening() -> None:
    draft = read_default_protocol()

    assert [each.key for each in draft.tonight] == list(Tonight)
    assert [each.key for each in draft.tonight if not each.yes_stops] == ["adult_present"]


def test_questions_are_asked_by_number_with_their_follow_ups() -> None:
    questions = list(read_default_protocol().questions)

    assert len(questions) == 52 + 5
    assert questions[0] == "swallowing_difficulty"
    assert questions.index("galactosaemia") == questions.index("lactose") + 1


def test_emergency_words_fall_back_to_the_first_language() -> None:
    demo = read_demo_protocol()

    assert demo.emergency_in("fr") == demo.emergency_in("en")
