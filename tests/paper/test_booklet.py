"""The booklet as printed: pages, words, tags, and lengths measured on rendered pages."""

import re
from dataclasses import replace
from io import BytesIO
from itertools import combinations
from typing import Any

import numpy as np
import pikepdf
import pytest
from printed import (
    PIECES,
    complete_protocol,
    invent_plan,
    is_dark,
    is_drop_out,
    mm,
    open_pdf,
    picture,
    print_booklet,
    px,
    read_text,
    type_sizes,
)

from sidelong.exchange.protocols import read_default_protocol
from sidelong.paper.booklet import Booklet, make_booklet, make_kit
from sidelong.paper.language import read_language
from sidelong.paper.night_sheets import page_code
from sidelong.paper.sheet import Paper, lay_out_sheet
from sidelong.paper.sheet_areas import CHECK_LINE_MM
from sidelong.paper.taking_home import PHOTO_RULES
from sidelong.paper.true_size import CHECK_MM
from sidelong.paper.version import Audience, Edition, audience_of
from sidelong.problems import Refused
from sidelong.training.entry import Scale
from sidelong.training.layout import Box, Target

N_FRONT, TOLERANCE_MM = 10, 0.2  # the filled example is the last of them
TRUE_SIZE = 8


@pytest.mark.parametrize(("n_positions", "n_nights"), [(1, 7), (2, 10), (3, 14), (4, 21), (5, 28)])
def test_there_is_one_sheet_for_every_night(n_positions: int, n_nights: int) -> None:
    booklet = print_booklet(n_positions, n_nights=n_nights)
    with open_pdf(booklet) as document:
        assert len(document) == N_FRONT + n_nights + 1
    *nights, spare = booklet.layout.pages
    assert len(nights) == n_nights
    assert [page.pdf_page for page in booklet.layout.pages] == list(
        range(N_FRONT, N_FRONT + n_nights + 1)
    )
    assert "Spare sheet" in read_text(booklet, page=spare.pdf_page)
    for page in nights:
        text = read_text(booklet, page=page.pdf_page)
        assert page.page_id in text
        assert f"Night {page.night}" in text


@pytest.mark.parametrize("paper", list(Paper))
def test_every_page_has_the_size_of_its_paper(paper: Paper) -> None:
    booklet = print_booklet(paper=paper)
    width, height = paper.size_mm
    with open_pdf(booklet) as document:
        for page in document:
            assert (page.get_width() * 25.4 / 72, page.get_height() * 25.4 / 72) == pytest.approx(
                (width, height), abs=0.1
            )
    assert all((p.width_mm, p.height_mm) == (width, height) for p in booklet.layout.pages)


@pytest.mark.parametrize(
    ("n_positions", "scale", "paper", "tag"),
    [
        (5, Scale.FIVE, Paper.A4, "en"),
        (5, Scale.FIVE, Paper.LETTER, "ar-XB"),
        (4, Scale.FOUR, Paper.LETTER, "en"),
        (3, Scale.THREE, Paper.A4, "en-XA"),
        (2, Scale.TWO, Paper.A4, "en"),
        (4, None, Paper.A4, "en"),
        (1, Scale.FIVE, Paper.LETTER, "en"),
    ],
)
def test_every_outline_is_printed_where_the_layout_says(
    n_positions: int, scale: Scale | None, paper: Paper, tag: str
) -> None:
    booklet = print_booklet(n_positions, n_nights=7, scale=scale, paper=paper, tag=tag)
    page = booklet.layout.pages[3]
    image = picture(booklet, page=page.pdf_page)
    drop_out, dark = is_drop_out(image), is_dark(image)
    targets = [target for field in page.fields for target in field.targets]
    assert len(targets) >= 2 * n_positions
    for target in targets:
        assert measured(drop_out, target) == pytest.approx(edges(target.box), abs=TOLERANCE_MM)
    for box in (*page.note_boxes, *page.free_boxes):
        assert measured_box(dark, box) == pytest.approx(edges(box), abs=TOLERANCE_MM)


