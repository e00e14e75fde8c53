"""The page of what answers rest on, in a real browser: consent, learning, taking it back."""

import importlib.util
from pathlib import Path

import pytest
from playwright.sync_api import expect

from sidelong.clinic.accounts.roles import Role

CAST = Path(__file__).parents[1] / "clinic" / "practice" / "cast.py"
LOOKS = ({}, {"width": 320, "scheme": "dark"}, {"text": 200}, {"lines": "rtl"})


@pytest.fixture
def page(open_page, make_member, sign_in_as):
    """A lead's page; ten trainees with seven nights each, nine of them with consent."""
    from sidelong.clinic.practice.actions import keep_nights
    from sidelong.clinic.practice.fit_actions import record_consent
    from sidelong.training.consent import Consent

    found = importlib.util.spec_from_file_location("practice_cast", CAST)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    lead = make_member(Role.LEAD)
    for who in range(10):
        code = f"HL-F{who:02d}"
        course = cast.set_down_course(code, index=who, n_nights=7)
        nights = cast.invent_nights(cast.plan_in(course), seed=who)
        keep_nights(code=code, course=1, nights=nights, now=cast.NOW, today=cast.TODAY, by=lead)
        if who:
            record_consent(code=code, answer=Consent.YES, now=cast.NOW, by=lead)
    return sign_in_as(open_page(), lead)


def test_a_lead_has_the_clinic_learn_and_a_withdrawal_ends_it(page, dress, check_page):
    page.goto("/fit/")
    expect(page.get_by_text("9 of 10 trainees; 9 of them have enough nights")).to_be_visible()
    page.get_by_role("button", name="Learn from those who consent").click()
    expect(page.get_by_text("The shipped values stand")).to_be_visible()
    page.get_by_label("Code of the trainee").fill("HL-F00")
    page.get_by_label("May the nights count").select_option("yes")
    page.get_by_role("button", name="Keep the answer").click()
    page.get_by_role("button", name="Learn from those who consent").click()
    expect(page.get_by_role("definition").first).to_contain_text("fitted to 10 trainees")
    for look in LOOKS:
        check_page(dress(page, **look))
    dress(page)
    page.goto("/trainees/HL-F03/courses/1/result/")
    expect(page.get_by_text("fitted to 10 trainees").first).to_be_visible()
    page.get_by_role("link", name="What answers rest on").click()
    page.get_by_label("Code of the trainee").fill("HL-F03")
    page.get_by_label("May the nights count").select_option("no")
    page.get_by_role("button", name="Keep the answer").click()
    expect(page.get_by_text("The clinic's own values are out of use")).to_be_visible()
    expect(page.get_by_role("definition").first).to_contain_text("shipped with the program")
