"""Pages of one's own account, which a library draws, in the words and the manner of all others."""

import re
from html import unescape
from typing import Any

import pytest

from sidelong.clinic.accounts.actions import choose_password
from sidelong.clinic.look.templatetags.look import sentence_case

PASSWORD = "seven quiet harbour lamps"
PAGES = ("password/", "again/", "factors/", "factors/code/", "factors/passkeys/")
TITLE_CASE = re.compile(r"\S+ (?:\S+ )*[A-Z][a-z]")


@pytest.fixture
def browser(client: Any, coach: Any) -> Any:
    choose_password(user=coach, password=PASSWORD, by=coach)
    client.post("/account/sign-in/", {"login": "coach", "password": PASSWORD})
    return client


@pytest.mark.parametrize("page", PAGES)
def test_headings_buttons_and_titles_have_one_capital(page: str, browser: Any) -> None:
    answer = browser.get(f"/account/{page}", follow=True)
    assert answer.status_code == 200
    text = answer.content.decode()
    main = text.partition("<main")[2].partition("</main>")[0]
    found = re.findall(
        r"<(?:h1|h2|button|label|a)\b[^>]*>(.*?)</(?:h1|h2|button|label|a)>", main, re.S
    )
    found += re.findall(r"<title>(.*?)</title>", text, re.S)
    words = [" ".join(unescape(re.sub(r"<[^>]+>", " ", each)).split()) for each in found]
    assert any(words)
    assert [each for each in words if TITLE_CASE.match(each)] == []
    assert "placeholder" not in main


def test_a_password_is_changed_in_our_words(browser: Any, coach: Any) -> None:
    page = browser.get("/account/password/").content.decode()
    for label in ("Your password until now", "New password, once more", "Change the password"):
        assert label in page
    new = "eight loud harbour lamps"
    sent = {"oldpassword": PASSWORD, "password1": new, "password2": new}
    assert browser.post("/account/password/", sent).status_code == 302
    coach.refresh_from_db()
    assert coach.check_password(new)


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("Two-Factor Authentication", "Two-factor authentication"),
        ("Add a TOTP Key", "Add a TOTP key"),
        ("", ""),
    ],
)
def test_sentence_case_keeps_abbreviations(written: str, shown: str) -> None:
    assert sentence_case(written) == shown