def edges(box: Box) -> tuple[float, float, float, float]:
    return box.x, box.x + box.w, box.y, box.y + box.h


def measured(mask: np.ndarray, target: Target) -> tuple[float, float, float, float]:
    """Find left, right, top and bottom edge of an outline along the lines through its centre."""
    margin = 2.0
    left, right = px(target.cx - target.w / 2 - margin), px(target.cx + target.w / 2 + margin)
    top, bottom = px(target.cy - target.h / 2 - margin), px(target.cy + target.h / 2 + margin)
    across = np.flatnonzero(mask[px(target.cy), left:right]) + left
    down = np.flatnonzero(mask[top:bottom, px(target.cx)]) + top
    assert across.size, f"{target.id} is not on the page"
    assert down.size, f"{target.id} is not on the page"
    return mm(across[0]), mm(across[-1] + 1), mm(down[0]), mm(down[-1] + 1)


def measured_box(mask: np.ndarray, box: Box) -> tuple[float, float, float, float]:
    """Find the edges of a write-in box along lines near two of its sides, clear of the words."""
    x, y = px(box.x + box.w - 3.0), px(box.y + box.h - 3.0)
    across = np.flatnonzero(mask[y, px(box.x - 1) : px(box.x + box.w + 1)]) + px(box.x - 1)
    down = np.flatnonzero(mask[px(box.y - 1) : px(box.y + box.h + 1), x]) + px(box.y - 1)
    return mm(across[0]), mm(across[-1] + 1), mm(down[0]), mm(down[-1] + 1)


@pytest.mark.parametrize("paper", list(Paper))
def test_the_check_line_of_a_sheet_measures_fifty_millimetres(paper: Paper) -> None:
    booklet = print_booklet(paper=paper)
    page = booklet.layout.pages[0]
    sheet = lay_out_sheet(invent_plan().nights[0].order, scale=Scale.FIVE)
    area = sheet.areas["check"].moved(*paper.offset_mm)
    image = is_dark(picture(booklet, page=page.pdf_page))
    # Beside the line itself only its two end marks reach this far.
    row = image[px(area.y + 0.9), px(area.x - 2) : px(area.x + area.w + 1.5)]
    assert between_end_marks(row) == pytest.approx(CHECK_LINE_MM, abs=0.2)


@pytest.mark.parametrize("tag", ["en", "ar-XB"])
@pytest.mark.parametrize("paper", list(Paper))
def test_the_check_line_of_the_last_page_measures_a_hundred_millimetres(
    paper: Paper, tag: str
) -> None:
    booklet = print_booklet(paper=paper, tag=tag)
    image = is_dark(picture(booklet, page=TRUE_SIZE))
    rows = range(px(20), px(70))
    line = max(rows, key=lambda row: longest_run(image[row]))
    assert between_end_marks(image[line + px(0.9)]) == pytest.approx(CHECK_MM, abs=0.2)


def between_end_marks(row: np.ndarray) -> float:
    """Measure from the middle of the first mark to the middle of the last one, mm."""
    dark = np.flatnonzero(row)
    gaps = np.flatnonzero(np.diff(dark) > 1)
    assert len(gaps) == 1, "there must be two marks and nothing else"
    first, last = dark[: gaps[0] + 1], dark[gaps[0] + 1 :]
    return mm(last.mean() - first.mean())


def longest_run(row: np.ndarray) -> int:
    """Count the pixels of the longest unbroken line in a row."""
    padded = np.concatenate([[0], row.astype(int), [0]])
    starts, ends = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1)
    return int((ends - starts).max()) if starts.size else 0


