"""Today's page."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.trainees.actions import enter_trainee, open_course

NOW = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)


def test_an_empty_day_says_so(coach: Any, signed_in: Callable[[Any], Any]) -> None:
    text = signed_in(coach).get("/").content.decode()
    assert "Nobody is on a course." in text
    assert "Nobody is waiting for a course." in text
    assert "Coach (coach)" in text


def test_trainees_stand_by_code_under_on_a_course_or_waiting(
    coach: Any, signed_in: Callable[[Any], Any]
) -> None:
    identity = Identity("Inventia", "Madeup", date(2018, 2, 3))
    waiting, going = (
        enter_trainee(
            site="harbour",
            language="en",
            identity=identity,
            now=NOW,
            below=lambda n, place=place: place,
            by=coach,
        )
        for place in (3, 4)
    )
    open_course(code=going, now=NOW, by=coach)
    text = signed_in(coach).get("/").content.decode()
    assert text.index("On a course") < text.index(going) < text.index("Waiting")
    assert text.index("Waiting") < text.index(waiting)
    assert "Madeup" not in text


@pytest.mark.parametrize("role", [Role.ADMINISTRATOR])
def test_who_may_see_no_trainees_sees_none(
    role: Role, make_staff: Callable[..., Any], signed_in: Callable[[Any], Any]
) -> None:
    text = signed_in(make_staff(role)).get("/").content.decode()
    assert "On a course" not in text
