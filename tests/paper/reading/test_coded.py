"""Sheets found by their QR codes alone, and sheets read without the kit they were printed from."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from photographed import (
    code_reader,
    curl,
    lay,
    pages,
    photograph,
    print_of,
    print_page,
    printed_kit,
    reader,
    table,
    target_error_mm,
    turned_corners,
)
from test_reader import cover

from sidelong.exchange.protocols import read_default_protocol
from sidelong.paper.reading.opening import open_reader
from sidelong.paper.reading.rebuilding import likely_keys, rebuild_page
from sidelong.paper.reading.reference import draw_page
from sidelong.paper.reading.set_again import PagesSetAgain
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Edition
from sidelong.training.reading import PageStatus
from sidelong.training.sheet_code import N_PLACES

MIDDLE = (1000.0, 1000.0)


@pytest.mark.parametrize(("angle", "codes"), [(3.0, (0, 1)), (181.0, (0,)), (92.0, (1,))])
def test_a_sheet_without_any_tag_is_named_by_its_code_and_left_to_a_person(
    angle: float, codes: tuple[int, ...]
) -> None:
    page = pages()[1]
    hidden = [page.codes[place] for place in (0, 1) if place not in codes]
    sheet = cover(print_page(1), *(marker.box for marker in page.markers), *hidden)
    corners = turned_corners(page, angle=angle, scale=6.0, middle=MIDDLE)
    picture, homography = lay(sheet, page, corners, table(2000, 2000))
    reading, [seen] = reader().read(photograph(picture))
    assert [each.page_id for each in reading.pages] == [page.page_id]
    assert not any(field.accepted for field in reading.pages[0].fields.values())
    assert target_error_mm(seen, homography) < 0.5
    assert reading.pages[0].status is PageStatus.OK


def test_a_code_with_one_tag_and_no_outline_is_enough_to_find_a_sheet() -> None:
    page = pages()[1]
    hidden = [marker.box for marker in page.markers if marker.id % N_PLACES != 5]
    sheet = cover(print_page(1), *hidden, page.codes[1])
    corners = turned_corners(page, angle=3, scale=6.0, middle=MIDDLE)
    white = np.full((2000, 2000, 3), 250, np.uint8)
    picture, homography = lay(sheet, page, corners, white)
    reading, [seen] = reader().read(photograph(picture))
    assert [each.page_id for each in reading.pages] == [page.page_id]
    if reading.pages[0].status is PageStatus.OK:
        assert target_error_mm(seen, homography) < 0.5


def test_a_code_that_lies_on_another_sheet_is_not_trusted() -> None:
    """A code cut from page 1 lies in the middle of page 3, whose tags and codes are covered."""
    page, sheet = pages()[3], print_page(3)
    sheet = cover(sheet, *(marker.box for marker in page.markers), *page.codes)
    (x, y), side = (700, 1100), 140
    box = pages()[1].codes[0]
    at = (int(box.x * 8 - 6), int(box.y * 8 - 6))
    cut = print_page(1)[at[1] : at[1] + side, at[0] : at[0] + side]
    sheet[y : y + side, x : x + side] = cut
    corners = turned_corners(page, angle=3, scale=6.0, middle=MIDDLE)
    picture, _ = lay(sheet, page, corners, table(2000, 2000))
    reading, _ = reader().read(photograph(picture))
    assert all(each.status is PageStatus.UNSURE_ID for each in reading.pages)


@pytest.mark.parametrize(
    ("edition", "language", "paper"),
    [
        (Edition.STANDARD, "en", Paper.A4),
        (Edition.STANDARD, "en", Paper.LETTER),
        (Edition.STANDARD, "ar-XB", Paper.A4),
        (Edition.LARGE, "en", Paper.A4),
        (Edition.LARGE, "ar-XB", Paper.LETTER),
    ],
)
def test_what_a_code_says_rebuilds_the_layout_that_was_printed(
    edition: Edition, language: str, paper: Paper
) -> None:
    kit = printed_kit(edition=edition, language=language, paper=paper)
    (dx, dy), (ax, ay) = paper.offset_mm, Paper.A4.offset_mm
    for number in (0, 1, len(kit.layout.pages) - 1):
        page = kit.layout.pages[number]
        corners = turned_corners(page, angle=2, scale=6.0, middle=MIDDLE)
        picture, _ = lay(print_of(kit, number), page, corners, table(2000, 2000))
        known = code_reader()
        reading, _ = known.read(photograph(picture))
        assert [each.page_id for each in reading.pages] == [page.page_id]
        assert reading.pages[0].status is PageStatus.OK
        again = known.pages[page.page_id]
        kept = ("order", "scale", "language", "part", "night", "course", "version", "trainee")
        assert [getattr(again, name) for name in kept] == [getattr(page, name) for name in kept]
        assert [each.id for each in again.fields] == [each.id for each in page.fields]
        for field, other in zip(page.fields, again.fields, strict=True):
            for target, same in zip(field.targets, other.targets, strict=True):
                assert (target.id, target.kind, target.w) == (same.id, same.kind, same.w)
                assert same.cx - ax == pytest.approx(target.cx - dx, abs=0.002)
                assert same.cy - ay == pytest.approx(target.cy - dy, abs=0.002)
        assert {marker.id for marker in again.markers} == {marker.id for marker in page.markers}


@pytest.mark.parametrize(
    ("edition", "language"),
    [(Edition.STANDARD, "en"), (Edition.STANDARD, "ar-XB"), (Edition.LARGE, "en")],
)
@pytest.mark.parametrize("by_mm", [0.0, 4.0])
def test_without_a_kit_a_curled_sheet_is_laid_as_flat_as_with_it(
    edition: Edition, language: str, by_mm: float
) -> None:
    """The site's number and pieces are not those that the page is set again with."""
    kit = printed_kit(edition=edition, language=language)
    page = kit.layout.pages[4]
    sheet, lands = curl(print_of(kit, 4), by_mm=by_mm)
    corners = turned_corners(page, angle=9, scale=6.0, middle=MIDDLE, lean=0.08)
    picture, homography = lay(sheet, page, corners, table(2000, 2000))
    _, [seen] = code_reader().read(photograph(picture))
    assert target_error_mm(seen, homography, lands) < 0.5


