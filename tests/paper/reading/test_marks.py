"""What is read on marks that tests draw themselves, apart from the generators of the benchmarks."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn_page import BLUE, RED, SCALE, Page, field, sheet
from numpy.typing import NDArray

from sidelong.paper.reading.evidence import answer_chances
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.marks import judge_field, judge_fields, watched_places
from sidelong.training.layout import Target


def test_an_empty_page_whose_print_is_known_is_read_as_blank_and_accepted() -> None:
    readings = Page().read()
    assert {each.value for each in readings.values()} == {""}
    assert all(each.accepted for each in readings.values())


def test_an_empty_page_is_read_as_blank_and_accepted_where_targets_are_near() -> None:
    """Where they stand far apart, a mark on the words between may hide; a person may look."""
    readings = Page(is_print_known=False).read()
    assert {each.value for each in readings.values()} == {""}
    near = [each.id for each in sheet().fields if watched_places(each) == each.targets]
    assert sum(not readings[name].accepted for name in near) <= 2


KINDS = ("filled", "ticked", "crossed", "ringed", "half_filled", "crayon", "sticker")


@pytest.mark.parametrize("colour", [BLUE, RED, (20, 20, 20)], ids=["blue", "red", "black"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_plain_mark_is_read_as_its_value_or_goes_to_review(
    kind: str, colour: tuple[int, int, int]
) -> None:
    page, meant = Page(), {}
    for place, asked in enumerate(sheet().fields):
        if asked.id.endswith(("rating", "went_down")) or asked.id == "felt_best":
            target = asked.targets[place % len(asked.targets)]
            page.mark(target, kind, colour=colour)
            meant[asked.id] = target.value
    readings = page.read()
    read = {name: readings[name].value for name in meant}
    wrong = {name for name in meant if read[name] != meant[name]}
    assert not {name for name in wrong if readings[name].accepted}
    assert len(wrong) <= 3
    # A zigzag of crayon looks like crossing out; a person must look.
    assert kind == "crayon" or sum(readings[name].accepted for name in meant) >= 0.5 * len(meant)


knowing = pytest.mark.parametrize("is_print_known", [True, False], ids=["printed", "alone"])


@knowing
@pytest.mark.parametrize("darkness", [215, 200, 180, 150])
def test_a_pencil_however_faint_never_becomes_an_accepted_blank(
    darkness: int, is_print_known: bool
) -> None:
    page = Page(is_print_known=is_print_known)
    asked = [each for each in sheet().fields if each.id.endswith("rating")]
    for each in asked:
        page.mark(each.targets[0], "crossed", colour=(darkness,) * 3, width=0.5)
    readings = page.read()
    lost = [each.id for each in asked if readings[each.id].accepted and not readings[each.id].value]
    assert lost == []


TO_REVIEW = ("p1.rating", "p2.went_down", "felt_best", "p3.why_not", "written")


@knowing
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", TO_REVIEW)
def test_two_equal_marks_go_to_review(name: str, kind: str, is_print_known: bool) -> None:
    page = Page(is_print_known=is_print_known)
    for target in (field(name).targets[0], field(name).targets[-1]):
        page.mark(target, kind)
    assert not page.read()[name].accepted


@knowing
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", TO_REVIEW)
def test_a_mark_between_two_targets_goes_to_review(
    name: str, kind: str, is_print_known: bool
) -> None:
    page = Page(is_print_known=is_print_known)
    first, second = field(name).targets[:2]
    middle = Target(
        "middle",
        "x",
        first.kind,
        (first.cx + second.cx) / 2,
        (first.cy + second.cy) / 2,
        first.w,
        first.h,
    )
    page.mark(middle, kind)
    assert not page.read()[name].accepted


@knowing
@pytest.mark.parametrize("lower_half", [False, True], ids=["all of it", "one half"])
@pytest.mark.parametrize("kind", ["filled", "ticked", "crossed", "ringed"])
def test_a_half_erased_only_mark_goes_to_review(
    kind: str, lower_half: bool, is_print_known: bool
) -> None:
    page = Page(is_print_known=is_print_known)
    for number in (1, 2, 3, 4, 5):
        page.mark(field(f"p{number}.rating").targets[1], kind)
        page.mark(field(f"p{number}.went_down").targets[0], kind)
    page.rub_out(field("p2.rating").targets[1], 0.9 if lower_half else 0.6, lower_half=lower_half)
    assert not page.read()["p2.rating"].accepted


@pytest.mark.parametrize("name", ["p1.went_down", "p3.went_down", "p2.why_not"])
def test_what_light_has_washed_out_is_not_accepted_as_blank(name: str) -> None:
    """A reflection takes a mark away with the outline of its target."""
    page = Page()
    target = field(name).targets[1]
    page.mark(target, "ticked")
    x, y = (round(at * SCALE) for at in (target.cx, target.cy))
    cv2.circle(page.pixels, (x, y), round(8 * SCALE), (255, 255, 255), -1)
    reading = page.read()[name]
    assert (reading.value, reading.accepted) == ("", False)


def test_a_photograph_too_poor_for_pencil_yields_no_accepted_blank() -> None:
    for quality in (
        Quality(px_per_mm=2.0, blur_mm=0.1, noise=1.0, contrast=0.9),
        Quality(px_per_mm=8.0, blur_mm=0.9, noise=1.0, contrast=0.9),
        Quality(px_per_mm=8.0, blur_mm=0.1, noise=25.0, contrast=0.9),
    ):
        assert not any(each.accepted for each in Page().read(quality).values())


def test_a_field_that_is_partly_outside_the_photograph_is_not_accepted() -> None:
    page = Page()
    contexts = [
        replace(page.context(each), visible=np.full(len(watched_places(each)), 0.8))
        for each in sheet().fields
    ]
    wide = page.seen()
    seen = [page.patches(each, wide) for each in sheet().fields]
    assert not any(each.accepted for each in judge_fields(seen, contexts))


def test_nothing_is_accepted_without_the_rest_of_its_page() -> None:
    page, asked = Page(), field("p1.rating")
    page.mark(asked.targets[2], "crossed")
    assert not judge_field(page.patches(asked), page.context(asked)).accepted


def test_the_same_patches_give_the_same_readings() -> None:
    page = Page()
    page.mark(field("p1.rating").targets[2], "ticked")
    assert page.read() == page.read()


def test_chances_of_a_field_follow_from_those_of_its_places() -> None:
    """Worked by hand: one mark, one empty, one crossed out; then a gap."""
    sights = np.array(
        [
            [0.1, 0.9, 0.0, 0.0, 0.0],
            [0.8, 0.1, 0.0, 0.1, 0.0],
            [0.2, 0.1, 0.7, 0.0, 0.0],
            [0.5, 0.0, 0.0, 0.0, 0.5],
        ]
    )
    with np.errstate(divide="ignore"):
        chances: NDArray[np.float64] = answer_chances(np.log(sights).astype(np.float32), 3)
    assert chances == pytest.approx(
        [
            0.9 * 0.9 * 0.9 * 0.5,
            0.1 * 0.1 * 0.9 * 0.5,
            0.1 * 0.1 * 0.9 * 0.5,
            0.1 * 0.8 * 0.2 * 0.5,
        ],
        rel=1e-5,
    )


def test_gaps_are_watched_where_neighbours_are_far() -> None:
    rating = watched_places(field("p1.rating"))
    assert len(rating) == 2 * len(field("p1.rating").targets) - 1
    assert rating[len(field("p1.rating").targets)].cx == pytest.approx(
        (rating[0].cx + rating[1].cx) / 2
    )
    assert watched_places(field("p1.why_not")) == field("p1.why_not").targets
