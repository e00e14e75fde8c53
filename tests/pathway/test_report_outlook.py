"""What the report says beyond the verdict: roughly, only where it may, and who signed for up."""

import re
from dataclasses import replace
from datetime import date

import pytest

from sidelong.exchange.protocols import read_demo_protocol
from sidelong.paper.language import read_language
from sidelong.paper.report import set_report
from sidelong.pathway.report_words import rough_percent, tenths_of_cases
from sidelong.pathway.reports import compose_report
from sidelong.training.estimate import FurtherNights, Verdict
from sidelong.training.event import Event
from sidelong.training.gate_rules import SignOff
from sidelong.training.position import Position
from sidelong.training.protocol import Meaning
from sidelong.training.safety import Tier

ENGLISH = read_language("en")
BETTER = (0.31, 0.744, None, 0.52, 0.11)
FURTHER = FurtherNights(nights=7, highest_now=0.5, highest_then=0.588, another=0.29)
SPECIALIST = SignOff("swallowing specialist", "Invented Specialist", date(2026, 11, 20))


@pytest.fixture
def outlook_course(invent_course):
    def invent(verdict=Verdict.LIKELY, *, suggested=Position.LEFT, closed=frozenset(), **more):
        course = invent_course(verdict, suggested=suggested, closed=closed)
        better = tuple(
            None if each.position in closed else chance
            for each, chance in zip(course.estimate.positions, BETTER, strict=True)
        )
        said = {"p_better": better, "own_share": 0.678, "further": FURTHER} | more
        return replace(course, estimate=replace(course.estimate, **said))

    return invent


def compose(course, *, language=ENGLISH, **extra):
    return compose_report(
        course.estimate,
        course.entries,
        language=language,
        today=date(2026, 11, 25),
        program="Sidelong 0.1.0, seed 7",
        plan=course.plan,
        **extra,
    )


def said_of_up(report) -> str:
    return " ".join(each for each in report.cautions.sentences if "Up" in each)


def test_each_position_is_compared_with_centre_and_own_evenings_are_weighed(outlook_course) -> None:
    outlook = compose(outlook_course()).outlook
    assert outlook.columns == ("", "Down", "Left", "Centre", "Right", "Up")
    cells = [each.replace("\u00a0", " ") for each in outlook.rows[0]]
    assert cells == ["chance to be easier than Centre", "31 %", "74 %", "–", "52 %", "11 %"]
    assert (
        outlook.sentences[0]
        .replace("\u00a0", " ")
        .startswith("Your own evenings carry about 70 % of this comparison.")
    )


def test_the_suggested_position_is_compared_with_centre_beside_the_verdict(outlook_course) -> None:
    said = "The chance that it is easier for you than Centre is"
    with_left = compose(outlook_course()).answer.sentences[0].replace("\u00a0", " ")
    assert f"{said} 74 %." in with_left
    # With one other position left it is the chance that stands there already.
    two = frozenset({Position.DOWN, Position.RIGHT, Position.UP})
    for course in (outlook_course(suggested=Position.CENTRE), outlook_course(closed=two)):
        assert all(said not in each for each in compose(course).answer.sentences)


def test_more_evenings_are_told_roughly_and_without_a_promise(outlook_course) -> None:
    further = compose(outlook_course()).further
    assert further.heading == "What 7 more evenings might change"
    first, second = further.sentences
    assert "another position would come out ahead in about 3 of 10 such cases" in first
    assert "would grow by about 9 in 100" in first
    assert "It is not a promise" in second
    hardly = replace(FURTHER, highest_then=0.52)
    said = compose(outlook_course(further=hardly)).further.sentences[0]
    assert said.endswith("The answer would hardly be surer.")
    assert not re.search(r"\d+ in 100", said)


def test_nothing_is_worked_out_from_figures_that_failed_their_check(outlook_course) -> None:
    report = compose(outlook_course(is_trusted=False))
    assert report.outlook.rows == ()
    assert report.outlook.sentences == (
        "Not worked out: a check of the figures did not come out right.",
    )
    assert report.further is None
    assert "than Centre" not in " ".join(report.answer.sentences)


def test_a_position_that_is_closed_has_no_chance_there(outlook_course) -> None:
    outlook = compose(outlook_course(closed=frozenset({Position.UP}))).outlook
    assert outlook.rows[0][-1] == "not suggested"


def test_an_event_that_the_estimate_did_not_know_takes_the_comparison_away(outlook_course) -> None:
    event = Event("HL-0007", 2, Tier.STOP_TONIGHT, Position.RIGHT)
    report = compose(outlook_course(), events=[event])
    assert (report.outlook, report.further) == (None, None)
    known = outlook_course(closed=frozenset({Position.RIGHT}))
    assert compose(known, events=[event]).outlook is not None


def test_while_practice_is_locked_more_of_it_is_not_spoken_of(outlook_course) -> None:
    closed = frozenset({Position.RIGHT})
    course = outlook_course(closed=closed)
    stopped = Event("HL-0007", 2, Tier.STOP_TONIGHT, Position.RIGHT)
    locked = replace(stopped, tier=Tier.ACT_FIRST)
    assert compose(course, events=[stopped]).further is not None
    report = compose(course, events=[locked])
    assert report.further is None
    assert report.outlook is not None


