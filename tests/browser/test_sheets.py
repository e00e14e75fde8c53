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
# The goal for all of it, dates included: a key an answer, and one for guesses right together.
MOST_KEYSTROKES = 60
WAIT_FOR_PICTURES = """() => Promise.all(
    [...document.activeElement.closest("fieldset, .wide").querySelectorAll("img")].map((each) => {
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
    way.issue(page.code, member, start=way.TODAY - timedelta(days=14))
    page.set_default_timeout(600_000)  # fourteen photographs are read in one request
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
    """Give night and field of the question in focus; an empty field for guesses together."""
    legend, field = page.evaluate(
        """() => {
            const asked = document.activeElement.closest("fieldset");
            return [asked.querySelector("legend").innerText, asked.dataset.field ?? ""];
        }"""
    )
    return int(legend.split(".")[0].split()[-1]) if field else 0, field


def key_for(page: Page, truth: str) -> str:
    """Find the key that gives an answer to the question in focus."""
    return page.evaluate(
        """(value) => document.activeElement.closest("fieldset")
            .querySelector(`[value="${value}"]`).dataset.key""",
        truth,
    )


def wrong_ones(page: Page, truths: dict[int, dict[str, Any]]) -> list[str]:
    """Find the letters of the guesses in focus that are not what the sheets say."""
    shown = page.evaluate(
        """() => [...document.activeElement.closest("fieldset").querySelectorAll("li")].map(
            ({dataset, innerText}) =>
                [dataset.letter, dataset.isField, innerText, dataset.value]
        )"""
    )
    nights = [int(re.search(r"Night (\d+)", text)[1]) for _, _, text, _ in shown]
    return [
        letter
        for night, (letter, where, _, guess) in zip(nights, shown, strict=True)
        if truths[night][where.split()[1]]["truth"] != guess
    ]


def keys_for(page: Page, truths: dict[int, dict[str, Any]]) -> list[str]:
    """Say what whoever looks at the question in focus presses."""
    night, field = said_at(page)
    if field:
        return [key_for(page, truths[night][field]["truth"])]
    return [*wrong_ones(page, truths), "1"]


def look_at_all(page: Page, truths: dict[int, dict[str, Any]]) -> None:
    """Answer every question as the sheets were filled in."""
    asked = page.locator("fieldset.asked:visible")
    while page.locator("[data-questions]").count():
        with page.expect_event("load"):
            while asked.count():
                page.evaluate(WAIT_FOR_PICTURES)
                for key in keys_for(page, truths):
                    press(page, key)


def confirm_all(page: Page) -> None:
    """Look through what is to be confirmed, a screen after the other, and confirm it."""
    before = page.locator("article[data-clear]").count()
    while page.locator("article[data-clear]").count() == before:
        page.evaluate(WAIT_FOR_PICTURES)
        press(page, "Enter")
        page.wait_for_timeout(300)
        page.wait_for_load_state()


def test_fourteen_poor_photographs_become_nights_and_an_estimate(
    desk: Page,
    shoot: Callable[..., Any],
    way: ModuleType,
    request: pytest.FixtureRequest,
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
    assert said_at(page) == first != (0, "")
    expect(page.locator("[data-open]")).to_have_text(str(n_open))

    look_at_all(page, truths)
    n_looked = page.strokes - 2
    button = page.get_by_role("button", name="that are clear")
    expect(button).to_be_focused()
    n_clear = page.locator("article[data-clear]").count()

    # Dates are proposed from the first evening that was agreed, where one is written: nobody types.
    begin = way.TODAY - timedelta(days=14)
    proposed = {
        int(each.get_attribute("data-night")): each.locator("input[name=evening]").input_value()
        for each in page.locator("article.sheet").all()
    }
    dated = {night: date for night, date in proposed.items() if date}
    assert len(dated) >= 5
    assert dated == {night: str(begin + timedelta(days=night - 1)) for night in dated}
    confirm_all(page)
    expect(page.get_by_text(f"{n_clear} sheets are kept as their nights.")).to_be_visible()
    while page.get_by_role("button", name="Confirm night").count():
        with page.expect_event("load"):
            press(page, "Enter")
    n_strokes = page.strokes - 2  # but for the slip and its Backspace
    request.node.user_properties += [("keystrokes", n_strokes), ("of them to look", n_looked)]
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
    assert {night: kept.typed(night).evening for night in proposed} == proposed
    page.get_by_role("link", name="See the result").click()
    expect(page.locator(".verdict").first).to_be_visible()
    expect(page.locator("main")).to_contain_text("14 of 14")


def see_all(page: Page, items: str) -> None:
    """Scroll through what stands one below the other, as a finger does."""
    for item in page.locator(items).all():
        if item.is_visible():
            item.evaluate("(each) => each.scrollIntoView({ block: 'end', behavior: 'instant' })")
            page.wait_for_timeout(60)


def tap(page: Page, key: str) -> None:
    page.locator(
        f"fieldset:has(:focus) :is([data-key='{key}'], [data-letter='{key}'] button)"
    ).click()
    page.taps += 1


def test_on_a_narrow_screen_an_answer_is_one_tap_and_every_state_of_the_page_is_sound(
    desk: Page,
    shoot: Callable[..., Any],
    dress: Callable[..., Page],
    check_page: Callable[[Page], None],
    tmp_path: Path,
) -> None:
    page, truths, files = desk, {}, []
    for night in (1, 2, 3):
        content, truths[night] = shoot(night)
        files.append(tmp_path / f"{night}.jpg")
        files[-1].write_bytes(content)
    page.goto(f"/trainees/{page.code}/courses/1/sheets/")
    page.get_by_label("Photographs or scans of sheets").set_input_files(files)
    page.get_by_role("button", name="Send and read").click()
    expect(page.get_by_text("Received: 3 sheets.")).to_be_visible()
    for wishes in ({"width": 320}, {"scheme": "dark"}, {"text": 200}):
        check_page(dress(page, **wishes))
    dress(page, width=320)
    page.reload()

    page.taps = n_answers = 0
    asked = page.locator("fieldset.asked:visible")
    while page.locator("[data-questions]").count():
        with page.expect_event("load"):
            while asked.count():
                page.evaluate(WAIT_FOR_PICTURES)
                see_all(page, "fieldset:has(:focus) li")
                keys = keys_for(page, truths)
                for key in keys:
                    tap(page, key)
                n_answers += len(keys)
    assert page.taps == n_answers

    check_page(dress(page, width=320))
    check_page(dress(page, text=200))
    dress(page, width=320)
    page.evaluate("document.querySelectorAll('img').forEach((each) => { each.loading = 'eager' })")
    n_clear = page.locator("article[data-clear]").count()
    assert n_clear > 1
    see_all(page, "article[data-clear]")
    page.get_by_role("button", name="that are clear").click()
    expect(page.get_by_text(f"{n_clear} sheets are kept as their nights.")).to_be_visible()


def test_what_was_not_on_the_screen_is_not_confirmed(
    desk: Page, shoot: Callable[..., Any], tmp_path: Path
) -> None:
    from sidelong.clinic.sheets.models import AnswerSaid

    page = desk
    # From the start: what a larger screen showed for a moment has been seen.
    page.set_viewport_size({"width": 320, "height": 400})
    content, _ = shoot(1, "terrible")  # many blanks at once are left to a person
    (tmp_path / "1.jpg").write_bytes(content)
    page.goto(f"/trainees/{page.code}/courses/1/sheets/")
    page.get_by_label("Photographs or scans of sheets").set_input_files(tmp_path / "1.jpg")
    page.get_by_role("button", name="Send and read").click()
    expect(page.get_by_text("Received: 1 sheet.")).to_be_visible()
    group = page.locator("fieldset.together").first
    group.locator("img").last.evaluate("(each) => { each.loading = 'eager' }")
    group.locator("input").focus()
    n_open = page.locator("[data-open]").inner_text()
    page.keyboard.press("1")
    expect(page.locator("[data-said]")).to_contain_text(re.compile("not come yet|more of them"))
    expect(page.locator("[data-open]")).to_have_text(n_open)
    assert not AnswerSaid.objects.exists()
