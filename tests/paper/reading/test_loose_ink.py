"""Marks apart from all targets, drawn on a printed page that the reader itself finds."""

import cv2
import numpy as np
import pytest
from drawn_page import BLUE, Page, field, sheet
from printed import print_booklet

from sidelong.exchange.protocols import read_default_protocol
from sidelong.paper.images import from_pixels
from sidelong.paper.reading.opening import CodeReader
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.training.layout import Target
from sidelong.training.reading import FieldReading

_PEN_MM = 0.6


def read(page: Page, *, has_kit: bool = True) -> dict[str, FieldReading]:
    pixels = cv2.GaussianBlur(page.pixels, (0, 0), 0.6)
    printed = PrintedPages(print_booklet().pdf)
    reader = (
        Reader(PageIndex([sheet()]), printed=printed)
        if has_kit
        else CodeReader(read_default_protocol())
    )
    _, seen = reader.read(from_pixels(pixels, name="drawn"))
    return dict(seen[0].reading.fields)


def ring(page: Page, x: float, y: float, *, across: float, down: float) -> None:
    angles = np.linspace(0, 2 * np.pi, 60)
    places = [(x + across * np.cos(a), y + down * np.sin(a)) for a in angles]
    page.line(*places, width=_PEN_MM, colour=BLUE)


def target(name: str, place: int) -> Target:
    return field(name).targets[place]


with_and_without_kit = pytest.mark.parametrize("has_kit", [True, False], ids=["kit", "code"])


@with_and_without_kit
def test_every_blank_of_an_unmarked_page_is_accepted(has_kit: bool) -> None:
    readings = read(Page(), has_kit=has_kit)
    assert {each.value for each in readings.values()} == {""}
    assert all(each.accepted for each in readings.values())


@with_and_without_kit
@pytest.mark.parametrize("place", [0, 2])
def test_a_ring_around_the_word_below_a_target_leaves_its_question_to_a_person(
    place: int, has_kit: bool
) -> None:
    page, asked = Page(), target("p2.went_down", place)
    ring(page, asked.cx, asked.cy + 8.6, across=4.5, down=2.4)
    readings = read(page, has_kit=has_kit)
    assert not readings["p2.went_down"].accepted
    assert readings["p4.went_down"].accepted


def test_a_tick_on_the_stair_leaves_its_question_to_a_person() -> None:
    page, asked = Page(), target("p3.rating", 3)
    x, y = asked.cx, asked.cy + 7.5
    page.line((x - 3, y), (x - 1, y + 3), (x + 4, y - 3.2), width=_PEN_MM, colour=BLUE)
    readings = read(page)
    assert not readings["p3.rating"].accepted
    assert readings["p5.rating"].accepted


def test_marks_that_reach_beyond_their_targets_leave_blanks_beside_them_alone() -> None:
    page = Page()
    for number in (1, 3, 5):
        page.mark(target(f"p{number}.rating", 1), "ticked")
        page.mark(target(f"p{number}.went_down", 0), "ringed")
    readings = read(page)
    blanks = [name for name, each in readings.items() if not each.value]
    assert len(blanks) == len(readings) - 6
    assert all(readings[name].accepted for name in blanks)


def test_writing_in_its_boxes_and_in_the_margin_leaves_blanks_alone() -> None:
    page = Page()
    for box in (*sheet().note_boxes, *sheet().free_boxes):
        middle = box.y + box.h / 2
        word = [(box.x + 2 + i, middle + (2 if i % 2 else -2)) for i in range(int(box.w - 4))]
        page.line(*word, width=_PEN_MM, colour=BLUE)
    ring(page, sheet().width_mm / 2, sheet().height_mm - 6, across=9, down=4)
    assert all(each.accepted for each in read(page).values())
