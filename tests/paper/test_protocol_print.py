import re
from dataclasses import fields, is_dataclass, replace
from datetime import date

import pypdfium2 as pdfium
import pytest

from sidelong.exchange.protocols import read_default_protocol, read_demo_protocol
from sidelong.paper.gate_words import CHANGE_WORDS, LIMIT_WORDS, effect_lines
from sidelong.paper.language import read_language
from sidelong.paper.protocol_print import compose_protocol, print_protocol
from sidelong.training.gate_rules import GateOff, SignOff
from sidelong.training.gates import PlanChange, Stop
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.protocol import fingerprint_of

ENGLISH = read_language("en")
TODAY = date(2026, 11, 25)


def pages_of(pdf: bytes) -> list[str]:
    document = pdfium.PdfDocument(pdf)
    pages = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return [re.sub(r"\s+", " ", page) for page in pages]


def squeezed(text: str) -> str:
    # A hyphen at the end of a line comes back as a control character.
    return re.sub(r"[\s\-\x02\ufffe]", "", text)


@pytest.fixture(scope="module")
def draft_pages() -> list[str]:
    return pages_of(print_protocol(read_default_protocol(), language=ENGLISH, today=TODAY))


def test_wordings_for_some_readers_are_printed_for_those_who_sign(draft_pages) -> None:
    printed = squeezed(" ".join(draft_pages))
    assert squeezed("to adults: Is another adult with you?") in printed
    assert squeezed("to teenagers: Is an adult with you?") in printed


def test_every_gate_is_printed_with_question_reason_source_and_effects(draft_pages) -> None:
    printed = squeezed(" ".join(draft_pages))
    gates = read_default_protocol().gates

    assert len(gates) == 54
    for gate in gates:
        for words in (gate.question, gate.why, gate.source, *effect_lines(gate, ENGLISH)):
            assert squeezed(words) in printed, (gate.key, words)


def test_every_sentence_for_families_is_printed(draft_pages) -> None:
    protocol = read_default_protocol()
    printed = squeezed(" ".join(draft_pages))

    texts = [
        *protocol.technique,
        *protocol.when_it_fails,
        *protocol.home_rules,
        *protocol.afterwards,
        *(each.question for each in protocol.tonight),
        *(sign for tier in protocol.tiers for sign in tier.signs),
        *(action for tier in protocol.tiers for action in tier.actions),
        *(protocol.words_of(position).how for position in protocol.positions),
    ]
    for text in texts:
        said = text.said("en", say=ENGLISH.say, numbers=protocol.numbers)
        assert squeezed(said) in printed


def test_the_fingerprint_that_is_signed_is_printed_whole(draft_pages) -> None:
    protocol = read_default_protocol()

    assert len(protocol.fingerprint) == 64
    assert protocol.fingerprint in draft_pages[0]


def test_a_draft_says_so_on_every_page(draft_pages) -> None:
    assert len(draft_pages) > 3
    assert all("Draft, not signed. Not for use." in page for page in draft_pages)


def test_an_invented_protocol_says_so_on_every_page_and_names_its_signers() -> None:
    protocol = read_demo_protocol()

    pages = pages_of(print_protocol(protocol, language=ENGLISH, today=TODAY, paper="letter"))

    assert all("Invented for a demonstration." in page for page in pages)
    for signature in protocol.signatures:
        assert signature.name in pages[-1]
        assert ENGLISH.day(signature.signed_on) in pages[-1]


def test_a_signed_protocol_of_a_real_site_carries_no_banner() -> None:
    demo = read_demo_protocol()
    content = {each.name: getattr(demo, each.name) for each in fields(demo)} | {"invented": False}
    fingerprint = fingerprint_of(content)
    signatures = tuple(replace(each, fingerprint=fingerprint) for each in demo.signatures)

    printed = compose_protocol(
        replace(demo, invented=False, signatures=signatures), language=ENGLISH, today=TODAY
    )

    assert printed.banner == ""


def test_up_is_named_as_waiting_for_a_specialist_or_as_signed_for() -> None:
    draft = compose_protocol(read_default_protocol(), language=ENGLISH, today=TODAY)
    demo = compose_protocol(read_demo_protocol(), language=ENGLISH, today=TODAY)

    assert Position.UP not in {each.position for each in draft.before[1].positions}
    assert "until a named swallowing specialist has signed" in draft.before[1].sentences[0]
    assert Position.UP in {each.position for each in demo.before[1].positions}
    assert "suggested only with a sign-off of its own" in demo.before[1].sentences[0]


def test_a_gate_that_is_switched_off_is_printed_with_reason_and_names() -> None:
    protocol = read_default_protocol()
    gate = next(each for each in protocol.gates if each.stop is Stop.NOTHING)
    off = GateOff(
        gate.key,
        "The dietitian asks this at every visit.",
        (SignOff("dietitian", "Invented Dietitian", date(2025, 12, 1)),),
    )

    printed = compose_protocol(replace(protocol, gates_off=(off,)), language=ENGLISH, today=TODAY)

    assert str(gate.number) not in {each.number for each in printed.gates}
    (row,) = printed.after[0].rows
    assert row[0] == str(gate.number)
    assert row[2] == "The dietitian asks this at every visit."
    assert "Invented Dietitian, dietitian, 1 December 2025" in row[3]


def test_effects_name_stop_decision_positions_pieces_and_plan() -> None:
    by_number = {gate.number: gate for gate in read_default_protocol().gates}

    # Rows of the proposal that the default protocol is built from.
    assert effect_lines(by_number[2], ENGLISH)[:2] == ("Not now", "Refer")
    assert effect_lines(by_number[4], ENGLISH) == ("A clinician decides",)
    assert any("Left, Right, Up" in line for line in effect_lines(by_number[26], ENGLISH))
    assert any("no aspartame" in line for line in effect_lines(by_number[35], ENGLISH))
    assert any("water" in line for line in effect_lines(by_number[31], ENGLISH))


def test_every_limit_and_change_has_words() -> None:
    assert set(LIMIT_WORDS) == set(IngredientLimit)
    assert set(CHANGE_WORDS) == set(PlanChange)


def _words(value: object, skip: frozenset[str]) -> list[str]:
    if isinstance(value, Position):
        return []
    if isinstance(value, str):
        return [value]
    if is_dataclass(value):
        return [
            w
            for f in fields(value)
            if f.name not in skip
            for w in _words(getattr(value, f.name), skip)
        ]
    if isinstance(value, tuple):
        return [w for each in value for w in _words(each, skip)]
    return []


def test_no_heading_bypasses_the_catalogue() -> None:
    # What the site wrote for staff stays as written: questions, reasons, sources, names, bands.
    site_words = frozenset({"question", "why", "evidence", "effects", "asked", "rows", "facts"})
    printed = compose_protocol(
        read_default_protocol(), language=read_language("en-XA"), today=TODAY
    )

    for said in _words(printed, site_words):
        bare = said
        while re.search(r"\[[^\[\]]*\]", bare):
            bare = re.sub(r"\[[^\[\]]*\]", "", bare)
        assert not re.search(r"[A-Za-z]", bare), said


def test_a_right_to_left_protocol_can_be_set() -> None:
    pdf = print_protocol(read_default_protocol(), language=read_language("ar-XB"), today=TODAY)

    assert len(pages_of(pdf)) > 3
