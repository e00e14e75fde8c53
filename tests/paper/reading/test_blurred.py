"""Sheets whose tags cannot be read one by one: weighed together, or left to a person."""

import numpy as np
import pytest
from photographed import (
    blurred,
    lay,
    pages,
    photograph,
    print_page,
    reader,
    table,
    target_error_mm,
    turned_corners,
)
from test_reader import cover

from sidelong.paper.reading.blurred_tags import tell_page, weigh_tags
from sidelong.paper.reading.mapping import fit_homography, project
from sidelong.paper.reading.sheets import box_corners
from sidelong.paper.reading.squares import Placement, frame_of, place_sheets
from sidelong.paper.reading.tags import find_tags
from sidelong.training.layout import Box, SheetPage
from sidelong.training.reading import PageStatus
from sidelong.training.sheet_code import recognise_markers

MIDDLE = (800.0, 1000.0)
SCALE = 3.4  # px/mm: a cell of a tag has 6 px
TOO_BLURRED = 7.0  # px, more than a cell


def picture_of(sheet: np.ndarray, page: SheetPage, *, angle: float = 5.0, lean: float = 0.1):
    corners = turned_corners(page, angle=angle, scale=SCALE, middle=MIDDLE, lean=lean)
    return lay(sheet, page, corners, table(1600, 2000))


@pytest.mark.parametrize("angle", [5.0, 100.0, 180.0])
def test_a_sheet_none_of_whose_tags_can_be_read_is_told_by_all_of_them(angle: float) -> None:
    page = pages()[1]
    picture, homography = picture_of(print_page(1), page, angle=angle)
    taken = blurred(picture, sigma=TOO_BLURRED)
    assert len(find_tags(taken)) < 2
    reading, [seen] = reader().read(taken)
    assert [(each.page_id, each.status) for each in reading.pages] == [
        (page.page_id, PageStatus.OK)
    ]
    assert target_error_mm(seen, homography) < 1.5


@pytest.mark.parametrize("hidden", [(0, 5), (2, 3)])
def test_four_blurred_tags_on_a_table_as_white_as_paper_are_enough(hidden: tuple[int, int]) -> None:
    """There is no outline of the paper to be seen."""
    page = pages()[1]
    sheet = cover(print_page(1), *(page.markers[place].box for place in hidden))
    corners = turned_corners(page, angle=5, scale=SCALE, middle=MIDDLE)
    white = np.full((2000, 1600, 3), 250, np.uint8)
    picture, _ = lay(sheet, page, corners, white)
    reading, _ = reader().read(blurred(picture, sigma=5.5))
    assert [each.page_id for each in reading.pages] == [page.page_id]


def test_a_blurred_sheet_of_another_kit_is_never_accepted_as_one_of_this() -> None:
    other = [page for page in pages() if page.trainee == "HL-0015"]
    picture, _ = picture_of(print_page(0), pages()[0])
    reading, _ = reader(of=other, with_pdf=False).read(blurred(picture, sigma=TOO_BLURRED))
    assert all(each.status is PageStatus.UNSURE_ID for each in reading.pages)


@pytest.mark.parametrize("other", [1, 3])
def test_blurred_halves_of_two_sheets_are_never_accepted_as_either(other: int) -> None:
    """Page 1 is another night of the same booklet, page 3 the same night of another one."""
    mixed = print_page(other).copy()
    half = len(mixed) // 2
    mixed[:half] = print_page(0)[:half]
    picture, _ = picture_of(mixed, pages()[0])
    reading, _ = reader().read(blurred(picture, sigma=TOO_BLURRED - 1))
    assert all(each.status is PageStatus.UNSURE_ID for each in reading.pages)


def test_two_blurred_sheets_in_one_photograph_are_both_told() -> None:
    picture = table(2000, 1400)
    for number, x in ((0, 520.0), (3, 1480.0)):
        corners = turned_corners(pages()[number], angle=4, scale=SCALE, middle=(x, 700.0))
        picture, _ = lay(print_page(number), pages()[number], corners, picture)
    reading, _ = reader().read(blurred(picture, sigma=6.0))
    assert {each.page_id for each in reading.pages} == {pages()[n].page_id for n in (0, 3)}


def test_noise_has_no_margin_before_the_next_page() -> None:
    frame = frame_of(pages()[0])
    assert frame is not None
    noise = np.random.default_rng(3).integers(0, 256, (1200, 900, 3), dtype=np.uint8)
    placement = Placement(np.diag([4.0, 4.0, 1.0]), {}, 0.0)
    told = tell_page(weigh_tags(photograph(noise), frame, placement))
    assert told.margin < 3.0 or len(told.tags) < 3


def test_a_sharp_sheet_is_told_with_a_wide_margin_and_its_tags_lie_where_they_are() -> None:
    page = pages()[2]
    frame = frame_of(page)
    assert frame is not None
    picture, homography = picture_of(print_page(2), page, lean=0.0)
    told = tell_page(weigh_tags(photograph(picture), frame, Placement(homography, {}, 0.0)))
    assert (told.night, told.key) == recognise_markers(marker.id for marker in page.markers)
    assert told.margin > 40.0
    assert (len(told.tags), told.n_against) == (6, 0)


@pytest.mark.parametrize("seed", range(12))
def test_a_sheet_is_placed_by_four_of_its_squares_among_strange_shapes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    frame = frame_of(pages()[0])
    assert frame is not None
    angle, lean = rng.uniform(0, 360), rng.uniform(0, 0.15)
    corners = turned_corners(pages()[0], angle=angle, scale=2.5, middle=(700, 600), lean=lean)
    laid = fit_homography(frame.corners, corners)
    assert laid is not None
    seen = rng.permutation(6)[:5]
    shapes = [project(laid, frame.tags[place]) + rng.normal(0, 0.4, (4, 2)) for place in seen]
    shapes = [np.roll(shape, int(rng.integers(4)), axis=0) for shape in shapes]
    for x, y in rng.uniform(100, 1100, (6, 2)):
        shapes.append(rng.uniform(15, 50) * box_corners(Box(0, 0, 1, 1)) + (x, y))
    placed = place_sheets(shapes, frame, size=(1400, 1200))
    off = [np.abs(project(each.homography, frame.corners) - corners).max() for each in placed]
    assert min(off) < 25.0  # px; a tag has 35


def test_two_squares_place_no_sheet() -> None:
    frame = frame_of(pages()[0])
    assert frame is not None
    assert place_sheets([2 * frame.tags[0], 2 * frame.tags[5]], frame, size=(800, 800)) == ()
