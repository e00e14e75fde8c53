"""The sheet's geometry: what a camera and a child's pen ask of it."""

from itertools import combinations

import pytest

from sidelong.paper.large_sheet import lay_out_large_sheets
from sidelong.paper.sheet import Paper, as_spare, lay_out_sheet
from sidelong.paper.sheet_areas import (
    BOX_HEIGHT_MM,
    BOX_WIDTH_MM,
    CODE_PLACES,
    FREE_BOXES,
    NOTE_BOXES,
    TAG_PLACES,
    TAG_QUIET_MM,
    Area,
    Sheet,
)
from sidelong.paper.sheet_page import sheet_page
from sidelong.training.entry import Scale
from sidelong.training.position import ALL_POSITIONS, Position
from sidelong.training.sheet_code import SheetCode, marker_ids

FORMS = (Scale.FIVE, Scale.FOUR, Scale.THREE, Scale.TWO, None)
ORDER = (Position.RIGHT, Position.DOWN, Position.UP, Position.CENTRE, Position.LEFT)


def every_sheet() -> list[Sheet]:
    sheets = []
    for n in range(1, 6):
        for form in FORMS:
            for turned in (False, True):
                whole = lay_out_sheet(ORDER[:n], scale=form, right_to_left=turned)
                large = lay_out_large_sheets(ORDER[:n], scale=form, right_to_left=turned)
                plain = [whole, *large]
                sheets += [*plain, *(as_spare(each, right_to_left=turned) for each in plain)]
    return sheets


def overlap(one: Area, two: Area) -> bool:
    slack = 1e-6
    return (
        one.x + slack < two.x + two.w
        and two.x + slack < one.x + one.w
        and one.y + slack < two.y + two.h
        and two.y + slack < one.y + one.h
    )


def occupied(sheet: Sheet) -> dict[str, Area]:
    """All that is printed on a sheet, by name, apart from whole rows."""
    found = {name: a for name, a in sheet.areas.items() if not name.endswith(".row")}
    for answer in sheet.answers:
        key = f"{answer.field}.{answer.value}"
        found[f"{key} mark"] = answer.mark
        # The reasons share one label a line.
        if not (answer.field.endswith("why_not") and answer.field != "p1.why_not"):
            found[f"{key} label"] = answer.label
        if answer.glyph is not None:
            found[f"{key} glyph"] = answer.glyph
    return found


def test_the_box_stays_half_an_inch_away_from_every_edge_of_both_papers() -> None:
    # A4: ISO 216, 210 x 297 mm. Letter: 8.5 x 11 in. Half an inch is 12.7 mm.
    assert Paper.A4.size_mm == (210.0, 297.0)
    assert Paper.LETTER.size_mm == pytest.approx((8.5 * 25.4, 11 * 25.4))
    for paper in Paper:
        assert min(paper.offset_mm) >= 12.7 - 1e-9
    assert Paper.A4.offset_mm[0] == pytest.approx(12.7)
    assert Paper.LETTER.offset_mm[1] == pytest.approx(12.7)


def test_nothing_leaves_the_box() -> None:
    for sheet in every_sheet():
        for name, area in occupied(sheet).items():
            assert area.x >= -1e-9, name
            assert area.y >= -1e-9, name
            assert area.x + area.w <= BOX_WIDTH_MM + 1e-9, name
            assert area.y + area.h <= BOX_HEIGHT_MM + 1e-9, name


def test_nothing_that_is_printed_lies_on_something_else() -> None:
    for sheet in every_sheet():
        for (name, one), (other, two) in combinations(occupied(sheet).items(), 2):
            assert not overlap(one, two), f"{name} and {other}"


def test_marks_are_large_and_far_apart_enough_for_a_camera() -> None:
    for sheet in every_sheet():
        for answer in sheet.answers:
            assert min(answer.mark.w, answer.mark.h) >= 7.0
        for one, two in combinations(sheet.answers, 2):
            dx, dy = one.mark.x - two.mark.x, one.mark.y - two.mark.y
            assert (dx * dx + dy * dy) ** 0.5 >= 13.0 - 1e-9, (one, two)


def test_boxes_to_write_in_are_at_least_ten_millimetres_high() -> None:
    for sheet in every_sheet():
        boxes = [sheet.areas[name] for name in (*NOTE_BOXES, *FREE_BOXES) if name in sheet.areas]
        assert len(boxes) >= 1
        assert all(box.h >= 10.0 - 1e-9 for box in boxes)


def test_six_tags_and_two_codes_have_their_places_and_quiet_zones() -> None:
    corners = {(0.0, 0.0), (170.6, 0.0), (0.0, 240.0), (170.6, 240.0)}
    for sheet in every_sheet():
        tags = [sheet.areas[name] for name in TAG_PLACES]
        codes = [sheet.areas[name] for name in CODE_PLACES]
        assert [area.w for area in (*tags, *codes)] == [14.0] * 6 + [16.0] * 2
        assert corners <= {(round(area.x, 3), round(area.y, 3)) for area in tags}
        # Around a tag one of its cells, around a QR code four (ISO/IEC 18004), 25 a side.
        zones = [widened(area, TAG_QUIET_MM) for area in tags]
        zones += [widened(area, 4 * 16.0 / 25) for area in codes]
        for name, area in occupied(sheet).items():
            inside = [zone for zone in zones if overlap(area, zone)]
            assert len(inside) == (1 if name in (*TAG_PLACES, *CODE_PLACES) else 0), name


