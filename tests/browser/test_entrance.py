"""Signing in, today's page, and pages that say no: in the browser, by keyboard, in every dress."""

import re

import pytest
from playwright.sync_api import expect

from sidelong.clinic.accounts.roles import Role

PASSWORD = "seven slow herons wade upstream"


def test_the_sign_in_page_owes_nothing_in_light_and_dark(visitor, dress, check_page, check_fit):
    visitor.goto("/account/sign-in/")
    check_page(dress(visitor))
    check_page(dress(visitor, width=320, scheme="dark"))
    check_fit(dress(visitor, width=320, text=200))
    check_fit(dress(visitor, width=320, lines="rtl"))


def test_a_wrong_password_is_told_in_words_at_the_head_of_the_form(
    visitor, make_member, check_page
):
    make_member(Role.COACH, username="robin", password=PASSWORD)
    visitor.goto("/account/sign-in/")
    visitor.get_by_label("Username").fill("robin")
    visitor.get_by_label("Password").fill("something else entirely")
    visitor.get_by_role("button", name="Sign in", exact=True).click()
    faults = visitor.get_by_role("alert")
    expect(faults).to_contain_text("One thing to put right")
    expect(faults).to_be_focused()
    check_page(visitor)


def test_a_coach_signs_in_by_keyboard_alone(visitor, make_member, tab_to, settings):
    from dataclasses import replace

    settings.INSTALLATION = replace(settings.INSTALLATION, demo=True, id="invented-1")
    user = make_member(Role.COACH, username="robin", password=PASSWORD)
    user.authenticator_set.all().delete()
    visitor.goto("/account/sign-in/")
    tab_to(visitor, "Username")
    visitor.keyboard.type("robin")
    tab_to(visitor, "Password")
    visitor.keyboard.type(PASSWORD)
    visitor.keyboard.press("Enter")
    expect(visitor).to_have_url(re.compile(r"/$"))
    expect(visitor.locator(".running")).to_contain_text("Robin")
    tab_to(visitor, "Sign out")
    visitor.keyboard.press("Enter")
    expect(visitor).to_have_url(re.compile("sign-in"))


@pytest.mark.parametrize("role", [Role.LEAD, Role.ADMINISTRATOR])
def test_today_owes_nothing(role, as_role, dress, check_page, check_fit):
    page = as_role(role)
    page.goto("/")
    check_page(dress(page))
    check_page(dress(page, width=320, scheme="dark"))
    check_fit(dress(page, width=320, text=200))
    check_fit(dress(page, width=320, lines="rtl"))


def test_the_skip_link_leads_past_the_running_head(as_role, tab_to):
    page = as_role(Role.COACH)
    page.goto("/")
    assert tab_to(page, "Skip to the content") == 1
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


def test_every_target_is_at_least_24_pixels_high(as_role, dress):
    page = dress(as_role(Role.LEAD), width=320)
    for address in ("/", "/account/factors/"):
        page.goto(address)
        small = page.evaluate(
            """() => [...document.querySelectorAll("a, button, input, select, summary")]
                .filter((each) => each.checkVisibility() && !each.closest("p, .skip, .unseen"))
                .filter((each) => !each.matches(".skip") && each.type !== "hidden")
                .filter((each) => each.getBoundingClientRect().height < 24)
                .map((each) => each.outerHTML.slice(0, 80))"""
        )
        assert small == []


def test_an_address_without_a_page_says_so_and_leads_back(as_role, check_fit):
    page = as_role(Role.COACH)
    page.goto("/no-such-page/")
    expect(page.get_by_role("heading", level=1)).to_have_text("No such page")
    page.complaints.clear()  # the browser notes the 404 itself
    page.get_by_role("main").get_by_role("link").click()
    expect(page).to_have_url(re.compile(r"/$"))
    check_fit(page)


@pytest.mark.parametrize("address", ["/account/factors/", "/account/factors/code/"])
def test_pages_of_ones_own_account_wear_the_same_look(address, as_role, dress, check_page):
    page = as_role(Role.COACH)
    page.goto(address)
    expect(page.locator(".running")).to_be_visible()
    check_page(dress(page, width=320))


def test_on_paper_nothing_is_left_to_press(as_role):
    page = as_role(Role.COACH)
    page.goto("/")
    page.emulate_media(media="print")
    pressed = page.evaluate(
        """() => [...document.querySelectorAll("button, nav, .skip")]
            .filter((each) => each.checkVisibility()).map((each) => each.outerHTML.slice(0, 80))"""
    )
    assert pressed == []


def test_the_browser_is_a_real_chromium(chromium_version, visitor):
    major = re.search(r"(\d+)\.", chromium_version)
    assert major is not None
    visitor.goto("/account/sign-in/")
    assert f"Chrome/{major[1]}" in visitor.evaluate("navigator.userAgent")