@pytest.mark.parametrize(
    ("n_positions", "scale"),
    [(5, Scale.FIVE), (5, Scale.FOUR), (4, Scale.THREE), (3, Scale.TWO), (5, None)],
)
def test_nothing_a_family_needs_is_set_smaller_than_clear_print(
    n_positions: int, scale: Scale | None
) -> None:
    # Clear print: 12 pt at least (UKAAF G003). Set in 9 pt: notice, check line's words, sources.
    booklet = print_booklet(n_positions, n_nights=7, scale=scale)
    for page in range(N_FRONT + 8):
        sizes = type_sizes(booklet, page=page)
        assert min(size for size in sizes if size != 9.0) >= 12.0, sizes
        assert max(sizes) >= 20.0


def test_heads_are_never_mirrored() -> None:
    plain, turned = print_booklet(), print_booklet(tag="ar-XB")
    pictures = {}
    for name, booklet, is_turned in (("en", plain, False), ("ar", turned, True)):
        page = booklet.layout.pages[0]
        order = invent_plan().nights[0].order
        sheet = lay_out_sheet(order, scale=Scale.FIVE, right_to_left=is_turned)
        slot = order.index("left") + 1  # type: ignore[arg-type]
        area = sheet.areas[f"p{slot}.glyph"].moved(*Paper.A4.offset_mm)
        image = picture(booklet, page=page.pdf_page).mean(axis=2)
        left, top = px(area.x), px(area.y)
        pictures[name] = image[top : top + px(area.h), left : left + px(area.w)]
    same = np.abs(pictures["en"] - pictures["ar"]).mean()
    mirrored = np.abs(pictures["en"] - pictures["ar"][:, ::-1]).mean()
    assert same < 12
    assert mirrored > 2 * same


VERSIONS = [
    {},
    {"audience": Audience.ADULT, "paper": Paper.LETTER},
    {"audience": Audience.TEEN, "edition": Edition.LARGE},
    {"scale": None, "tag": "ar-XB"},
]


@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_says_its_title_and_language_and_describes_its_drawings(
    version: dict[str, Any],
) -> None:
    # PDF/UA-1 (ISO 14289-1): tagged, titled, in a language, drawings with alternative texts.
    with pikepdf.open(BytesIO(print_booklet(**version).pdf)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang).startswith(version.get("tag", "en").split("-")[0])
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        with pdf.open_metadata() as metadata:
            assert metadata["pdfuaid:part"] == "1"
            assert "HL-0007" in metadata["dc:title"]
        described = [str(alt) for alt in alternatives(pdf.Root.StructTreeRoot)]
        assert all(page.get("/Tabs") == "/S" or "/Annots" not in page for page in pdf.pages)
        assert all("/StructParents" in page for page in pdf.pages)
    assert all(alt.strip() for alt in described)
    if "tag" not in version:
        assert "Head seen from behind, turned a little to its own left." in described
        assert any(alt.startswith("A line of 100 mm") for alt in described)


@pytest.mark.parametrize("version", VERSIONS)
def test_every_font_is_embedded_and_maps_to_unicode(version: dict[str, Any]) -> None:
    with pikepdf.open(BytesIO(print_booklet(**version).pdf)) as pdf:
        fonts = [font for page in pdf.pages for font in page.Resources.get("/Font", {}).values()]
        assert fonts
        for font in fonts:
            assert re.fullmatch(r"/[A-Z]{6}\+IBMPlexSansArabic.*", str(font.BaseFont))
            assert "/ToUnicode" in font
            [inner] = font.DescendantFonts
            assert {"/FontFile2", "/FontFile3"} & set(inner.FontDescriptor.keys())


def test_pages_say_in_grey_what_they_say_in_colour() -> None:
    # Where a page has ink in colour, its grey picture has ink too: 160 of 255 is 2.6 to 1 on white.
    booklet = print_booklet()
    for number in range(N_FRONT + 1):
        colour = picture(booklet, page=number)
        grey = colour @ np.array([0.299, 0.587, 0.114])  # as printers and pictures turn to grey
        strong = colour.max(axis=2) - colour.min(axis=2) > 110  # leaves out softened edges
        assert strong.any()
        assert np.percentile(grey[strong], 80) <= 160, number  # the rest is softened edges


