"""The page of all parts, dressed in every way in which pages are looked at."""

import pytest

from sidelong.clinic.accounts.roles import Role

BOTH_DIRECTIONS = pytest.mark.parametrize("address", ["/parts/", "/parts/?lines=rtl"])
OPEN_ALL = "document.querySelectorAll('main details').forEach((each) => { each.open = true })"


@BOTH_DIRECTIONS
def test_axe_finds_nothing_grave_in_any_part_light_or_dark(address, as_role, dress, check_page):
    page = as_role(Role.COACH)
    page.goto(address)
    page.evaluate(OPEN_ALL)
    check_page(dress(page, width=1280, scheme="light"))
    check_page(dress(page, width=320, scheme="dark"))


@BOTH_DIRECTIONS
def test_no_part_scrolls_sideways_when_narrow_or_large(address, as_role, dress, check_fit):
    page = as_role(Role.ADMINISTRATOR)
    page.goto(address)
    page.evaluate(OPEN_ALL)
    check_fit(dress(page, width=320))
    check_fit(dress(page, width=660))
    check_fit(dress(page, width=1280, text=200))
    check_fit(dress(page, width=640, text=200, scheme="dark"))
    check_fit(dress(page, width=320, text=200))
