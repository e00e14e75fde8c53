"""Every page on a trainee's way: axe finds nothing grave in it, and nothing scrolls sideways."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest
from playwright.sync_api import Page

from sidelong.clinic.accounts.roles import Role

CLINIC = Path(__file__).parents[1] / "clinic"
STAFF = (Role.COACH, Role.LEAD, Role.CLINICIAN)
LISTS = ("/", "/trainees/", "/trainees/new/", "/protocols/", "/promises/")
STEPS = (
    *("", "name/", "referral/", "questions/", "readiness/", "decision/", "visit/"),
    *("plan/", "close/"),
)
PRACTICE = (
    "nights/",
    "sheets/",
    "events/",
    "result/",
    "result/up/",
    "result/to-ask/",
    "first-dose/",
)
OPEN_ALL = "document.querySelectorAll('main details').forEach((each) => { each.open = true })"


def load_cast(room: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(f"{room}_cast", CLINIC / room / "cast.py")
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def page(open_page: Callable[..., Page], make_member, sign_in_as) -> Page:
    """Somebody who may see every page on the way, with a trainee whose plan is issued."""
    member = make_member(*STAFF)
    page = sign_in_as(open_page(), member)
    cast = load_cast("trainees")
    cast.take_up(member)
    page.code = cast.refer(member)
    cast.clear(page.code, member)
    cast.visit(page.code, member)
    cast.issue(page.code, member)
    return page


@pytest.fixture
def practised(open_page: Callable[..., Page], make_member, sign_in_as) -> Page:
    """The same, with a course whose nights are kept."""
    from sidelong.clinic.practice.actions import keep_nights

    member = make_member(*STAFF)
    page = sign_in_as(open_page(), member)
    cast = load_cast("practice")
    course = cast.set_down_course()
    nights = cast.invent_nights(cast.plan_in(course), is_patchy=True)
    keep_nights(code=cast.CODE, course=1, nights=nights, now=cast.NOW, today=cast.TODAY, by=member)
    page.code = cast.CODE
    return page


@pytest.fixture
def owing(dress, check_page, check_fit) -> Callable[..., dict[str, str]]:
    """Look at pages wide and narrow, light and dark, large and mirrored; give what each owes."""

    def look(page: Page, addresses: list[str]) -> dict[str, str]:
        owed = {}
        for address in addresses:
            answer = page.goto(address)
            assert answer is not None
            assert answer.status == 200, address
            page.evaluate(OPEN_ALL)
            try:
                check_page(dress(page))
                check_page(dress(page, width=320, scheme="dark"))
                check_fit(dress(page, width=320, lines="rtl"))
                check_fit(dress(page, text=200))
            except AssertionError as error:
                owed[address] = str(error)
        return owed

    return look


def test_lists_and_every_step_of_the_way_owe_nothing(page, owing):
    assert owing(page, [*LISTS, *(f"/trainees/{page.code}/{step}" for step in STEPS)]) == {}


def test_sheets_owe_nothing(page, owing, settings, tmp_path):
    from django.utils import timezone

    from sidelong.clinic.accounts.models import User
    from sidelong.clinic.sheets.actions import receive_photograph

    settings.MEDIA_ROOT = tmp_path / "media"
    cast = load_cast("sheets")
    booklet, member = cast.booklet_of(page.code), User.objects.get()
    for night in (1, 2):
        marks = cast.full_night(booklet, night) if night == 1 else {}
        content = cast.take_photograph(booklet, night, marks=marks)
        now = timezone.now()
        sent = {"code": page.code, "course": 1, "content": content, "now": now, "by": member}
        (sheet,) = receive_photograph(**sent).sheets
    at = f"/trainees/{page.code}/courses/1/sheets/"
    assert owing(page, [at, f"{at}{sheet}/by-hand/"]) == {}


def test_nights_events_and_result_owe_nothing(practised, owing):
    assert owing(practised, [f"/trainees/{practised.code}/courses/1/{s}" for s in PRACTICE]) == {}
