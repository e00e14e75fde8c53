import re
from datetime import date

import pypdfium2 as pdfium
import pytest

from sidelong.exchange.protocols import read_default_protocol, read_demo_protocol
from sidelong.paper.language import read_language
from sidelong.paper.readiness_print import compose_readiness, print_readiness
from sidelong.training.gates import Answer, Effect, Evidence, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.readiness import Gap, Limits, Part, Readiness, Reason, SortedReferral

ENGLISH = read_language("en")


def invent_reason(number: int, *, state: Readiness, answer: Answer | None = Answer.YES) -> Reason:
    gate = next(each for each in read_demo_protocol().gates if each.number == number)
    return Reason(
        gate=gate.key,
        number=number,
        answer=answer,
        state=state,
        effects=gate.effects,
        why=gate.why,
        until=gate.until,
        decide_by=gate.decide_by,
        refer=gate.refer,
        note="Grandmother says so",
        source=gate.source,
        status=Evidence.COMMON_PRACTICE,
        support="",
    )


def invent_result(**changes) -> SortedReferral:
    protocol = read_demo_protocol()
    settings = {
        "trainee": "HL-0007",
        "site": "demo",
        "band": "older",
        "language": "en",
        "readiness": Readiness.NOT_NOW,
        "reasons": (
            invent_reason(2, state=Readiness.NOT_NOW, answer=None),
            invent_reason(36, state=Readiness.CLINICIAN_FIRST),
        ),
        "unanswered": ("signs_when_eating",),
        "limits": Limits(
            (Position.DOWN, Position.CENTRE),
            frozenset({IngredientLimit.NO_SUGAR}),
            frozenset({PlanChange.SMALLER_STEPS}),
            max_piece_mm=6.0,
            water_ml=150.0,
        ),
        "sorted_on": date(2026, 11, 25),
        "protocol_version": protocol.version,
        "protocol_fingerprint": protocol.fingerprint,
        "missing": (Gap(Part.GATES, "not now"), Gap(Part.ANSWERS, "x"), Gap(Part.DECISION, "one")),
    }
    return SortedReferral(**(settings | changes))


def text_of(pdf: bytes) -> list[str]:
    document = pdfium.PdfDocument(pdf)
    pages = [re.sub(r"\s+", " ", page.get_textpage().get_text_bounded()) for page in document]
    document.close()
    return pages


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_page_says_where_it_stands_why_and_what_to_keep_to(paper) -> None:
    pdf = print_readiness(
        invent_result(), protocol=read_demo_protocol(), language=ENGLISH, paper=paper
    )

    (page,) = text_of(pdf)
    for words in (
        "HL-0007",
        "Not now",
        "This page clears nobody.",
        "no answer yet",
        "no sugar",
        "smaller steps",
        "6 mm",
        "150 mL",
        "Down, Centre",
        "Site Quince Street Practice Clinic (invented)",
        "Sorted on 25 November 2026",
        "Invented for a demonstration.",
        "Date and signature",
    ):
        assert words in page


def test_what_is_missing_names_questions_by_their_number() -> None:
    printed = compose_readiness(invent_result(), protocol=read_demo_protocol(), language=ENGLISH)

    assert printed.missing == (
        ("Questions", "not now: 2; a clinician decides: 36"),
        ("No answer yet", "2"),
        ("Decision", "one"),
    )


def test_notes_on_answers_stay_in_the_record() -> None:
    printed = compose_readiness(invent_result(), protocol=read_demo_protocol(), language=ENGLISH)

    assert "Grandmother" not in repr(printed)


@pytest.mark.parametrize("state", list(Readiness))
def test_no_state_says_that_somebody_may_practise(state) -> None:
    result = invent_result(readiness=state, reasons=(), unanswered=())

    printed = compose_readiness(result, protocol=read_demo_protocol(), language=ENGLISH)

    said = f"{printed.state} {printed.caution} {printed.no_reason}".lower()
    assert "clears nobody" in said
    assert not re.search(r"\b(is cleared|fit to|may practise|approved|no risk|is safe)\b", said)


def test_ready_means_ready_for_a_decision() -> None:
    result = invent_result(readiness=Readiness.READY, reasons=(), unanswered=())

    printed = compose_readiness(result, protocol=read_demo_protocol(), language=ENGLISH)

    assert printed.state == "Ready for a clinician's decision"
    assert printed.decision_sentences[0] == "No decision for practice as a whole holds today."


def test_a_decision_on_record_is_shown_with_its_end_and_role() -> None:
    result = invent_result(
        readiness=Readiness.READY,
        reasons=(),
        unanswered=(),
        missing=(),
        decided_role="paediatrician",
        decided_on=date(2026, 11, 20),
        expires_on=date(2026, 12, 20),
    )

    printed = compose_readiness(result, protocol=read_demo_protocol(), language=ENGLISH)

    assert printed.decision_sentences[0] == (
        "On record: decided on 20 November 2026 (paediatrician); it ends on 20 December 2026."
    )


def test_a_settled_reason_still_names_its_limits() -> None:
    reason = invent_reason(35, state=Readiness.READY)
    assert Effect.INGREDIENTS in reason.effects
    result = invent_result(reasons=(reason,))

    printed = compose_readiness(result, protocol=read_demo_protocol(), language=ENGLISH)

    assert printed.reasons[0].asks == "settled, or limits only; ingredients limited"


def test_another_text_of_the_protocol_is_refused() -> None:
    with pytest.raises(ValueError, match="another text"):
        compose_readiness(invent_result(), protocol=read_default_protocol(), language=ENGLISH)


def test_every_question_unanswered_runs_on_over_pages() -> None:
    protocol = read_demo_protocol()
    asked = [invent_reason(g.number, state=Readiness.NOT_NOW, answer=None) for g in protocol.gates]
    result = invent_result(reasons=tuple(asked), unanswered=tuple(g.key for g in protocol.gates))

    pages = text_of(print_readiness(result, protocol=protocol, language=ENGLISH))

    assert len(pages) >= 2
    assert "Date and signature" in pages[-1]


@pytest.mark.parametrize("tag", ["en-XA", "ar-XB"])
def test_other_languages_can_be_set(tag) -> None:
    language = read_language(tag)

    pages = text_of(
        print_readiness(invent_result(), protocol=read_demo_protocol(), language=language)
    )

    assert "0007" in pages[0]
