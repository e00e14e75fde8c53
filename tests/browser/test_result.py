"""The result in a real browser: verdict first, charts with their tables, signed and printed."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pypdfium2
import pytest
from playwright.sync_api import Page, expect

from sidelong.clinic.accounts.roles import Role

CAST = Path(__file__).parents[1] / "clinic" / "practice" / "cast.py"
PASSWORD = "seven quiet harbour lamps"
LOOKS = ({}, {"width": 320, "scheme": "dark"}, {"text": 200}, {"lines": "rtl"})


@pytest.fixture(scope="session")
def cast() -> ModuleType:
    """Courses set down and nights invented, as the tests of the pages have them."""
    found = importlib.util.spec_from_file_location("practice_cast", CAST)
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def recorded(transactional_db: None, cast: ModuleType, make_member: Callable[..., Any]) -> Any:
    """A course with its nights and one event."""
    from sidelong.clinic.practice.actions import keep_nights, record_event
    from sidelong.training.position import Position
    from sidelong.training.safety import Tier

    course = cast.set_down_course()
    coach = make_member(Role.COACH)
    where = {"code": cast.CODE, "course": 1, "now": cast.NOW, "by": coach}
    nights = cast.invent_nights(cast.plan_in(course), is_patchy=True)
    keep_nights(**where, nights=nights, today=cast.TODAY)
    record_event(**where, night=6, tier=Tier.STOP_TONIGHT, position=Position.UP)
    return course


@pytest.fixture
def result(
    recorded: Any,
    cast: ModuleType,
    open_page: Callable[..., Page],
    make_member: Callable[..., Any],
    sign_in_as: Callable[..., Page],
) -> Page:
    from sidelong.clinic.audit.acts import act

    clinician = make_member(Role.CLINICIAN)
    with act("password chosen", by=clinician, subject=clinician.audit_key):
        clinician.set_password(PASSWORD)
        clinician.save()
    page = sign_in_as(open_page(), clinician)
    page.goto(f"/trainees/{cast.CODE}/courses/1/result/")
    return page


def test_a_clinician_reads_signs_and_takes_the_report_by_keyboard(
    result: Page, tab_to: Callable[..., int]
) -> None:
    expect(result.locator("main h2").first).to_have_class("verdict-line")
    tab_to(result, "Practise on, same plan", at_most=80)
    result.keyboard.press("Space")
    tab_to(result, "Your password")
    result.keyboard.type(PASSWORD)
    result.keyboard.press("Enter")
    expect(result.get_by_text("The result is signed.")).to_be_visible()
    expect(result.get_by_text("The signature fits what it stands under.")).to_be_visible()
    link = result.get_by_role("link", name="its report, PDF")
    sent = result.request.get(link.get_attribute("href"))
    pages = pypdfium2.PdfDocument(sent.body())
    assert "What the evenings showed" in pages[0].get_textpage().get_text_bounded()
    assert result.complaints == []


def test_chance_of_the_first_try_stands_before_chance_of_being_best(result: Page) -> None:
    heads = result.get_by_role("table").first.get_by_role("columnheader").all_inner_texts()
    first_try = next(n for n, head in enumerate(heads) if "first try" in head)
    best = next(n for n, head in enumerate(heads) if "Easiest of all" in head)
    assert first_try < best


def test_every_chart_has_its_table(result: Page) -> None:
    for chart in result.locator("main figure").all():
        section = chart.locator("xpath=ancestor::section[1]")
        assert section.locator("table").count() >= 1, chart.get_attribute("class")


def test_the_result_is_fit_for_everybody(
    result: Page, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    for looks in LOOKS:
        dress(result, **looks)
        check_page(result)


def test_events_and_versions_are_fit_for_everybody(
    result: Page,
    cast: ModuleType,
    dress: Callable[..., Page],
    check_page: Callable[[Page], None],
) -> None:
    for path in ("events/", "nights/1/versions/", "nights/"):
        result.goto(f"/trainees/{cast.CODE}/courses/1/{path}")
        for looks in LOOKS[:2]:
            dress(result, **looks)
            check_page(result)