def alternatives(root: pikepdf.Object) -> list[pikepdf.Object]:
    """Collect the alternative texts of all tagged figures."""
    found, waiting = [], [root]
    while waiting:
        node = waiting.pop()
        if isinstance(node, pikepdf.Array):
            waiting += list(node)
        elif isinstance(node, pikepdf.Dictionary):
            if node.get("/S") == "/Figure":
                found.append(node.Alt)
            if "/K" in node:
                waiting.append(node.K)
    return found


def test_every_word_of_the_pseudo_language_went_through_the_catalogue() -> None:
    protocol = complete_protocol()
    booklet = print_booklet(tag="en-XA")
    by_the_site = " ".join(
        [protocol.site_name, protocol.emergency[0].words, protocol.version, "HL SPARE S4 C3 mm"]
    )
    known = set(re.findall(r"\w+", by_the_site))
    with open_pdf(booklet) as document:
        n_pages = len(document)
    n_words = 0
    for page in range(n_pages):
        for word in re.findall(r"[^\W\d_]{2,}", read_text(booklet, page=page)):
            n_words += 1
            # Whatever met the pseudo-language has no plain vowel left, nor c, n, s or z.
            assert word in known or not re.search(r"[aeiouycnszAEIOUY]", word), (page, word)
    assert n_words > 1500


def test_the_pages_keep_to_the_safety_words() -> None:
    booklet = print_booklet()
    front = " ".join(" ".join(read_text(booklet, page=page).split()) for page in range(N_FRONT))
    for words in (
        "Nobody at the clinic is watching in the evening.",
        "555 0100",
        "Call at once and do as you were shown.",
        "practice is locked",
        "Never force the neck.",
        "A practice piece is not a medicine. Never call a medicine a sweet.",
        "Keep the pieces away from children under 3.",
        "Do not test them at home.",
        "before you brush your teeth",
        "Put a band on",
    ):
        assert words in front, words
    for page in booklet.layout.pages:
        assert "555 0100" in read_text(booklet, page=page.pdf_page)


def test_a_draft_protocol_is_marked_and_leaves_lines_for_what_is_missing() -> None:
    made = make_booklet(
        invent_plan(n_nights=7),
        protocol=read_default_protocol(),
        scale=Scale.FIVE,
        pieces=PIECES,
        paper=Paper.A4,
        language=read_language("en"),
    )
    for page in range(N_FRONT + 8):
        assert "Draft. The site has not signed its protocol yet." in read_text(made, page=page)
    assert "Call ." not in read_text(made, page=N_FRONT)
    assert "What the clinic taught you to do:" in read_text(made, page=4)
    boxes = is_dark(picture(made, page=4))
    long = [mm(longest_run(row)) >= 60.0 for row in boxes[px(35) : px(95)]]
    # The number, two lines for the site's own words, the clinic's number: two edges each.
    assert int(np.sum(np.diff(long) == 1)) >= 2 * 3


def test_an_invented_protocol_says_so_on_every_page() -> None:
    made = make_booklet(
        invent_plan(n_nights=7),
        protocol=replace(complete_protocol(), invented=True),
        scale=Scale.FIVE,
        pieces=PIECES,
        paper=Paper.LETTER,
        language=read_language("en"),
    )
    with open_pdf(made) as document:
        n_pages = len(document)
    for page in range(n_pages):
        assert "Invented example." in read_text(made, page=page)


