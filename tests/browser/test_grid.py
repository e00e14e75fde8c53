"""The grid in a real browser: keyboard alone, saved as typed, no edit lost, nothing overwritten."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from django.conf import settings
from playwright.sync_api import Page, Route, expect

from sidelong.clinic.accounts.roles import Role

MOST_KEYSTROKES = 170
CAST = Path(__file__).parents[1] / "clinic" / "practice" / "cast.py"


@pytest.fixture(scope="session")
def cast() -> ModuleType:
    """Courses set down and nights invented, as the tests of the pages have them."""
    found = importlib.util.spec_from_file_location("practice_cast", CAST)
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def course(transactional_db: None, cast: ModuleType) -> Any:
    return cast.set_down_course(start=cast.date(2026, 11, 2))


@pytest.fixture
def url(course: Any, cast: ModuleType) -> str:
    return f"/trainees/{cast.CODE}/courses/1/nights/"


@pytest.fixture
def grid(course: Any, url: str, as_role: Callable[..., Page]) -> Page:
    page = as_role(Role.COACH)
    page.goto(url)
    return page


def keys_of(night: Any, order: Any) -> list[str]:
    """What a person presses for one night's sheet, mark after mark, without any shortcut."""
    reasons = {"spat_out": "s", "melted": "m", "refused": "r"}
    keys = []
    for cell in night.cells:
        if cell.why_not or cell.went_down:
            keys.append(reasons.get(cell.why_not) or cell.went_down[0])
        keys.append(cell.rating or "Enter")
    best = night.felt_best
    keys.append("0" if best == "all_the_same" else str(order.index(best) + 1) if best else "Enter")
    return keys


def count_keys(page: Page) -> None:
    page.evaluate("() => { window.n = 0; addEventListener('keydown', () => { n += 1 }, true) }")


def saved(page: Page) -> None:
    expect(page.locator("#standing")).to_have_text("Everything is saved.")


def known(course: Any) -> Any:
    from sidelong.clinic.practice.nights import known_nights

    return known_nights(course)


def test_a_full_course_takes_at_most_170_keystrokes(
    grid: Page, course: Any, cast: ModuleType
) -> None:
    """Every mark of 70 pieces and 14 favourites by its own key, none left to a default."""
    plan = cast.plan_in(course)
    nights = cast.invent_nights(plan)
    count_keys(grid)
    grid.get_by_role("link", name="Go to the first blank").focus()
    grid.keyboard.press("Enter")
    for night, planned in zip(nights, plan.nights, strict=True):
        for key in keys_of(night, planned.order):
            grid.keyboard.press(key)
    saved(grid)
    assert grid.evaluate("n") == 1 + 14 * (5 * 2 + 1) <= MOST_KEYSTROKES
    kept = known(course)
    for night in nights:
        typed = kept.typed(night.night)
        assert (typed.cells, typed.felt_best) == (night.cells, night.felt_best)


def test_a_course_that_all_went_down_first_try_takes_98(grid: Page, course: Any) -> None:
    """`a` says it of every rated piece of a night, so that nobody is tempted to a default."""
    grid.locator("#n1s1").focus()
    count_keys(grid)
    for _ in range(14):
        for key in "54345a1":
            grid.keyboard.press(key)
    saved(grid)
    assert grid.evaluate("n") == 98
    rows = [row for each in known(course).nights.values() for row in each.evening.entry.rows]
    assert len(rows) == 70
    assert {row.went_down for row in rows} == {"first"}


def test_a_blank_stays_blank(grid: Page, course: Any) -> None:
    grid.locator("#n1s1").focus()
    for key in ["4", "Enter", "n", "Enter", "f", "Enter", "Enter", "a"]:
        grid.keyboard.press(key)
    saved(grid)
    entry = known(course).nights[1].evening.entry
    assert [(row.slot, row.rating, row.went_down) for row in entry.rows] == [
        (1, 4, "first"),
        (3, None, "no"),
        (4, None, "first"),
    ]
    assert entry.felt_best is None


