"""What pages of a trainee's way tell: in words, open to this reader, and under a lock."""

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sidelong.clinic.accounts.roles import Permission, Role, permissions_of
from sidelong.clinic.practice.actions import record_event
from sidelong.clinic.trainees.models import VisitRow
from sidelong.training.event import Tier
from sidelong.training.gates import Answer
from sidelong.training.position import ALL_POSITIONS

READERS = [role for role in Role if Permission.SEE_TRAINEES in permissions_of([role])]


@pytest.fixture
def browser_of(give_second_factor: Callable[[Any], None]) -> Callable[[Any], Client]:
    """Give each person a browser of their own."""

    def give(user: Any) -> Client:
        give_second_factor(user)
        client = Client()
        client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
        return client

    return give


def words(answer: Any) -> str:
    """What a reader sees of a page's content."""
    page = answer.content.decode().partition("<main")[2]
    page = re.sub(r"<(script|style|svg).*?</\1>", "", page, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def links(answer: Any) -> list[str]:
    main = answer.content.decode().partition("<main")[2].partition("</main>")[0]
    return re.findall(r'href="(/[^"#]*)"', main)


def choke(code: str, by: Any) -> None:
    """Record the gravest kind of event, which locks practice."""
    told = {"course": 1, "night": 1, "tier": Tier.ACT_FIRST, "position": None}
    record_event(code=code, **told, now=timezone.now(), by=by)


def seen(**changed: str) -> dict[str, str]:
    form = {"held_on": timezone.localdate().isoformat(), "piece": "bead-3"}
    form |= {"adult_present": "on", "trainee_agreed": "on"}
    form |= {f"water_{each}": "clean" for each in ALL_POSITIONS}
    return form | {f"piece_{each}": "clean" for each in ALL_POSITIONS} | changed


@pytest.mark.parametrize("role", READERS)
def test_nobody_is_led_to_a_page_that_refuses_them(
    role: Role,
    planned: str,
    coach: Any,
    make_staff: Callable[..., Any],
    browser_of: Callable[[Any], Client],
) -> None:
    choke(planned, coach)
    browser = browser_of(make_staff(role, username=f"one-{role}"))
    for name in ("trainee", "readiness", "plan"):
        page = browser.get(reverse(name, args=[planned]))
        assert links(page)
        refused = [each for each in links(page) if browser.get(each).status_code == 403]
        assert refused == [], name


def test_whoever_comes_with_photographs_finds_where_they_go(
    planned: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    page = browser_of(coach).get(reverse("trainee", args=[planned]))
    assert reverse("sheets", args=[planned, 1]) in links(page)


def test_pieces_and_sites_are_named_in_words(
    planned: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    way = words(browser.get(reverse("trainee", args=[planned])))
    assert "Quince Street Practice Clinic (invented); taken up by" in way
    assert "ball, 3 mm (bead-3) was seen swallowed cleanly." in way
    assert "site demo" not in way
    visit = words(browser.get(reverse("visit", args=[planned])))
    assert "ball, 3 mm (bead-3)" in visit
    plan = words(browser.get(reverse("plan", args=[planned])))
    assert "Piece ball, 3 mm (bead-3)" in plan
    assert "3.0" not in plan
    referral = words(browser.get(reverse("new_referral")))
    assert "Site Quince Street Practice Clinic (invented)" in referral


def test_a_list_names_sites_only_where_there_are_several(
    planned: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    assert "Site" not in words(browser_of(coach).get(reverse("trainees")))


def test_a_visit_under_a_lock_says_before_and_after_that_nothing_goes_home(
    planned: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    choke(planned, coach)
    browser, address = browser_of(coach), reverse("visit", args=[planned])
    before = browser.get(address)
    assert "No piece goes home after this visit: a clinician answers the event" in words(before)
    assert re.search(r'<input[^>]*name="release"[^>]* disabled', before.content.decode())

    after = browser.post(address, seen(), follow=True)
    assert "What was seen is kept. No piece goes home: practice is locked" in words(after)
    assert VisitRow.objects.order_by("pk").last().released is False

    n_visits = VisitRow.objects.count()
    refused = words(browser.post(address, seen(release="on")))
    assert "practice is locked" in refused
    assert VisitRow.objects.count() == n_visits


@pytest.mark.parametrize(
    ("sent", "told"), [({"release": "on"}, "Pieces may go home."), ({}, "Nothing goes home")]
)
def test_a_visit_says_what_came_of_it(
    sent: dict[str, str],
    told: str,
    decided: str,
    coach: Any,
    browser_of: Callable[[Any], Client],
) -> None:
    answer = browser_of(coach).post(reverse("visit", args=[decided]), seen(**sent), follow=True)
    assert f"What was seen is kept. {told}" in words(answer)


def test_a_decision_on_the_whole_names_the_questions_that_come_first(
    rules: None, coach: Any, clinician: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    code = cast.refer(coach, answers=cast.ALL_NO | {"choked_on_medicine": Answer.UNKNOWN})
    answer = browser_of(clinician).get(reverse("decision", args=[code]))
    assert "5 Has a medicine ever caused choking? do not know; a clinician decides" in words(answer)
    assert reverse("gate_decision", args=[code, "choked_on_medicine"]) in links(answer)


def test_days_in_messages_are_said_and_not_written_as_in_tables(
    decided: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    ahead = {"held_on": "2999-01-05"}
    page = words(browser_of(coach).post(reverse("visit", args=[decided]), seen(**ahead)))
    assert "it is dated 5 January 2999, after today" in page