def widened(area: Area, by: float) -> Area:
    return Area(area.x - by, area.y - by, area.w + 2 * by, area.h + 2 * by)


def test_tags_keep_their_places_where_lines_run_from_right_to_left() -> None:
    plain = lay_out_sheet(ORDER, scale=Scale.FIVE)
    turned = lay_out_sheet(ORDER, scale=Scale.FIVE, right_to_left=True)
    assert [plain.areas[name] for name in TAG_PLACES] == [turned.areas[n] for n in TAG_PLACES]


def test_the_two_pages_of_large_print_ask_what_one_page_asks_but_for_the_reasons() -> None:
    for form in FORMS:
        for n in range(1, 6):
            whole = set(lay_out_sheet(ORDER[:n], scale=form).fields)
            first, second = lay_out_large_sheets(ORDER[:n], scale=form)
            assert not set(first.fields) & set(second.fields)
            left_out = {name for name in whole if name.endswith("why_not") and form is not None}
            assert {*first.fields, *second.fields} == whole - left_out


def test_a_spare_sheet_asks_which_night_it_stands_for_and_shows_no_piece() -> None:
    sheet = as_spare(lay_out_sheet(ORDER, scale=Scale.FIVE))
    assert "night.box" in sheet.areas
    assert not {"piece", "piece.drawing"} & set(sheet.areas)
    assert "pieces.box" in sheet.areas


@pytest.mark.parametrize("scale", list(Scale))
def test_the_stair_rises_with_the_rating(scale: Scale) -> None:
    sheet = lay_out_sheet(ORDER, scale=scale)
    steps = sheet.of("p3.rating")
    assert [int(step.value) for step in steps] == list(scale.ratings)
    assert [s.mark.x for s in steps] == sorted(s.mark.x for s in steps)
    assert [s.mark.y for s in steps] == sorted((s.mark.y for s in steps), reverse=True)
    assert len({s.mark.y for s in steps}) == len(steps)


def test_every_form_asks_what_its_age_can_answer() -> None:
    child = lay_out_sheet(ORDER, scale=Scale.FIVE).fields
    assert {"p1.rating", "p5.rating", "p5.went_down", "p5.why_not", "felt_best"} <= set(child)
    assert {"skipped", "written"} <= set(child)
    supporter = lay_out_sheet(ORDER, scale=None).fields
    assert not any(name.endswith("rating") or name == "felt_best" for name in supporter)
    assert {"p5.went_down", "p5.why_not", "tomorrow"} <= set(supporter)


def test_all_the_same_is_an_answer_and_one_position_alone_is_not_compared() -> None:
    values = [answer.value for answer in lay_out_sheet(ORDER, scale=Scale.FIVE).of("felt_best")]
    assert values == [*ALL_POSITIONS, "same"]
    alone = lay_out_sheet((Position.CENTRE,), scale=Scale.FIVE)
    assert "felt_best" not in alone.fields


def test_right_to_left_turns_the_sheet_and_keeps_left_on_the_left() -> None:
    plain = lay_out_sheet(ORDER, scale=Scale.FIVE)
    turned = lay_out_sheet(ORDER, scale=Scale.FIVE, right_to_left=True)
    assert turned.areas["title"] == plain.areas["title"].mirrored()
    for field in ("p2.rating", "p2.went_down", "written"):
        pairs = zip(plain.of(field), turned.of(field), strict=True)
        assert all(two.mark == one.mark.mirrored() for one, two in pairs)
    for sheet in (plain, turned):
        x = {answer.value: answer.mark.x for answer in sheet.of("felt_best")}
        assert x["left"] < x["centre"] < x["right"]
    assert {a.mark for a in turned.of("felt_best")} == {
        a.mark.mirrored() for a in plain.of("felt_best")
    }


def test_both_papers_carry_the_same_sheet() -> None:
    sheet = lay_out_sheet(ORDER, scale=Scale.FOUR)
    pages = {
        paper: sheet_page(
            sheet,
            paper=paper,
            page_id="HL-0007-04",
            pdf_page=3,
            code=SheetCode("HL-0007", 1, 1, 4, ORDER, "en", Scale.FOUR),
            markers=marker_ids(4, 7),
        )
        for paper in Paper
    }
    a4, letter = pages[Paper.A4], pages[Paper.LETTER]
    dx = Paper.LETTER.offset_mm[0] - Paper.A4.offset_mm[0]
    dy = Paper.LETTER.offset_mm[1] - Paper.A4.offset_mm[1]
    for one, two in zip(a4.fields, letter.fields, strict=True):
        for here, there in zip(one.targets, two.targets, strict=True):
            assert (there.cx - here.cx, there.cy - here.cy) == pytest.approx((dx, dy), abs=0.002)


def test_an_order_that_repeats_or_is_empty_is_refused() -> None:
    for order in ((), (Position.LEFT, Position.LEFT)):
        with pytest.raises(ValueError, match="one to five positions"):
            lay_out_sheet(order, scale=Scale.FIVE)
