"""Tags and QR codes on rendered sheets, read by libraries that know nothing of how we drew them."""

from functools import cache

import cv2
import numpy as np
import pytest
import segno
import zxingcpp
from printed import invent_plan, open_pdf, print_booklet

from sidelong.paper.sheet import Paper, lay_out_sheet
from sidelong.paper.sheet_areas import CODE_MM, CODE_PLACES, TAG_PLACES
from sidelong.paper.sheet_codes import LEAST_CELL_MM, QUIET_CELLS, code_cells, tag_cells
from sidelong.paper.tag_patterns import TAG_PATTERNS
from sidelong.paper.version import Edition
from sidelong.training.entry import Scale
from sidelong.training.layout import Box, SheetPage
from sidelong.training.position import ALL_POSITIONS
from sidelong.training.sheet_code import (
    SheetCode,
    booklet_key,
    read_payload,
    recognise_markers,
    write_payload,
)

FAMILY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
EDITIONS = [(Paper.A4, "en"), (Paper.LETTER, "en"), (Paper.A4, "ar-XB"), (Paper.LETTER, "ar-XB")]


@cache
def render(paper: Paper, tag: str, *, night: int, dpi: int) -> tuple[SheetPage, np.ndarray]:
    """Give a sheet's place in the layout and its picture in grey."""
    booklet = print_booklet(paper=paper, tag=tag)
    page = booklet.layout.pages[night - 1]
    document = open_pdf(booklet)
    try:
        picture = np.asarray(document[page.pdf_page].render(scale=dpi / 72).to_pil().convert("L"))
    finally:
        document.close()
    return page, picture


def crop(picture: np.ndarray, box: Box, *, dpi: int, around_mm: float) -> np.ndarray:
    k = dpi / 25.4
    left, top = round((box.x - around_mm) * k), round((box.y - around_mm) * k)
    right = round((box.x + box.w + around_mm) * k)
    bottom = round((box.y + box.h + around_mm) * k)
    return np.ascontiguousarray(picture[top:bottom, left:right])


@pytest.mark.parametrize("dpi", [150, 300])
@pytest.mark.parametrize(("paper", "tag"), EDITIONS)
def test_six_tags_are_found_with_their_numbers_at_their_places(paper, tag, dpi):
    page, picture = render(paper, tag, night=4, dpi=dpi)
    wanted = {marker.id: marker.box for marker in page.markers}
    assert len(wanted) == 6
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, ids, _ = cv2.aruco.ArucoDetector(FAMILY, settings).detectMarkers(picture)
    assert sorted(np.ravel(ids)) == sorted(wanted)
    for found, number in zip(corners, np.ravel(ids), strict=True):
        box = wanted[int(number)]
        # Upper left first, then clockwise; a pixel's middle lies half a pixel inside.
        places = [
            (box.x, box.y),
            (box.x + box.w, box.y),
            (box.x + box.w, box.y + box.h),
            (box.x, box.y + box.h),
        ]
        assert (found[0] + 0.5) * 25.4 / dpi == pytest.approx(np.array(places), abs=0.2)
    assert recognise_markers(wanted) == (4, booklet_key("HL-0007", 1, 1))


@pytest.mark.parametrize("dpi", [150, 300])
@pytest.mark.parametrize(("paper", "tag"), EDITIONS)
def test_both_codes_are_read_by_two_libraries(paper, tag, dpi):
    page, picture = render(paper, tag, night=4, dpi=dpi)
    assert len(page.codes) == 2
    order = invent_plan().nights[3].order
    wanted = SheetCode("HL-0007", 1, 1, 4, order, tag, Scale.FIVE)
    for box in page.codes:
        piece = crop(picture, box, dpi=dpi, around_mm=2.4)
        [seen] = zxingcpp.read_barcodes(piece, formats=zxingcpp.BarcodeFormat.QRCode)
        assert read_payload(seen.text) == wanted
        large = cv2.resize(piece, None, fx=300 / dpi, fy=300 / dpi, interpolation=cv2.INTER_CUBIC)
        text, *_ = cv2.QRCodeDetector().detectAndDecode(large)
        assert read_payload(text) == wanted


