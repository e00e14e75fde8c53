"""How long a session lasts."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session

from sidelong.clinic.accounts import middleware
from sidelong.clinic.accounts.addresses import client_address
from sidelong.clinic.accounts.middleware import session_has_ended

START = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
IDLE, LONGEST = timedelta(minutes=30), timedelta(hours=12)


@pytest.mark.parametrize(
    ("seen", "now", "expected"),
    [
        (timedelta(0), timedelta(minutes=30), False),
        (timedelta(0), timedelta(minutes=31), True),
        (timedelta(hours=11, minutes=50), timedelta(hours=12), False),
        (timedelta(hours=12), timedelta(hours=12, minutes=1), True),
        (timedelta(0), timedelta(minutes=-1), True),
    ],
    ids=["just in time", "rested too long", "last minute", "too long at all", "clock went back"],
)
def test_a_session_ends_after_rest_and_after_a_day_of_work(
    seen: timedelta, now: timedelta, expected: bool
) -> None:
    ended = session_has_ended(
        started=START, seen=START + seen, now=START + now, idle=IDLE, longest=LONGEST
    )
    assert ended is expected


class Clock:
    """Stands where it is put."""

    def __init__(self) -> None:
        self.at = START

    def now(self) -> datetime:
        return self.at


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(middleware, "timezone", clock)
    return clock


def test_a_session_that_rested_is_gone_on_the_server_too(
    coach: Any, signed_in: Callable[[Any], Any], clock: Clock
) -> None:
    browser = signed_in(coach)
    assert browser.get("/").status_code == 200
    cookie = browser.cookies["sidelong"].value
    clock.at += timedelta(minutes=31)
    answer = browser.get("/")
    assert answer["Location"] == "/account/sign-in/?next=/"
    assert not Session.objects.filter(session_key=cookie).exists()


def test_work_keeps_a_session_open_until_the_longest_time(
    coach: Any, signed_in: Callable[[Any], Any], clock: Clock
) -> None:
    browser = signed_in(coach)
    n_answers = 0
    while browser.get("/").status_code == 200:
        clock.at += timedelta(minutes=20)
        n_answers += 1
    assert clock.at - START == timedelta(hours=12, minutes=20)
    assert n_answers == 37


def test_the_address_is_that_of_the_connection_or_what_our_proxy_appended(
    rf: Any, settings: Any
) -> None:
    from dataclasses import replace

    request = rf.get("/", headers={"X-Forwarded-For": "10.0.0.1, 192.0.2.7"})
    assert client_address(request) == "127.0.0.1"
    settings.INSTALLATION = replace(settings.INSTALLATION, behind_proxy=True)
    assert client_address(request) == "192.0.2.7"
