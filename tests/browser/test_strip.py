"""The strip on every page of an invented clinic: it says what it is, and leaves room on a phone."""

import re
from typing import Any

from playwright.sync_api import expect

# Two lines of text and a row to press; what is more pushes the page's own content off a phone.
HIGHEST_PX = 100


def test_the_strip_of_an_invented_clinic_is_low_on_a_phone(demo: Any, open_page: Any) -> None:
    page = open_page(viewport={"width": 320, "height": 640})
    page.goto(demo.address)
    page.get_by_role("button", name=re.compile("^Lead and clinician")).click()
    strip = page.get_by_role("complementary", name="All of this is invented")
    expect(strip).to_contain_text("Nothing here may be used for anybody")
    box = strip.bounding_box()
    assert box is not None
    assert box["height"] <= HIGHEST_PX
    strip.get_by_text("be somebody else").click()
    expect(strip.get_by_text("Your password").locator("visible=true")).to_be_visible()
    strip.get_by_role("button", name="Pharmacist").click()
    expect(strip).to_contain_text("Pharmacist: be somebody else")