@pytest.mark.parametrize(("paper", "tag"), EDITIONS)
def test_codes_stand_where_the_layout_says(paper, tag):
    page, picture = render(paper, tag, night=4, dpi=300)
    for box in page.codes:
        dark = crop(picture, box, dpi=300, around_mm=2.2) < 128
        rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
        for found in (rows, columns):
            assert (found[-1] + 1 - found[0]) * 25.4 / 300 == pytest.approx(CODE_MM, abs=0.2)
            assert found[0] * 25.4 / 300 == pytest.approx(2.2, abs=0.2)


@pytest.mark.parametrize("scale", [*Scale, None])
@pytest.mark.parametrize("tag", ["en", "en-XA", "ar-XB"])
def test_nothing_is_printed_in_the_quiet_zones(scale, tag):
    booklet = print_booklet(5, n_nights=7, scale=scale, tag=tag)
    assert_quiet(booklet, booklet.layout.pages[2])


@pytest.mark.parametrize("scale", [Scale.FIVE, None])
@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("tag", ["en", "en-XA", "ar-XB"])
def test_nothing_is_printed_in_the_quiet_zones_of_large_print_and_spare_sheets(scale, paper, tag):
    version = {"n_nights": 7, "scale": scale, "tag": tag, "paper": paper}
    booklet = print_booklet(5, edition=Edition.LARGE, **version)
    for page in (*booklet.layout.pages[:2], *booklet.layout.pages[-2:]):
        assert_quiet(booklet, page)
    plain = print_booklet(5, **version)
    assert_quiet(plain, plain.layout.pages[-1])


def assert_quiet(booklet, page):
    document = open_pdf(booklet)
    try:
        picture = np.asarray(document[page.pdf_page].render(scale=300 / 72).to_pil().convert("L"))
    finally:
        document.close()
    zones = [(marker.box, marker.box.w / 8) for marker in page.markers]  # one cell of the tag
    zones += [(box, QUIET_CELLS * box.w / 25) for box in page.codes]  # ISO/IEC 18004: four cells
    for box, quiet in zones:
        piece = crop(picture, box, dpi=300, around_mm=quiet - 0.05)
        edge = round((quiet - 0.25) * 300 / 25.4)
        piece[edge:-edge, edge:-edge] = 255
        assert piece.min() > 240, (box, quiet)


def test_the_table_of_patterns_is_the_dictionary_of_opencv():
    assert len(TAG_PATTERNS) == len(FAMILY.bytesList) == 587
    for number in range(587):
        printed = cv2.aruco.generateImageMarker(FAMILY, number, 8) < 128
        assert np.array_equal(np.array(tag_cells(number)), printed), number


def test_any_two_patterns_differ_in_eleven_cells_however_they_are_turned():
    # The family's name: 36 cells, Hamming distance at least 11 (Olson 2011, from memory).
    cells = np.array([np.array(tag_cells(number))[1:7, 1:7] for number in range(587)])
    flat = cells.reshape(587, 36).astype(np.int16) * 2 - 1
    for turns in range(4):
        turned = np.rot90(cells, turns, axes=(1, 2)).reshape(587, 36).astype(np.int16) * 2 - 1
        distance = (36 - flat @ turned.T) // 2
        if turns == 0:
            np.fill_diagonal(distance, 36)
        assert distance.min() >= 11


def test_tags_and_codes_keep_half_an_inch_from_the_edges_of_both_papers():
    sheet = lay_out_sheet(ALL_POSITIONS, scale=Scale.FIVE)
    for paper in Paper:
        width, height = paper.size_mm
        for name in (*TAG_PLACES, *CODE_PLACES):
            area = sheet.areas[name].moved(*paper.offset_mm)
            assert min(area.x, area.y) >= 12.0
            assert min(width - area.x - area.w, height - area.y - area.h) >= 12.0


@pytest.mark.parametrize("trainee", ["T-1", "HL-0007", "x" * 40, "A" * 40])
def test_cells_of_a_code_are_never_smaller_than_a_printer_can_show(trainee):
    code = SheetCode(trainee, 12, 12, 96, ALL_POSITIONS, "zh-Hant")
    assert CODE_MM / len(code_cells(write_payload(code))) >= LEAST_CELL_MM


def test_usual_codes_have_25_cells_a_side_and_level_m_or_better():
    payload = write_payload(SheetCode("HL-0007", 1, 1, 14, ALL_POSITIONS, "en"))
    assert len(code_cells(payload)) == 25
    assert segno.make_qr(payload, error="m").error in "MQH"