def test_dates_are_counted_on_shown_so_and_not_kept(grid: Page, course: Any) -> None:
    night = grid.get_by_role("group", name="Night 3", exact=True)
    expect(night.locator(".evening")).to_have_text("Wed 4 Nov, counted")
    grid.locator("#n2s1").focus()
    grid.keyboard.press("+")
    grid.keyboard.press("4")
    expect(night.locator(".evening")).to_have_text("Thu 5 Nov, counted")
    saved(grid)
    kept = known(course).nights
    assert kept[2].evening.evening.isoformat() == "2026-11-04"
    assert set(kept) == {2}


def test_undo_takes_back_and_redo_brings_again(grid: Page, course: Any) -> None:
    grid.locator("#n1s1").focus()
    grid.keyboard.press("4")
    grid.keyboard.press("2")
    grid.keyboard.press("Control+z")
    expect(grid.locator("#n1s2")).to_have_value("")
    expect(grid.locator("#n1s2")).to_be_focused()
    grid.keyboard.press("Control+z")
    grid.keyboard.press("Control+y")
    expect(grid.locator("#n1s1")).to_have_value("4")
    saved(grid)
    assert len(known(course).nights[1].evening.entry.rows) == 1


def test_arrows_and_the_eraser_lead_where_they_should(grid: Page) -> None:
    grid.locator("#n1s1").focus()
    for key, at in [
        ("ArrowRight", "n1s2"),
        ("ArrowDown", "n2s2"),
        ("End", "n2felt_best"),
        ("Home", "n2s1"),
        ("ArrowUp", "n1s1"),
        ("3", "n1s2"),
        ("Backspace", "n1s1"),
        ("Backspace", "n1s1"),
    ]:
        grid.keyboard.press(key)
        expect(grid.locator(f"#{at}")).to_be_focused()
    expect(grid.locator("#n1s1")).to_have_value("")


def test_saved_nights_survive_a_reload(grid: Page) -> None:
    grid.locator("#n5s1").focus()
    grid.keyboard.type("f4l2")
    saved(grid)
    grid.reload()
    expect(grid.locator("#n5s1")).to_have_value("4 first")
    expect(grid.locator("#n5s2")).to_have_value("2 later")
    saved(grid)


def test_a_lost_connection_loses_nothing(grid: Page, course: Any) -> None:
    grid.context.set_offline(True)
    grid.locator("#n1s1").focus()
    grid.keyboard.type("4321")
    standing = grid.locator("#standing")
    expect(standing).to_have_text("No connection. 1 night kept in this browser until it is back.")
    expect(grid.locator("#told")).to_contain_text("No connection.")
    assert 1 not in known(course).nights
    grid.context.set_offline(False)
    saved(grid)
    assert [row.rating for row in known(course).nights[1].evening.entry.rows] == [4, 3, 2, 1]
    assert grid.evaluate("Object.keys(localStorage)") == []
    grid.complaints.clear()  # the browser says that there was no connection


def test_what_could_not_be_sent_survives_a_reload(grid: Page, course: Any, url: str) -> None:
    grid.route("**/nights/keep/", lambda route: route.abort())
    grid.locator("#n1s1").focus()
    grid.keyboard.type("43")
    expect(grid.locator("#standing")).to_contain_text("No connection.")
    grid.reload()
    expect(grid.locator("#n1s1")).to_have_value("4")
    grid.unroute("**/nights/keep/")
    saved(grid)
    assert [row.rating for row in known(course).nights[1].evening.entry.rows] == [4, 3]


def test_an_answer_lost_on_its_way_is_no_quarrel_with_oneself(grid: Page, course: Any) -> None:
    """The clinic kept the night, the browser never heard of it, and more was typed since."""

    def keep_and_drop(route: Route) -> None:
        route.fetch()
        route.abort()

    grid.route("**/nights/keep/", keep_and_drop)
    grid.locator("#n1s1").focus()
    grid.keyboard.press("4")
    expect(grid.locator("#standing")).to_contain_text("No connection.")
    grid.unroute("**/nights/keep/")
    grid.keyboard.press("3")
    saved(grid)
    expect(grid.locator(".clash")).to_have_count(0)
    assert [row.rating for row in known(course).nights[1].evening.entry.rows] == [4, 3]


