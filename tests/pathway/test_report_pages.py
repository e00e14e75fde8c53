import re
from collections.abc import Iterator
from datetime import date
from io import BytesIO

import pikepdf
import pypdfium2 as pdfium
import pytest

from sidelong.exchange.protocols import read_demo_protocol
from sidelong.paper.language import read_language
from sidelong.paper.report import set_report
from sidelong.pathway.reports import compose_report
from sidelong.training.estimate import Verdict
from sidelong.training.position import Position

TODAY = date(2026, 11, 25)
CODES = ("HL-0007", "NORTHSIDE-LEARNERS-2026-WINTER-000123456789")


def print_report(course, *, tag="en", paper="a4", **extra) -> bytes:
    language = read_language(tag)
    report = compose_report(
        course.estimate,
        course.entries,
        language=language,
        today=TODAY,
        program="Sidelong 0.1.0, seed 7",
        plan=course.plan,
        **extra,
    )
    return set_report(report, language=language, paper=paper)


def text_of(pdf: bytes) -> list[str]:
    document = pdfium.PdfDocument(pdf)
    pages = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return [re.sub(r"\s+", " ", page) for page in pages]


def test_the_pages_hold_the_numbers_of_the_estimate(invent_course) -> None:
    course = invent_course(Verdict.CLEAR, suggested=Position.LEFT)

    plain, details = text_of(print_report(course))

    for each in course.estimate.positions:
        for figure in (each.p_first_try, each.p_best, each.expected_rating, each.lower, each.upper):
            assert f"{figure:.4f}" in details
        assert f"{each.expected_rating:.1f} ({each.lower:.1f} to {each.upper:.1f})" in plain
        percent = int(100 * each.p_first_try + 0.5)
        assert f"({percent} %)" in plain


def test_sections_come_in_the_order_of_the_visit(invent_course) -> None:
    said = " ".join(text_of(print_report(invent_course(Verdict.CLEAR, suggested=Position.LEFT))))

    order = (
        "One position came out ahead: Left.",
        "Goes down at the first try",
        "Easiest of all for you",
        "The positions over the nights",
        "The first night against the end",
        "How the answer came about",
        "The nights",
        "Events and flags",
        "What to do next",
        "The exact figures",
        "Decided at the visit",
        "Cautions",
    )
    places = [said.rindex(words) if words == "The nights" else said.index(words) for words in order]
    assert places == sorted(places)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(
    ("positions", "n_nights"),
    [(1, 7), (2, 10), (3, 14), (4, 21), (5, 28)],
)
def test_a_report_is_two_pages_of_its_paper(invent_course, positions, n_nights, paper) -> None:
    chosen = tuple(Position)[5 - positions :]
    course = invent_course(Verdict.TOO_CLOSE, positions=chosen, n_nights=n_nights)

    document = pdfium.PdfDocument(print_report(course, paper=paper))

    size_pt = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}[paper]
    assert len(document) == 2
    assert all(page.get_size() == pytest.approx(size_pt, abs=0.1) for page in document)
    document.close()


@pytest.mark.parametrize("code", CODES)
def test_a_code_of_any_length_stands_whole_on_both_pages(invent_course, code) -> None:
    pages = text_of(print_report(invent_course(trainee=code)))

    assert len(pages) == 2
    assert all(code in page for page in pages)


def test_no_evening_at_all_still_gives_two_pages(invent_course, without_nights) -> None:
    pages = text_of(print_report(without_nights(invent_course(Verdict.INSUFFICIENT))))

    assert len(pages) == 2
    assert "There is not enough yet to name a position." in pages[0]
    assert "There is nothing to draw yet." in pages[0]


@pytest.mark.parametrize("tag", ["en-XA", "ar-XB"])
def test_longer_and_right_to_left_languages_keep_to_two_pages(invent_course, tag) -> None:
    closed = frozenset({Position.UP})
    course = invent_course(Verdict.LIKELY, suggested=Position.LEFT, closed=closed, n_nights=28)

    pages = text_of(print_report(course, tag=tag))

    assert len(pages) == 2
    assert "0007" in pages[0]
    assert f"{course.estimate.positions[0].p_best:.4f}" in pages[1]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("tag", ["en", "ar-XB"])