def test_a_kit_numbers_the_pages_of_several_trainees_through() -> None:
    plans = [invent_plan(n, n_nights=7, trainee=f"HL-000{n}") for n in (5, 3, 1)]
    kit = make_kit(
        plans,
        protocol=complete_protocol(),
        scales=[Scale.FIVE, Scale.FOUR, None],
        pieces=PIECES,
        paper=Paper.A4,
        language=read_language("en"),
    )
    assert kit.layout.pdf == "pages.pdf"
    assert [page.pdf_page for page in kit.layout.pages] == list(range(24))
    with open_pdf(kit) as document:
        assert len(document) == 24
    assert [page.page_id for page in kit.layout.pages[21:]] == [
        f"HL-000{n}-SPARE" for n in (5, 3, 1)
    ]
    for number in (0, 8, 20, 23):
        page = kit.layout.pages[number]
        assert page.page_id in read_text(kit, page=page.pdf_page)
    assert kit.layout.pages[8].trainee == "HL-0003"


def test_a_kit_without_a_form_for_every_plan_is_refused() -> None:
    with pytest.raises(ValueError, match="one form of the rating for each"):
        make_kit(
            [invent_plan()],
            protocol=complete_protocol(),
            scales=[],
            pieces=PIECES,
            paper=Paper.A4,
            language=read_language("en"),
        )


def test_a_second_course_or_plan_gets_page_codes_of_its_own() -> None:
    plan = invent_plan()
    codes = {
        page_code(replace(plan, course=course, version=version), night=4)
        for course in (1, 2)
        for version in (1, 2)
    }
    assert "HL-0007-04" in codes
    assert len(codes) == 4


def test_a_booklet_printed_again_says_so_on_its_cover_and_on_every_sheet() -> None:
    plan = invent_plan(n_nights=7)
    again = make_booklet(
        plan,
        protocol=complete_protocol(),
        scale=Scale.FIVE,
        pieces=PIECES,
        paper=Paper.A4,
        language=read_language("en"),
        keys=(11, 12),
        number=2,
        is_reprint=True,
    )
    cover = " ".join(read_text(again, page=0).split())
    assert "Booklet 2 of this course" in cover
    assert "Printed again" in cover
    first = print_booklet(n_nights=7)
    assert "Printed again" not in read_text(first, page=0)
    assert "HL-0007-B2-04" in read_text(again, page=again.layout.pages[3].pdf_page)
    codes = [{page.page_id for page in each.layout.pages} for each in (first, again)]
    markers = [
        {m.id for page in each.layout.pages for m in page.markers} for each in (first, again)
    ]
    assert codes[0].isdisjoint(codes[1])
    assert markers[0] != markers[1]


def test_only_the_positions_of_the_plan_are_shown() -> None:
    booklet: Booklet = print_booklet(3)
    text = read_text(booklet, page=2)
    assert "to your own left" in text
    assert "Lift your chin" not in text
    assert "Nod your chin" not in text


@pytest.mark.parametrize("tag", ["en", "ar-XB"])
@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("scale", [Scale.FIVE, None])
def test_large_print_is_set_at_eighteen_points_throughout(
    paper: Paper, tag: str, scale: Scale | None
) -> None:
    # Large print: 18 pt is ideal, 16 the least (UKAAF G003).
    booklet = print_booklet(n_nights=7, scale=scale, paper=paper, tag=tag, edition=Edition.LARGE)
    with open_pdf(booklet) as document:
        n_pages = len(document)
    least = 18.0 if tag == "en" else 16.0  # letters that join need more room on a sheet
    for page in range(n_pages):
        sizes = type_sizes(booklet, page=page)
        assert min(sizes) >= least, (page, sizes)
    for page in booklet.layout.pages:
        # Where lines run from right to left, a code's parts come out of the PDF in another order.
        assert all(part in read_text(booklet, page=page.pdf_page) for part in ("HL", "0007"))


