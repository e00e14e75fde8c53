"""Ink beside print: by drawing it on a printed page."""

import cv2
import numpy as np
import pytest
from drawn_page import BLUE, SCALE, Page, field

from sidelong.paper.images import Pixels
from sidelong.paper.reading.ink import measure_ink, outlines_seen
from sidelong.paper.reading.mark_nets import shrink_patches, usual_target
from sidelong.paper.reading.marks import watched_places
from sidelong.paper.reading.stray_ink import UNSEEN, stray_ink
from sidelong.training.layout import Field

FIELDS = ("p1.rating", "p2.went_down", "p3.why_not", "felt_best", "written", "skipped")
NOTHING, SOMETHING = 6.0, 10.0  # grey levels


def look_at(page: Page, asked: Field, *, blur_mm: float = 0.1) -> tuple[Pixels, Pixels]:
    wide = page.seen()
    if blur_mm > 0.1:
        wide = cv2.GaussianBlur(wide, (0, 0), blur_mm * SCALE)
    printed = page.context(asked).printed
    assert printed is not None
    return shrink_patches(page.patches(asked, wide)), printed


@pytest.mark.parametrize("blur_mm", [0.1, 0.3])
@pytest.mark.parametrize("name", FIELDS)
def test_print_alone_is_no_stray_ink(name: str, blur_mm: float) -> None:
    small, printed = look_at(Page(), field(name), blur_mm=blur_mm)
    assert stray_ink(small, printed, blur_mm=blur_mm).max() < NOTHING


@pytest.mark.parametrize("name", FIELDS)
def test_print_that_lies_a_little_off_is_no_stray_ink(name: str) -> None:
    small, printed = look_at(Page(), field(name))
    moved = np.roll(printed, (1, -2), axis=(1, 2))
    assert stray_ink(small[:1], moved[:1], blur_mm=0.1).max() < NOTHING


@pytest.mark.parametrize("name", ["p1.rating", "felt_best", "written"])
def test_a_pale_dot_is_seen_wherever_it_lies_in_a_field(name: str) -> None:
    """Also on the words between far targets."""
    asked = field(name)
    for at, place in enumerate(watched_places(asked)):
        page = Page()
        middle = (round((place.cx + 1) * SCALE), round((place.cy + 2) * SCALE))
        cv2.circle(page.pixels, middle, round(1.6 * SCALE), (185, 185, 190), -1, cv2.LINE_AA)
        small, printed = look_at(page, asked)
        stray = stray_ink(small, printed, blur_mm=0.1)
        is_on_head = name == "felt_best" and place.id.endswith("+")  # pale on dark: nobody sees it
        assert stray[at] > SOMETHING or is_on_head, f"{place.id}: {stray[at]:.1f}"


def test_a_black_mark_on_a_dark_drawing_is_seen() -> None:
    asked = field("felt_best")
    places = watched_places(asked)
    heads = [at for at, place in enumerate(places) if place.id.endswith("+")]
    page = Page()
    empty, printed = look_at(page, asked)
    darkest = [np.unravel_index(printed[at].argmin(), printed[at].shape) for at in heads]
    for at, (row, column) in zip(heads, darkest, strict=True):
        x, y = places[at].cx - 7 + column / 3, places[at].cy - 7 + row / 3
        middle = (round(x * SCALE), round(y * SCALE))
        cv2.circle(page.pixels, middle, round(1.2 * SCALE), (0, 0, 0), -1, cv2.LINE_AA)
    marked, _ = look_at(page, asked)
    assert stray_ink(empty[heads], printed[heads], blur_mm=0.1).max() < NOTHING
    assert (stray_ink(marked[heads], printed[heads], blur_mm=0.1) > SOMETHING).all()


def test_a_place_that_is_printed_all_over_is_said_to_be_unseen() -> None:
    black = np.zeros((1, 42, 42), np.uint8)
    assert stray_ink(np.zeros((1, 42, 42, 3), np.uint8), black, blur_mm=0.1) == [UNSEEN]


def test_an_outline_under_ink_is_not_taken_for_one_that_light_has_washed_out() -> None:
    asked = field("p1.went_down")
    page = Page()
    page.mark(asked.targets[0], "filled")
    page.mark(asked.targets[0], "filled", width=1.2)
    target = asked.targets[2]
    middle = (round(target.cx * SCALE), round(target.cy * SCALE))
    cv2.circle(page.pixels, middle, round(8 * SCALE), (255, 255, 255), -1)
    small, _ = look_at(page, asked)
    usual = usual_target(look_at(Page(), asked)[0])
    inked, empty, washed_out = outlines_seen(small, usual)
    assert (inked, round(float(empty))) == (1.0, 1)
    assert washed_out < 0.1


def test_a_ring_around_a_target_is_as_dark_as_its_ink_where_print_is_known() -> None:
    asked = field("p1.went_down")
    page, target = Page(), asked.targets[1]
    angles = np.linspace(0, 2 * np.pi, 60)
    ring = [(target.cx + 5.8 * np.cos(a), target.cy + 5.8 * np.sin(a)) for a in angles]
    page.line(*ring, width=0.7, colour=BLUE)
    small, printed = look_at(page, asked)
    usual = usual_target(look_at(Page(), asked)[0])
    alone, _, _ = measure_ink(small[1], usual)
    known, _, _ = measure_ink(small[1], usual, printed[1])
    assert alone < 60 < 100 < known
