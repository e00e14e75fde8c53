"""Promises in a real browser: fixed at follow-up, a first dose by keyboard, plot and table."""

import importlib.util
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from sidelong.clinic.accounts.roles import Role

CAST = Path(__file__).parents[1] / "clinic" / "practice" / "cast.py"
LOOKS = ({}, {"scheme": "dark"}, {"width": 320}, {"width": 320, "scheme": "dark"}, {"text": 200})
N_DOSES = 42


@pytest.fixture(scope="session")
def cast() -> ModuleType:
    """Courses set down and nights invented, as the tests of the pages have them."""
    found = importlib.util.spec_from_file_location("practice_cast", CAST)
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def staff(make_member: Callable[..., Any]) -> Any:
    return make_member(Role.LEAD, Role.CLINICIAN)


@pytest.fixture
def practised(cast: ModuleType, staff: Any) -> str:
    """Address of a course whose nights are all in."""
    from sidelong.clinic.practice.actions import keep_nights

    course = cast.set_down_course()
    nights = cast.invent_nights(cast.plan_in(course))
    keep_nights(code=cast.CODE, course=1, nights=nights, now=cast.NOW, today=cast.TODAY, by=staff)
    return f"/trainees/{cast.CODE}/courses/1"


@pytest.fixture
def page(open_page: Callable[..., Page], sign_in_as: Callable[..., Page], staff: Any) -> Page:
    return sign_in_as(open_page(), staff)


@pytest.fixture
def dosed(cast: ModuleType, staff: Any) -> None:
    """Courses of every kind of practice, each with an estimate that was fixed and a first dose."""
    for number in range(N_DOSES):
        _take_to_dose(cast, staff, number)


def _take_to_dose(cast: ModuleType, staff: Any, number: int) -> None:
    from sidelong.clinic.practice.actions import Decision, keep_nights, sign_result
    from sidelong.clinic.practice.locks import to_lock
    from sidelong.clinic.practice.models import EstimateLock
    from sidelong.clinic.practice.promise_actions import lock_estimate, record_first_dose
    from sidelong.pathway.invented_doses import ChancesOfDose, invent_first_dose

    rng = np.random.default_rng(number)
    code = "HL-7K" + "".join("23456789"[number // base % 8] for base in (64, 8, 1))
    course = cast.set_down_course(code, index=number)
    nights = cast.invent_nights(cast.plan_in(course), seed=number)
    few = nights[: 5 + number % 10]
    where = {"code": code, "course": 1, "by": staff}
    keep_nights(**where, nights=few, now=cast.NOW, today=cast.TODAY)
    lock_estimate(**where, now=cast.NOW)
    lock = to_lock(EstimateLock.objects.get(course=course))
    if number % 7 == 0:
        sign_result(
            **where,
            seen=lock.evidence,
            decision=Decision.MEDICINE_STEP,
            position=None,
            now=cast.NOW,
        )
        return
    figures = lock.positions[number % 4]
    dose = invent_first_dose(
        code,
        course=1,
        position=figures.position,
        chances=ChancesOfDose(figures.p_first_try, 0.0),
        given_on=cast.TODAY,
        rng=rng,
    )
    record_first_dose(dose=dose, now=cast.NOW + timedelta(hours=1), by=staff)


def owed(page: Page, dress: Any, check_page: Any) -> list[str]:
    """What the page owes, in every look."""
    faults = []
    page.evaluate("document.querySelectorAll('main details').forEach((e) => { e.open = true })")
    for looks in LOOKS:
        try:
            check_page(dress(page, **looks))
        except AssertionError as error:
            faults.append(f"{looks}: {error}")
    dress(page)
    return faults


def test_a_follow_up_from_the_fixed_estimate_to_the_first_dose_by_keyboard(
    page: Page,
    practised: str,
    tab_to: Callable[..., int],
    dress: Callable[..., Page],
    check_page: Callable[[Page], None],
) -> None:
    page.goto(f"{practised}/result/")
    fixed = page.locator("#fixed")
    expect(fixed.get_by_text("before anybody knew how the first dose went")).to_be_visible()
    assert owed(page, dress, check_page) == []
    page.goto(f"{practised}/first-dose/")
    assert owed(page, dress, check_page) == []
    _fill_in(page, tab_to)
    expect(page.get_by_text("The first dose is recorded.")).to_be_visible()
    expect(page.get_by_text("it went down at the first try")).to_be_visible()
    assert page.complaints == []


def _fill_in(page: Page, tab_to: Callable[..., int]) -> None:
    """Type a first dose from the top of the page, without a mouse."""
    tab_to(page, "Staff saw it", at_most=40)
    page.keyboard.press("Space")
    for label, typed in (
        ("Position that was used", "Left"),
        ("What it was", "Tablet"),
        ("Its shape", "Oval"),
        ("Its largest dimension", "12"),
    ):
        tab_to(page, label)
        page.keyboard.type(typed)
    tab_to(page, "At the first try")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")


def test_faults_of_a_first_dose_are_fit_for_everybody(
    page: Page, practised: str, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    page.goto(f"{practised}/result/")
    page.goto(f"{practised}/first-dose/")
    page.get_by_role("button", name="Record the first dose").click()
    expect(page.get_by_role("alert")).to_be_focused()
    assert owed(page, dress, check_page) == []


def test_the_plot_of_promises_has_its_table_and_is_fit_for_everybody(
    page: Page, dosed: None, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    page.goto("/")
    page.get_by_role("link", name="Promises kept").click()
    plot = page.get_by_role("img", name="What was said against what happened")
    expect(plot).to_be_visible()
    section = plot.locator("xpath=ancestor::figure[1]")
    assert section.locator("table tbody tr").count() == plot.locator("circle").count()
    expect(page.get_by_text("Record it").first).to_be_visible()
    assert owed(page, dress, check_page) == []


def test_the_plot_is_square_and_lies_within_a_narrow_page(
    page: Page, dosed: None, dress: Callable[..., Page]
) -> None:
    page.goto("/promises/")
    for width in (1280, 320):
        box = dress(page, width=width).locator("svg.calibration").bounding_box()
        assert 0.9 < box["width"] / box["height"] < 1.15
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width


def test_a_page_without_doses_says_so_and_is_fit_for_everybody(
    page: Page, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    page.goto("/promises/")
    expect(page.get_by_text("No first dose that staff saw is recorded yet.")).to_be_visible()
    assert owed(page, dress, check_page) == []