def test_without_evenings_or_with_one_position_left_nothing_is_compared(
    outlook_course, without_nights
) -> None:
    alone = frozenset(Position) - {Position.LEFT}
    assert compose(outlook_course(closed=alone)).outlook is None
    assert compose(without_nights(outlook_course())).outlook is None
    plain = outlook_course(p_better=(), own_share=None, further=None)
    assert (compose(plain).outlook, compose(plain).further) == (None, None)


@pytest.mark.parametrize(
    ("share", "said"), [(0.02, "under 10 %"), (0.349, "about 30 %"), (0.97, "over 90 %")]
)
def test_a_share_is_never_none_and_never_all(share, said) -> None:
    assert rough_percent(share, ENGLISH).replace("\u00a0", " ") == said


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "fewer than 1 of 10 such cases"),
        (0.25, "about 3 of 10 such cases"),
        (0.99, "more than 9 of 10 such cases"),
    ],
)
def test_cases_are_never_none_and_never_all(chance, said) -> None:
    assert tenths_of_cases(chance, ENGLISH) == said


def test_the_report_names_who_signed_for_up(outlook_course) -> None:
    course = outlook_course(suggested=Position.UP)
    report = compose(course, protocol=read_demo_protocol(), up_sign_off=SPECIALIST)
    in_person = "may be suggested to this person was signed by Invented Specialist, swallowing"
    assert any(in_person in each for each in report.answer.sentences)
    assert "may be practised here was signed by Invented Specialist, swallowing" in said_of_up(
        report
    )
    assert in_person in said_of_up(report)
    assert "2025" in said_of_up(report)
    assert "2026" in said_of_up(report)


def test_up_among_those_to_choose_from_is_named_with_its_signature(outlook_course) -> None:
    course = outlook_course(Verdict.TOO_CLOSE, suggested=None)
    positions = tuple(
        replace(each, p_best=0.5 if each.position in {Position.UP, Position.LEFT} else 0.0)
        for each in course.estimate.positions
    )
    course = replace(course, estimate=replace(course.estimate, positions=positions))
    report = compose(course, up_sign_off=SPECIALIST)
    assert Position.UP in report.answer.positions
    assert any("signed by Invented Specialist" in each for each in report.answer.sentences)


def test_up_that_was_practised_and_is_not_suggested_names_the_protocols_signature_alone(
    outlook_course,
) -> None:
    closed = frozenset({Position.UP})
    said = said_of_up(compose(outlook_course(closed=closed), protocol=read_demo_protocol()))
    assert "may be practised here was signed by" in said
    assert "may be suggested" not in said


def test_a_mere_statement_is_called_one(outlook_course) -> None:
    report = compose(outlook_course(suggested=Position.UP))
    assert "stated that their protocol is signed for it; no name was given" in said_of_up(report)
    stated = "may be suggested was stated by those who made this report"
    assert any(stated in each for each in report.answer.sentences)


def test_up_under_a_protocol_without_its_signature_is_pointed_out(outlook_course) -> None:
    signed = read_demo_protocol()
    without = replace(signed, positions=signed.positions[:-1], signatures=())
    signatures = tuple(
        replace(each, fingerprint=without.fingerprint)
        for each in signed.signatures
        if each.meaning is not Meaning.UP_ALLOWED
    )
    protocol = replace(without, signatures=signatures)
    said = said_of_up(compose(outlook_course(), protocol=protocol))
    assert "nobody has signed for it under the protocol named below" in said


def test_a_report_without_up_names_nobody(invent_course) -> None:
    course = invent_course(positions=tuple(Position)[:4])
    report = compose(course, protocol=read_demo_protocol(), up_sign_off=SPECIALIST)
    assert "Invented Specialist" not in str(report)


def test_none_of_it_bypasses_the_catalogue(outlook_course) -> None:
    language = read_language("en-XA")
    course = outlook_course(suggested=Position.UP)
    report = compose(course, language=language, up_sign_off=SPECIALIST)
    said = [*report.outlook.sentences, *report.outlook.rows[0], *report.further.sentences]
    said += [report.outlook.heading, report.further.heading, *report.cautions.sentences]
    for each in said:
        bare = each.replace("Invented Specialist", "")
        while re.search(r"\[[^\[\]]*\]", bare):
            bare = re.sub(r"\[[^\[\]]*\]", "", bare)
        assert not re.search(r"[A-Za-z]", bare), each


@pytest.mark.parametrize("tag", ["en", "en-XA", "ar-XB"])
def test_all_of_it_fits_on_two_pages(outlook_course, tag) -> None:
    import pypdfium2 as pdfium

    language = read_language(tag)
    course = outlook_course(suggested=Position.UP)
    report = compose(
        course, language=language, protocol=read_demo_protocol(), up_sign_off=SPECIALIST
    )
    document = pdfium.PdfDocument(set_report(report, language=language))
    assert len(document) == 2
    document.close()