@pytest.mark.parametrize(("choice", "rating"), [("Keep what I typed", 5), ("Take theirs", 2)])
def test_a_second_tab_cannot_overwrite_in_silence(
    choice: str, rating: int, grid: Page, course: Any, url: str
) -> None:
    other = grid.context.new_page()
    other.goto(grid.url)
    other.locator("#n1s1").focus()
    other.keyboard.press("2")
    saved(other)
    other.close()
    grid.locator("#n1s1").focus()
    grid.keyboard.press("5")
    expect(grid.locator(".clash")).to_contain_text("Theirs: 2;")
    assert known(course).nights[1].evening.entry.rows[0].rating == 2
    grid.get_by_role("button", name=choice).click()
    saved(grid)
    expect(grid.locator("#n1s1")).to_have_value(str(rating))
    assert known(course).nights[1].evening.entry.rows[0].rating == rating


def test_a_fault_stands_at_its_cell_and_is_said(grid: Page, course: Any) -> None:
    grid.locator("#n2s1").focus()
    grid.keyboard.press("9")
    cell = grid.locator("#n2s1")
    expect(cell).to_have_attribute("aria-invalid", "true")
    said = grid.locator(f"#{cell.get_attribute('aria-describedby')}")
    expect(said).to_contain_text(
        '"9" is out of range. Use a whole number from 1 to 5, or leave it empty.'
    )
    expect(grid.locator("#told")).to_contain_text("Night 2:")
    expect(grid.locator("#standing")).to_have_text("1 night not kept: see what is marked.")
    assert 2 not in known(course).nights
    grid.keyboard.press("ArrowLeft")
    grid.keyboard.press("3")
    saved(grid)
    expect(cell).not_to_have_attribute("aria-invalid", "true")


def test_whoever_was_signed_out_is_told_and_loses_nothing(grid: Page) -> None:
    cookies = grid.context.cookies()
    grid.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    grid.locator("#n1s1").focus()
    grid.keyboard.press("4")
    expect(grid.locator("#standing")).to_contain_text("You are signed out.")
    grid.context.add_cookies(cookies)
    grid.reload()
    saved(grid)
    expect(grid.locator("#n1s1")).to_have_value("4")


def test_fingers_can_tap_the_keys(grid: Page) -> None:
    grid.locator("#n1s1").focus()
    grid.get_by_text("All keys, also to be tapped").click()
    grid.locator("#n1s1").focus()
    grid.locator("#keys").get_by_role("button", name="L later try").click()
    grid.locator("#keys").get_by_role("button", name="4 easy", exact=True).click()
    expect(grid.locator("#n1s1")).to_have_value("4 later")
    expect(grid.locator("#n1s2")).to_be_focused()


def test_fields_of_a_night_are_saved_too(grid: Page, course: Any) -> None:
    grid.get_by_text("More of night 2").click()
    grid.locator("#n2not_done").select_option("ill")
    saved(grid)
    assert known(course).nights[2].evening.not_done == "ill"


def test_nothing_of_it_needs_a_mouse(grid: Page, tab_to: Callable[..., int]) -> None:
    tab_to(grid, "Go to the first blank")
    grid.keyboard.press("Enter")
    expect(grid.locator("#n1s1")).to_be_focused()
    tab_to(grid, "More of night 1")


def test_it_works_without_a_script(course: Any, url: str, as_role: Callable[..., Page]) -> None:
    page = as_role(Role.COACH, java_script_enabled=False)
    page.goto(url)
    page.locator("#n1s1").fill("4 first")
    page.locator("#n1s2").fill("2n")
    page.locator("#n1felt_best").fill("1")
    page.get_by_role("button", name="Save all nights").click()
    expect(page.get_by_text("All nights are saved.")).to_be_visible()
    expect(page.locator("#n1s2")).to_have_value("2 no")


LOOKS = ({}, {"width": 320, "scheme": "dark"}, {"text": 200}, {"lines": "rtl"})


def test_the_page_is_fit_for_everybody(
    grid: Page, dress: Callable[..., Page], check_page: Callable[[Page], None]
) -> None:
    grid.locator("#n1s1").focus()
    for key in ["4", "n", "2", "s", "Enter", "9", "Enter", "Enter"]:
        grid.keyboard.press(key)
    for key in "54345a1":
        grid.keyboard.press(key)
    expect(grid.locator("#standing")).to_contain_text("not kept")
    grid.get_by_text("More of night 3").click()
    for looks in LOOKS:
        dress(grid, **looks)
        check_page(grid)
