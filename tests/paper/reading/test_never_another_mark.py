"""Print, fill in, photograph badly, read: the mark that was drawn, or a person; never another."""

from collections.abc import Iterator

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photographed import (
    PX_PER_MM,
    lay,
    print_of,
    printed_kit,
    table,
    target_error_mm,
    turned_corners,
)

from sidelong.paper.images import from_pixels
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.paper.version import Edition
from sidelong.training.layout import SheetPage, Target

KINDS = [
    (Edition.STANDARD, "en"),
    (Edition.STANDARD, "ar-XB"),
    (Edition.LARGE, "en"),
    (Edition.LARGE, "ar-XB"),
]
INKS = [(25, 30, 90), (20, 20, 20), (90, 25, 30)]


def answers(page: SheetPage, rng: np.random.Generator) -> Iterator[tuple[str, Target | None]]:
    for field in page.fields:
        is_blank = field.id == "skipped" or rng.random() < 0.2
        yield field.id, None if is_blank else field.targets[rng.integers(len(field.targets))]


def cross(sheet: np.ndarray, target: Target, rng: np.random.Generator, ink: object) -> None:
    """Draw a cross by a hand that is not quite steady."""
    middle = np.array([target.cx, target.cy]) + rng.normal(0, 0.5, 2)
    reach = rng.uniform(2.2, 3.4)
    for way in (np.array([1.0, 1.0]), np.array([1.0, -1.0])):
        ends = [middle + side * reach * way + rng.normal(0, 0.3, 2) for side in (-1, 1)]
        start, end = ((each * PX_PER_MM).round().astype(int).tolist() for each in ends)
        cv2.line(sheet, start, end, ink, round(rng.uniform(0.5, 0.9) * PX_PER_MM), cv2.LINE_AA)


def photograph_badly(
    sheet: np.ndarray, page: SheetPage, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    corners = turned_corners(
        page,
        angle=rng.choice([0, 90, 180, 270]) + rng.normal(0, 8),
        scale=rng.uniform(4.5, 6.0),
        middle=(1000.0, 1000.0),
        lean=rng.uniform(0, 0.15),
    )
    picture, homography = lay(sheet, page, corners, table(2000, 2000))
    x, y = np.meshgrid(np.linspace(-1, 1, 2000), np.linspace(-1, 1, 2000))
    shade = 1 - rng.uniform(0, 0.5) * (1 + np.cos(rng.uniform(0, 6)) * x + 0.5 * y) / 2.5
    soft = cv2.GaussianBlur(picture, (0, 0), rng.uniform(0.5, 2.5)) * shade[..., None]
    noisy = soft * rng.uniform(0.6, 1.05) + rng.normal(0, rng.uniform(1, 8), (2000, 2000, 1))
    return np.clip(noisy, 0, 255).astype(np.uint8), homography


@pytest.mark.parametrize(("edition", "language"), KINDS)
@settings(max_examples=3, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_an_accepted_answer_is_the_one_that_was_drawn(
    edition: Edition, language: str, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    kit = printed_kit(edition=edition, language=language)
    number = int(rng.integers(len(kit.layout.pages)))
    page, sheet = kit.layout.pages[number], print_of(kit, number).copy()
    drawn = dict(answers(page, rng))
    ink = INKS[rng.integers(len(INKS))]
    for target in drawn.values():
        if target is not None:
            cross(sheet, target, rng, ink)
    pixels, homography = photograph_badly(sheet, page, rng)
    reader = Reader(PageIndex(kit.layout.pages), printed=PrintedPages(kit.pdf))
    reading, [seen] = reader.read(from_pixels(pixels, name="made.jpg"))
    assert [each.page_id for each in reading.pages] == [page.page_id]
    assert target_error_mm(seen, homography) < 0.5
    fields = reading.pages[0].fields
    assert set(fields) == set(drawn)
    for name, target in drawn.items():
        if fields[name].accepted:
            assert fields[name].value == ("" if target is None else target.value)
    best = [fields[name].value == target.value for name, target in drawn.items() if target]
    assert np.mean(best) > 0.6  # what waits for a person is mostly read right all the same
