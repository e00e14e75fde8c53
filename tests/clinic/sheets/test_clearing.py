"""Pixels go after the site's time while the server runs: once a day, by whoever opens a page."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import OperationalError

from sidelong.clinic.sheets import actions, clearing
from sidelong.clinic.sheets.clearing import clear_when_due
from sidelong.clinic.sheets.models import PhotoRow
from sidelong.clinic.sheets.rows import photo_store

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _forget() -> Any:
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def old(code: str, coach: Any, photograph: Any, settings: Any) -> datetime:
    """A photograph that is done with, and the day on which it is due."""
    received = datetime.now(UTC)
    where = {"code": code, "course": 1, "by": coach}
    got = actions.receive_photograph(content=photograph(1, {}), now=received, **where)
    actions.set_aside(sheet=got.sheets[0], now=received, **where)
    return received + timedelta(days=settings.INSTALLATION.photograph_days, hours=1)


def test_a_visit_deletes_what_is_due_and_not_before(old: datetime) -> None:
    clear_when_due(now=old - timedelta(days=2))
    assert PhotoRow.objects.get().removed is None
    cache.clear()  # a day later
    clear_when_due(now=old)
    assert PhotoRow.objects.get().removed == old
    assert list(photo_store().names()) == []


def test_it_is_looked_through_once_a_day_only(
    old: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[datetime] = []
    monkeypatch.setattr(
        clearing, "remove_old_photographs", lambda *, now, **_: seen.append(now) or 0
    )
    for _ in range(3):
        clear_when_due(now=old)
    assert seen == [old]


def test_opening_today_is_such_a_visit(
    old: datetime, coach: Any, signed_in: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    PhotoRow.objects.get()
    monkeypatch.setattr("django.utils.timezone.now", lambda: old)
    assert signed_in(coach).get("/").status_code == 200
    assert PhotoRow.objects.get().removed is not None


def test_a_page_never_fails_because_of_it(
    code: str, coach: Any, signed_in: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(**_: Any) -> int:
        raise OperationalError("database is locked")

    monkeypatch.setattr(clearing, "remove_old_photographs", locked)
    page = signed_in(coach).get(f"/trainees/{code}/courses/1/sheets/")
    assert page.status_code == 200


def test_way_and_day_say_that_sheets_wait_until_they_are_done_with(
    code: str, coach: Any, signed_in: Any, photograph: Any
) -> None:
    browser = signed_in(coach)
    way = browser.get(f"/trainees/{code}/").content.decode()
    assert "Look at the sheets" not in way
    where = {"code": code, "course": 1, "now": datetime.now(UTC), "by": coach}
    (sheet,) = actions.receive_photograph(content=photograph(1, {}), **where).sheets
    way = browser.get(f"/trainees/{code}/").content.decode()
    assert "One sheet waits to be looked at and confirmed." in way
    # The booklet was printed by hand here, so that step stays the next one until it is passed over.
    actions.set_aside(sheet=sheet, **where)
    way = browser.get(f"/trainees/{code}/").content.decode()
    assert "One sheet came; all are done with." in way