def test_where_a_kits_pdf_is_missing_its_pages_are_set_again(tmp_path: Path) -> None:
    kit, protocol = printed_kit(), read_default_protocol()
    page = kit.layout.pages[1]
    sheet, lands = curl(print_of(kit, 1), by_mm=4.0)
    corners = turned_corners(page, angle=9, scale=6.0, middle=MIDDLE, lean=0.08)
    picture, homography = lay(sheet, page, corners, table(2000, 2000))
    known = open_reader(kit.layout, folder=tmp_path, protocol=protocol)
    _, [seen] = known.read(photograph(picture))
    assert target_error_mm(seen, homography, lands) < 0.5


def test_a_page_that_does_not_say_what_it_follows_from_is_drawn_without_words() -> None:
    pages_again = PagesSetAgain(read_default_protocol())
    for unsaid in ({"order": ()}, {"language": ""}, {"language": "qx"}, {"markers": ()}):
        page = replace(pages()[0], **unsaid)
        assert (pages_again.grey(page) == draw_page(page)).all()
    assert (pages_again.grey(pages()[0]) != draw_page(pages()[0])).any()


def test_without_a_layout_two_sheets_are_both_read() -> None:
    picture = table(2600, 2000)
    for number, x in ((0, 660.0), (4, 1940.0)):
        corners = turned_corners(pages()[number], angle=2, scale=5.2, middle=(x, 1000.0))
        picture, _ = lay(print_page(number), pages()[number], corners, picture)
    reading, _ = code_reader().read(photograph(picture))
    assert {each.page_id for each in reading.pages} == {pages()[n].page_id for n in (0, 4)}
    assert {each.status for each in reading.pages} == {PageStatus.OK}


def test_without_a_layout_a_sheet_of_a_second_booklet_has_the_name_that_is_printed_on_it() -> None:
    kit = printed_kit(booklet=2)
    page = kit.layout.pages[1]
    corners = turned_corners(page, angle=2, scale=6.0, middle=MIDDLE)
    picture, _ = lay(print_of(kit, 1), page, corners, table(2000, 2000))
    reading, _ = code_reader().read(photograph(picture))
    assert page.page_id == "HL-0007-B2-02"
    assert [(each.page_id, each.status) for each in reading.pages] == [
        (page.page_id, PageStatus.OK)
    ]


@pytest.mark.parametrize("other", [1, 2])
def test_without_a_layout_a_night_that_was_printed_twice_is_read_from_both(other: int) -> None:
    picture, named = table(2600, 2000), []
    for booklet, x in ((1, 660.0), (other, 1940.0)):
        kit = printed_kit(booklet=booklet)
        page = kit.layout.pages[2]
        corners = turned_corners(page, angle=2, scale=5.2, middle=(x, 1000.0))
        picture, _ = lay(print_of(kit, 2), page, corners, picture)
        named.append(page.page_id)
    _, seen = code_reader().read(photograph(picture))
    assert sorted(each.reading.page_id for each in seen) == sorted(named)
    assert sorted(each.number for each in seen) == ([1, 2] if other == 1 else [1, 1])
    assert {each.reading.status for each in seen} == {PageStatus.OK}


def test_without_a_layout_a_sheet_whose_codes_are_hidden_is_not_guessed() -> None:
    page = pages()[1]
    corners = turned_corners(page, angle=2, scale=6.0, middle=MIDDLE)
    sheet = cover(print_page(1), *page.codes)
    picture, _ = lay(sheet, page, corners, table(2000, 2000))
    assert code_reader().read(photograph(picture))[0].pages == ()


def test_a_booklet_has_the_first_of_its_likely_numbers_while_its_table_has_few_others() -> None:
    code_page = rebuild_page(_code_of(0), key=likely_keys(_code_of(0))[0])
    assert code_page.markers[0].id == pages()[0].markers[0].id


def _code_of(number: int):
    from sidelong.paper.reading.codes import find_codes

    page = pages()[number]
    corners = turned_corners(page, angle=0, scale=6.0, middle=MIDDLE)
    picture, _ = lay(print_page(number), page, corners, table(2000, 2000))
    return find_codes(photograph(picture))[0].code