def test_every_outline_of_large_print_is_where_the_layout_says() -> None:
    booklet = print_booklet(n_nights=7, edition=Edition.LARGE)
    assert [page.part for page in booklet.layout.pages] == [1, 2] * 8
    for page in booklet.layout.pages[:2]:
        image = picture(booklet, page=page.pdf_page)
        drop_out, dark = is_drop_out(image), is_dark(image)
        for target in (target for field in page.fields for target in field.targets):
            assert measured(drop_out, target) == pytest.approx(edges(target.box), abs=TOLERANCE_MM)
        for box in (*page.note_boxes, *page.free_boxes):
            assert measured_box(dark, box) == pytest.approx(edges(box), abs=TOLERANCE_MM)


def test_child_teenager_and_adult_are_spoken_to_each_in_their_own_words() -> None:
    texts = {
        audience: " ".join(
            " ".join(read_text(print_booklet(audience=audience), page=page).split())
            for page in range(N_FRONT)
        )
        for audience in Audience
    }
    child, teen, adult = (texts[audience] for audience in Audience)
    assert "For your adult helper" in child
    assert "Colour one stone" in child
    assert "helper" not in teen + adult
    assert "Is an adult with you?" in teen
    # An adult is present at every practice: for an adult trainee that is another one.
    assert "Is another adult with you?" in adult
    assert "Another adult stays close enough to touch you" in adult
    assert "Another adult is there." in adult


def test_figures_of_child_teenager_and_adult_differ_and_heads_on_sheets_do_not() -> None:
    steps = [picture(print_booklet(audience=audience), page=1) for audience in Audience]
    assert all(np.abs(one - two).mean() > 0.3 for one, two in combinations(steps, 2))
    nights = [picture(print_booklet(audience=audience), page=N_FRONT) for audience in Audience]
    assert all(np.array_equal(one, two) for one, two in combinations(nights, 2))


def test_the_reader_of_a_booklet_follows_from_the_age_band() -> None:
    protocol = complete_protocol()
    bands = [band.name for band in protocol.bands]
    assert bands == ["four", "younger", "older", "adult"]
    told = [audience_of(replace(invent_plan(), band=band), protocol) for band in [*bands, "new"]]
    assert told == [Audience.CHILD, Audience.CHILD, Audience.CHILD, Audience.ADULT, Audience.CHILD]


def test_the_example_is_filled_in_and_is_no_page_of_the_layout() -> None:
    booklet = print_booklet()
    text = read_text(booklet, page=N_FRONT - 1)
    assert "Example" in text
    assert "Invented. Not to fill in." in text
    assert N_FRONT - 1 not in {page.pdf_page for page in booklet.layout.pages}
    empty = is_drop_out(picture(booklet, page=N_FRONT))
    filled = picture(booklet, page=N_FRONT - 1)
    blue = (filled[:, :, 2] - filled[:, :, 0]) > 60
    crossed = [
        target.id
        for field in booklet.layout.pages[0].fields
        for target in field.targets
        if blue[
            px(target.cy) - 20 : px(target.cy) + 20, px(target.cx) - 20 : px(target.cx) + 20
        ].mean()
        > 0.05
    ]
    assert len(crossed) == 13, crossed  # five ratings, five times "down", one why, best, written
    assert "p3.went_down.no" in crossed
    assert empty.any()


def test_pieces_are_counted_out_and_back() -> None:
    text = " ".join(read_text(print_booklet(), page=6).split())
    for words in ("S4: 4 mm 35", "C3: 15.8 × 5.85 mm 35", "70 pieces are planned, and 10 more"):
        assert words in text, text
    assert "Came back" in text


def test_a_sheet_is_photographed_by_four_drawn_rules() -> None:
    with pikepdf.open(BytesIO(print_booklet().pdf)) as pdf:
        described = [str(alt) for alt in alternatives(pdf.Root.StructTreeRoot)]
    assert all(drawing in described for _, drawing in PHOTO_RULES)
    assert len(PHOTO_RULES) == 4


def test_a_plan_of_more_nights_than_markers_can_tell_is_refused() -> None:
    with pytest.raises(Refused, match="96 nights do not fit a booklet"):
        print_booklet(n_nights=96)
