"""The outlines of a sheet as one drawing."""

import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from sidelong.paper.sheet import lay_out_sheet
from sidelong.paper.sheet_areas import Sheet
from sidelong.paper.sheet_art import DROP_OUT, draw_outlines
from sidelong.training.entry import Scale
from sidelong.training.position import ALL_POSITIONS

SVG = "{http://www.w3.org/2000/svg}"


def drawn(sheet: Sheet, *, piece: tuple[float, float, str], turned: bool = False) -> ET.Element:
    return ET.fromstring(draw_outlines(sheet, piece=piece, right_to_left=turned))


def test_there_is_one_outline_for_every_mark_and_box_and_no_other() -> None:
    sheet = lay_out_sheet(ALL_POSITIONS, scale=Scale.FIVE)
    boxes = [name for name in sheet.areas if name.endswith(".box")]
    picture = drawn(sheet, piece=(4.0, 4.0, "oval"))
    assert len(picture.findall(f"{SVG}rect")) == len(sheet.answers) + len(boxes)
    assert picture.get("viewBox") == "0 0 184.6 254.0"


@pytest.mark.parametrize("turned", [False, True])
def test_the_piece_is_drawn_at_true_size_within_its_place(turned: bool) -> None:
    sheet = lay_out_sheet(ALL_POSITIONS, scale=Scale.FIVE, right_to_left=turned)
    area = sheet.areas["piece.drawing"]
    [piece] = drawn(sheet, piece=(9.0, 6.0, "oval"), turned=turned).findall(f"{SVG}ellipse")
    cx, rx, ry, thick = (float(piece.get(k, "")) for k in ("cx", "rx", "ry", "stroke-width"))
    assert (2 * rx + thick, 2 * ry + thick) == pytest.approx((9.0, 6.0), abs=0.005)
    assert area.x - 0.01 <= cx - 4.5
    assert cx + 4.5 <= area.x + area.w + 0.01


def test_a_piece_that_would_not_fit_its_place_is_left_to_the_true_size_page() -> None:
    sheet = lay_out_sheet(ALL_POSITIONS, scale=Scale.FIVE)
    for piece in ((15.8, 15.8, "oval"), (40.0, 8.0, "oval")):
        assert not drawn(sheet, piece=piece).findall(f"{SVG}ellipse")


def test_every_step_but_the_first_begins_higher_than_the_one_before() -> None:
    sheet = lay_out_sheet(ALL_POSITIONS, scale=Scale.FOUR)
    steps = [answer.step for answer in sheet.of("p1.rating") if answer.step]
    assert len(steps) == 4
    assert all(two.y < one.y and two.x > one.x for one, two in pairwise(steps))


def test_outlines_drop_out_in_red_and_are_seen_by_eyes_and_in_grey() -> None:
    # WCAG 2.2, 1.4.11: graphics that are needed have 3:1. Relative luminance as WCAG defines it.
    red, green, blue = (int(DROP_OUT[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [
        ((c + 0.055) / 1.055) ** 2.4 if c > 0.04045 else c / 12.92 for c in (red, green, blue)
    ]
    luminance = sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    assert 1.05 / (luminance + 0.05) >= 3.0
    assert red >= 0.9
