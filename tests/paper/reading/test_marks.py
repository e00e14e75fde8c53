"""Marks drawn on a printed page by simple shapes, apart from the generators of the benchmarks."""

from functools import cache
from io import BytesIO

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest
from numpy.typing import NDArray
from printed import print_booklet

from sidelong.paper.images import Pixels
from sidelong.paper.reading.lighting import PAPER_WHITE, Quality
from sidelong.paper.reading.marks import answer_chances, judge_field, judge_fields, watched_places
from sidelong.paper.reading.patches import PATCH_PX, PATCH_PX_PER_MM, FieldContext
from sidelong.training.layout import Field, SheetPage, Target
from sidelong.training.reading import FieldReading

BLUE, GREY, RED = (30, 40, 150), (110, 110, 112), (200, 40, 40)
CLEAR = Quality(px_per_mm=8.0, blur_mm=0.1, noise=1.0, contrast=0.95)
SCALE = PATCH_PX_PER_MM


@cache
def sheet() -> SheetPage:
    return print_booklet().layout.pages[3]


@cache
def _bare() -> Pixels:
    document = pdfium.PdfDocument(BytesIO(print_booklet().pdf))
    bitmap = document[sheet().pdf_page].render(scale=SCALE * 25.4 / 72, rev_byteorder=True)
    return np.ascontiguousarray(bitmap.to_numpy()[:, :, :3])


class Page:
    """A printed page that a test draws on, in mm."""

    def __init__(self) -> None:
        self.pixels = _bare().copy()

    def line(self, *points: tuple[float, float], width: float, colour: tuple[int, int, int]):
        fixed = (np.array(points) * SCALE * 16).round().astype(np.int32).reshape(-1, 1, 2)
        thick = max(1, round(width * SCALE))
        cv2.polylines(self.pixels, [fixed], False, colour, thick, cv2.LINE_AA, 4)

    def mark(self, target: Target, kind: str, *, colour=BLUE, width: float = 0.6) -> None:
        x, y = target.cx, target.cy
        if kind == "filled":
            for i in np.arange(-3, 3.1, 0.5):
                reach = np.sqrt(max(11 - i * i, 0.5))
                self.line((x - reach, y + i), (x + reach, y + i), width=width, colour=colour)
        elif kind == "ticked":
            corners = ((x - 2.5, y), (x - 0.5, y + 2.5), (x + 4, y - 4))
            self.line(*corners, width=width, colour=colour)
        elif kind == "crossed":
            self.line((x - 3, y - 3), (x + 3, y + 3), width=width, colour=colour)
            self.line((x - 3, y + 3), (x + 3, y - 3), width=width, colour=colour)
        elif kind == "ringed":
            t = np.linspace(0, 2 * np.pi, 50)
            ring = [(x + 5 * np.cos(a), y + 4.7 * np.sin(a)) for a in t]
            self.line(*ring, width=width, colour=colour)
        elif kind == "half_filled":
            for i in np.arange(0.3, 3.1, 0.5):
                reach = np.sqrt(max(11 - i * i, 0.5))
                self.line((x - reach, y + i), (x + reach, y + i), width=width, colour=colour)
        elif kind == "crayon":
            zigzag = [(x + (5 if i % 2 else -5), y - 4 + i) for i in range(9)]
            self.line(*zigzag, width=2.0, colour=colour)
        else:
            centre = tuple(round(each * SCALE) for each in (x, y))
            cv2.circle(self.pixels, centre, round(5 * SCALE), (240, 180, 30), -1, cv2.LINE_AA)

    def rub_out(self, target: Target, share: float, *, lower_half: bool = False) -> None:
        top, left = (round((each - 6.5) * SCALE) for each in (target.cy, target.cx))
        middle = top + round(6.5 * SCALE) if lower_half else top
        window = (slice(middle, top + 13 * int(SCALE)), slice(left, left + 13 * int(SCALE)))
        bare, now = _bare()[window].astype(float), self.pixels[window].astype(float)
        self.pixels[window] = (now + (bare - now) * share).astype(np.uint8)

    def seen(self) -> NDArray[np.float64]:
        """Blur it a little, add noise, and leave a margin of 15 mm."""
        seen = cv2.GaussianBlur(self.pixels, (0, 0), 0.6).astype(float) * PAPER_WHITE / 255
        seen += np.random.default_rng(1).normal(0, 1.0, seen.shape)
        return np.pad(seen, ((90, 90), (90, 90), (0, 0)), constant_values=PAPER_WHITE)

    def patches(self, field: Field, wide: NDArray[np.float64] | None = None) -> Pixels:
        wide = self.seen() if wide is None else wide
        cut = []
        for place in watched_places(field):
            top = round(place.cy * SCALE - PATCH_PX / 2) + 90
            left = round(place.cx * SCALE - PATCH_PX / 2) + 90
            cut.append(wide[top : top + PATCH_PX, left : left + PATCH_PX])
        return np.clip(np.stack(cut), 0, 255).astype(np.uint8)

    def read(self, quality: Quality = CLEAR) -> dict[str, FieldReading]:
        fields = sheet().fields
        contexts = [
            FieldContext(field, quality, np.ones(len(watched_places(field)))) for field in fields
        ]
        wide = self.seen()
        readings = judge_fields([self.patches(field, wide) for field in fields], contexts)
        return {field.id: each for field, each in zip(fields, readings, strict=True)}


def field(name: str) -> Field:
    return next(each for each in sheet().fields if each.id == name)


def test_an_empty_page_is_read_as_blank_and_accepted_where_targets_are_near() -> None:
    """Where they stand far apart, a mark on the words between may hide; a person may look."""
    readings = Page().read()
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


@pytest.mark.parametrize("darkness", [215, 200, 180, 150])
def test_a_pencil_however_faint_never_becomes_an_accepted_blank(darkness: int) -> None:
    page, asked = Page(), [each for each in sheet().fields if each.id.endswith("rating")]
    for each in asked:
        page.mark(each.targets[0], "crossed", colour=(darkness,) * 3, width=0.5)
    readings = page.read()
    lost = [each.id for each in asked if readings[each.id].accepted and not readings[each.id].value]
    assert lost == []


TO_REVIEW = ("p1.rating", "p2.went_down", "felt_best", "p3.why_not", "written")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", TO_REVIEW)
def test_two_equal_marks_go_to_review(name: str, kind: str) -> None:
    page = Page()
    for target in (field(name).targets[0], field(name).targets[-1]):
        page.mark(target, kind)
    assert not page.read()[name].accepted


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", TO_REVIEW)
def test_a_mark_between_two_targets_goes_to_review(name: str, kind: str) -> None:
    page = Page()
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


@pytest.mark.parametrize("lower_half", [False, True], ids=["all of it", "one half"])
@pytest.mark.parametrize("kind", ["filled", "ticked", "crossed", "ringed"])
def test_a_half_erased_only_mark_goes_to_review(kind: str, lower_half: bool) -> None:
    page = Page()
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
    contexts = [
        FieldContext(each, CLEAR, np.full(len(watched_places(each)), 0.8))
        for each in sheet().fields
    ]
    wide = Page().seen()
    seen = [Page().patches(each, wide) for each in sheet().fields]
    assert not any(each.accepted for each in judge_fields(seen, contexts))


def test_nothing_is_accepted_without_the_rest_of_its_page() -> None:
    page, asked = Page(), field("p1.rating")
    page.mark(asked.targets[2], "crossed")
    context = FieldContext(asked, CLEAR, np.ones(len(watched_places(asked))))
    assert not judge_field(page.patches(asked), context).accepted


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