def test_nothing_is_printed_where_printers_cannot_reach(invent_course, tag, paper) -> None:
    # 6.35 mm is called safe in a manual of printers' edges; our own edges are 12.7 mm.
    document = pdfium.PdfDocument(print_report(invent_course(), tag=tag, paper=paper))
    for page in document:
        ink = page.render(scale=2).to_numpy()[:, :, 0] < 200
        per_mm = 2 * 72 / 25.4
        edges = [ink.any(axis=axis).nonzero()[0][end] for axis in (0, 1) for end in (0, -1)]
        height, width = ink.shape
        left, right, top, bottom = (edge / per_mm for edge in edges)
        assert min(left, width / per_mm - right) >= 12.7 - 0.3
        assert min(top, height / per_mm - bottom) >= 6.35
    document.close()


def axis_labels(pdf: bytes, label: str) -> list[tuple[float, float]]:
    """Places (left, bottom) of a label in the small type of the axes, points."""
    document = pdfium.PdfDocument(pdf)
    page = document[0].get_textpage()
    found = page.search(label, match_whole_word=True)
    places = []
    while (hit := found.get_next()) is not None:
        left, bottom, _, top = page.get_charbox(hit[0])
        if top - bottom < 6:
            places.append((left, bottom))
    document.close()
    return places


@pytest.mark.parametrize(("tag", "runs"), [("en", 1), ("ar-XB", -1)])
def test_time_runs_with_the_lines_of_the_language(invent_course, tag, runs) -> None:
    course = invent_course(Verdict.TOO_CLOSE, positions=(Position.CENTRE,), n_nights=28)

    pdf = print_report(course, tag=tag)

    (end,) = axis_labels(pdf, "28")
    start = next(place for place in axis_labels(pdf, "1") if abs(place[1] - end[1]) < 1)
    assert runs * (end[0] - start[0]) > 100


def _elements(node) -> Iterator[pikepdf.Dictionary]:
    if isinstance(node, pikepdf.Array):
        for each in node:
            yield from _elements(each)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from _elements(node["/K"])


def test_charts_and_document_speak_to_a_screen_reader(invent_course) -> None:
    # PDF/UA-1, ISO 14289-1: tagged, with language and title; figures have alternative texts.
    course = invent_course(Verdict.CLEAR, suggested=Position.LEFT)

    with pikepdf.open(BytesIO(print_report(course))) as document:
        root = document.Root
        assert bool(root.MarkInfo.Marked)
        assert str(root.Lang).startswith("en")
        assert str(document.docinfo["/Title"]) == "What the evenings showed"
        elements = list(_elements(root.StructTreeRoot.K))
        kinds = {str(each["/S"]) for each in elements}
        texts = [str(e["/Alt"]) for e in elements if str(e["/S"]) == "/Figure" and "/Alt" in e]

    assert {"/Table", "/TH", "/H1", "/H2"} <= kinds
    trend = next(text for text in texts if text.startswith("How easy it felt over the nights"))
    for each in course.estimate.positions:
        start = each.expected_rating - 1 + 1 / 14
        assert f"{start:.1f} on night 1" in trend
    assert any("12 of 14 planned nights were used." in text for text in texts)


def test_an_invented_protocol_is_named_on_the_report(invent_course) -> None:
    pages = text_of(print_report(invent_course(), protocol=read_demo_protocol()))

    assert "Invented example: no real person" in pages[0]
    assert read_demo_protocol().fingerprint[:12] in pages[1]


def test_only_our_font_is_embedded(invent_course) -> None:
    with pikepdf.open(BytesIO(print_report(invent_course(), tag="ar-XB"))) as document:
        names = {
            str(font.BaseFont) for page in document.pages for font in page.Resources.Font.values()
        }

    assert names
    assert all("IBMPlexSansArabic" in name for name in names)
