"""The page of all parts, dressed in every way in which pages are looked at."""

import pytest

from sidelong.clinic.accounts.roles import Role

DRESSES = [
    {"width": 1280, "scheme": "light"},
    {"width": 1280, "scheme": "dark"},
    {"width": 320, "scheme": "light"},
    {"width": 320, "scheme": "dark"},
    {"width": 1280, "scheme": "light", "text": 200},
    {"width": 320, "scheme": "light", "text": 200},
]


def named(dress):
    return " ".join(str(value) for value in dress.values())


@pytest.mark.parametrize("address", ["/parts/", "/parts/?lines=rtl"])
def test_every_part_holds_in_light_and_dark_wide_and_narrow_large_and_mirrored(
    address, as_role, dress, check_page
):
    page = as_role(Role.COACH)
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true })")
    for each in DRESSES:
        dress(page, **each)
        check_page(page)
