"""Notes of photographed sheets in a real browser: typed beside their picture, by keyboard."""

import importlib.util
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from sidelong.clinic.accounts.roles import Role

CLINIC = Path(__file__).parents[1] / "clinic"
STAFF = (Role.COACH, Role.LEAD, Role.CLINICIAN)
NOTED = {1: "two sips", 3: "upset at school"}


def load(room: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(f"{room}_of_notes", CLINIC / room / "cast.py")
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def desk(
    open_page: Callable[..., Page],
    make_member: Any,
    sign_in_as: Any,
    settings: Any,
    tmp_path: Path,
) -> Page:
    """Three sheets that are looked at, two of them with a note, and somebody who may do all."""
    from django.utils import timezone

    from sidelong.clinic.sheets import actions
    from sidelong.clinic.sheets.queries import sheets_of

    settings.MEDIA_ROOT = tmp_path / "media"
    way, camera, member = load("trainees"), load("sheets"), make_member(*STAFF)
    page = sign_in_as(open_page(), member)
    way.take_up(member)
    page.code = way.refer(member)
    way.clear(page.code, member)
    way.visit(page.code, member)
    way.issue(page.code, member, start=way.TODAY - timedelta(days=14))
    booklet = camera.booklet_of(page.code)
    where = {"code": page.code, "course": 1, "now": timezone.now(), "by": member}
    for night in (1, 2, 3):
        marks = camera.full_night(booklet, night)
        written = {"free.0": "3.12."}
        written |= {"note.0": NOTED[night]} if night in NOTED else {}
        content = camera.take_photograph(booklet, night, marks=marks, written=written)
        (sheet,) = actions.receive_photograph(content=content, **where).sheets
        line = sheets_of(page.code, 1, seen_by=member)[-1]
        while line.waiting:
            for state in line.waiting:
                value = marks.get(state.field, "")
                actions.say_answer(sheet=sheet, field=state.field, value=value, **where)
            line = sheets_of(page.code, 1, seen_by=member)[-1]
    page.home = f"/trainees/{page.code}/courses/1"
    page.member = member
    page.goto(f"{page.home}/sheets/")
    return page


def typed(page: Page) -> dict[int, str]:
    """What is kept of the note box, by night."""
    from sidelong.clinic.sheets.queries import sheets_of

    lines = sheets_of(page.code, 1, seen_by=page.member)
    notes = {line.night: hand for line in lines for hand in line.handwriting if hand.is_note}
    return {night: hand.text for night, hand in notes.items() if hand.text}


def at(page: Page) -> str:
    return page.evaluate("document.activeElement.closest('article')?.dataset.night ?? ''")


def test_notes_are_typed_and_taken_back_by_keyboard_alone(
    desk: Page, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    page = desk
    button = page.get_by_role("button", name="that are clear")
    expect(button).to_be_focused()
    # A sheet whose note box is empty has no field, and its picture is there all the same.
    empty = page.locator("article[data-night='2']")
    expect(empty.locator("textarea")).to_have_count(0)
    expect(empty.locator("img[src*='note.0']")).to_have_count(1)
    for wishes in ({}, {"width": 320}, {"scheme": "dark"}, {"text": 200}):
        check_page(dress(page, **wishes))
    dress(page)

    # N leads to the first, Enter keeps it and goes on, and after the last the button waits again.
    page.keyboard.press("n")
    assert at(page) == "1"
    page.keyboard.type(NOTED[1])
    page.keyboard.press("Enter")
    expect(page.locator("article[data-night='3'] textarea")).to_be_focused()
    assert typed(page) == {1: NOTED[1]}
    page.keyboard.type(NOTED[3])
    page.keyboard.press("Enter")
    expect(button).to_be_focused()
    assert typed(page) == NOTED

    # Backspace takes back the last one, then the one before, until one is typed again.
    page.keyboard.press("Backspace")
    expect(page.locator("article[data-night='3'] [role=status]")).to_have_text("taken back")
    assert at(page) == "3"
    assert typed(page) == {1: NOTED[1]}
    page.keyboard.type("upset")
    page.keyboard.press("Enter")
    expect(button).to_be_focused()
    assert typed(page) == {1: NOTED[1], 3: "upset"}
    page.reload()
    expect(page.get_by_label("Note").nth(1)).to_have_value("upset")

    n_clear = page.locator("article[data-clear]").count()
    while page.locator("article[data-clear]").count():
        page.evaluate("document.querySelectorAll('img').forEach((i) => { i.loading = 'eager' })")
        page.wait_for_load_state("networkidle")
        page.keyboard.press("Enter")
        page.wait_for_timeout(300)
    expect(page.get_by_text(f"{n_clear} sheets are kept as their nights.")).to_be_visible()


@pytest.fixture
def noted(desk: Page) -> Page:
    """The sheets are nights, and one of them has a note that was typed."""
    from django.utils import timezone

    from sidelong.clinic.sheets.actions import confirm_sheet
    from sidelong.clinic.sheets.note_actions import type_note
    from sidelong.clinic.sheets.queries import sheets_of

    now, by = timezone.now(), desk.member
    for line in sheets_of(desk.code, 1, seen_by=by):
        where = {"code": desk.code, "course": 1, "sheet": line.key, "now": now, "by": by}
        if line.night == 3:
            type_note(area="note.0", text="upset", **where)
        confirm_sheet(today=timezone.localdate(), **where)
    return desk


def test_a_note_stands_beside_its_night_and_on_paper_and_is_put_right_on_a_page_of_its_own(
    noted: Page, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    page = noted
    page.goto(f"{page.home}/nights/")
    night = page.locator(".night", has_text="Night 3")
    expect(night.get_by_text("Note: “upset”")).to_be_visible()
    expect(night.locator("img[src*='note.0']")).to_be_visible()
    for wishes in ({}, {"width": 320}, {"text": 200}):
        check_page(dress(page, **wishes))
    dress(page)
    page.emulate_media(media="print")
    expect(night.get_by_text("Note: “upset”")).to_be_visible()
    expect(night.locator("img[src*='note.0']")).to_be_hidden()
    expect(night.get_by_role("link", name="Written by hand")).to_be_hidden()
    page.emulate_media(media="screen")

    night.get_by_role("link", name="Written by hand").click()
    for wishes in ({}, {"width": 320}, {"scheme": "dark"}, {"text": 200}):
        check_page(dress(page, **wishes))
    dress(page)
    page.get_by_label("Note").first.fill("upset at school, then fine")
    page.get_by_role("button", name="Keep what is typed").click()
    expect(page.get_by_text("What you typed is kept.")).to_be_visible()
    versions = page.get_by_role("list", name="Note: who typed what").locator("li")
    expect(versions).to_have_count(2)
    expect(versions.first).to_contain_text("upset at school, then fine")
    page.goto(f"{page.home}/nights/3/versions/")
    expect(page.get_by_text("Note: “upset at school, then fine”")).to_be_visible()
    check_page(page)


def test_what_was_typed_is_kept_whatever_is_pressed_next_and_a_refusal_is_told_at_its_field(
    desk: Page,
) -> None:
    page = desk
    first = page.locator("article[data-night='1']")
    field = first.get_by_label("Note")
    field.fill("- two sips")
    first.get_by_role("button", name="Confirm night 1").click()
    expect(first.get_by_role("status").last).to_contain_text("it starts like a formula")
    expect(field).to_be_focused()
    expect(field).to_have_value("- two sips")
    assert typed(page) == {}
    field.fill("two sips")
    first.get_by_role("button", name="Confirm night 1").click()
    expect(page.get_by_text("The sheet is kept as its night.")).to_be_visible()
    assert typed(page) == {1: "two sips"}


def test_a_note_left_empty_stays_a_picture_and_holds_nothing_back(desk: Page) -> None:
    page = desk
    page.keyboard.press("n")
    page.keyboard.press("Enter")
    assert at(page) == "3"
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="that are clear")).to_be_focused()
    expect(page.get_by_role("button", name="Next note")).to_be_hidden()
    assert typed(page) == {}
