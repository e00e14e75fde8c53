"""What a page is on paper: the record alone, nothing to type into and no word on how to type."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from playwright.sync_api import Page

from sidelong.clinic.accounts.roles import Role

CLINIC = Path(__file__).parents[1] / "clinic"
STAFF = (Role.COACH, Role.LEAD, Role.CLINICIAN)
# Chromium's own settings of a page of paper: 210 mm less two margins, at 96 to the inch.
A4_WIDTH = 698
SEEN = "document.querySelector('main').innerText"
TO_FILL_IN = """() => [...document.querySelectorAll("main :is(input, select, textarea, button)")]
    .filter((each) => each.type !== "hidden" && each.checkVisibility())
    .filter((each) => getComputedStyle(each).borderInlineStartStyle !== "none")
    .map((each) => each.outerHTML.slice(0, 90))"""


def load_cast(room: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(f"{room}_cast", CLINIC / room / "cast.py")
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def on_paper(page: Page, address: str) -> str:
    """Lay a page out as for paper, and give its words."""
    page.goto(address)
    page.set_viewport_size({"width": A4_WIDTH, "height": 1000})
    page.emulate_media(media="print")
    return page.evaluate(SEEN)


@pytest.fixture
def practised(transactional_db: None, as_role: Callable[..., Page]) -> Any:
    """Nights that are kept, and somebody who may do everything with them."""
    from sidelong.clinic.accounts.models import User
    from sidelong.clinic.practice.actions import keep_nights

    cast = load_cast("practice")
    course = cast.set_down_course(start=cast.date(2026, 11, 2))
    page = as_role(*STAFF)
    nights = cast.invent_nights(cast.plan_in(course), is_patchy=True)
    by = User.objects.get()
    keep_nights(code=cast.CODE, course=1, nights=nights, now=cast.NOW, today=cast.TODAY, by=by)
    page.home = f"/trainees/{cast.CODE}/courses/1"
    return page


def test_nights_are_a_clean_record_on_paper(practised: Page) -> None:
    said = on_paper(practised, f"{practised.home}/nights/")
    assert "Night 14" in said
    assert "1 is very hard" in said
    for on_screen in ("Type what stands", "Undo", "All keys", "saved", "More of night", "Result"):
        assert on_screen not in said
    assert practised.evaluate(TO_FILL_IN) == []
    cells = practised.locator(".cell input")
    assert cells.first.is_visible()
    assert cells.first.input_value()


def test_what_is_beside_a_night_is_printed_where_it_was_said(practised: Page) -> None:
    on_paper(practised, f"{practised.home}/nights/")
    shown = """(name) => [...document.querySelectorAll(`[data-field="${name}"]`)]
        .filter((each) => each.checkVisibility({ contentVisibilityAuto: true })).length"""
    kept = """(name) => [...document.querySelectorAll(`select[data-field="${name}"]`)]
        .filter((each) => each.value).length"""
    assert practised.evaluate(kept, "written") > 0
    assert practised.evaluate(shown, "written") == practised.evaluate(kept, "written")
    assert practised.evaluate(shown, "scale") == 0


@pytest.mark.parametrize("step", ["events/", "first-dose/", "nights/"])
def test_no_page_of_a_course_prints_a_field_to_fill_in(practised: Page, step: str) -> None:
    on_paper(practised, f"{practised.home}/{step}")
    assert practised.evaluate(TO_FILL_IN) == []


def test_steps_print_what_is_known_and_no_form(open_page, make_member, sign_in_as) -> None:
    member = make_member(*STAFF)
    page = sign_in_as(open_page(), member)
    cast = load_cast("trainees")
    cast.take_up(member)
    code = cast.refer(member, answers=dict(list(cast.ALL_NO.items())[:-1]))
    said = on_paper(page, f"/trainees/{code}/questions/")
    assert (
        page.evaluate(
            """() => [...document.querySelectorAll(".choices")]
            .filter((each) => each.checkVisibility())
            .map((each) => getComputedStyle(each, "::after").content)
            .filter((each) => each.includes("no answer yet")).length"""
        )
        == 1
    )
    assert "Keys:" not in said
    assert page.evaluate(TO_FILL_IN) == []
    for step in ("referral/", "decision/", "plan/", "visit/"):
        on_paper(page, f"/trainees/{code}/{step}")
        assert page.evaluate(TO_FILL_IN) == [], step
