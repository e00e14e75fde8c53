"""The readiness questions by keyboard: one key an answer, saved as it is given, and tried again."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from sidelong.clinic.accounts.roles import Role

CAST = Path(__file__).parents[1] / "clinic" / "trainees" / "cast.py"


@pytest.fixture
def asking(open_page: Callable[..., Page], make_member: Any, sign_in_as: Any) -> Page:
    """The questions about somebody of whom nothing was answered yet."""
    found = importlib.util.spec_from_file_location("cast_of_answers", CAST)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    member = make_member(Role.LEAD)
    cast.take_up(member)
    page = sign_in_as(open_page(), member)
    page.goto(f"/trainees/{cast.refer(member, answers={})}/questions/")
    return page


def focused(page: Page) -> str:
    return page.evaluate("document.activeElement.closest('[data-question]').dataset.question")


def answers(page: Page) -> dict[str, str]:
    """What is ticked, by question."""
    return page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('[data-answers] input:checked')]
            .map((each) => [each.name.slice(2), each.value]))"""
    )


def test_one_key_answers_and_goes_on_and_b_goes_back(asking: Page) -> None:
    asked = []
    for key in ("n", "d", "n"):
        asked.append(focused(asking))
        asking.keyboard.press(key)
    assert len(set(asked)) == 3
    assert answers(asking) == dict(zip(asked, ("no", "unknown", "no"), strict=True))
    asking.keyboard.press("b")
    assert focused(asking) == asked[2]


def test_answers_are_saved_without_a_button_and_survive_reloading(asking: Page) -> None:
    n_open = int(asking.locator("[data-open]").inner_text())
    first = focused(asking)
    asking.keyboard.press("n")
    expect(asking.locator(f'[data-question="{first}"] [data-state]')).to_contain_text("Saved")
    expect(asking.locator("[data-open]")).to_have_text(str(n_open - 1))
    asking.reload()
    assert answers(asking) == {first: "no"}
    assert focused(asking) != first


def test_a_question_that_follows_a_yes_shows_only_then(asking: Page) -> None:
    follow_up = asking.locator("[data-after]").first
    key = follow_up.get_attribute("data-after")
    expect(follow_up).to_be_hidden()
    asking.locator(f'[data-question="{key}"] input').first.focus()
    asking.keyboard.press("y")
    expect(follow_up).to_be_visible()
    asking.keyboard.press("b")
    asking.keyboard.press("n")
    expect(follow_up).to_be_hidden()


def test_what_could_not_be_sent_is_said_and_sent_again(asking: Page) -> None:
    asking.context.set_offline(True)
    first = focused(asking)
    asking.keyboard.press("n")
    state = asking.locator(f'[data-question="{first}"] [data-state]')
    expect(state).to_contain_text("Not saved.")
    asking.context.set_offline(False)
    asking.keyboard.press("n")
    expect(state).to_contain_text("Saved", timeout=10_000)
