"""Questions to ask kindly: who sees them, that they blame nobody, and where they are not."""

from dataclasses import replace
from typing import Any

import pytest

from sidelong.clinic.accounts.people import NotPermitted
from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.practice.asking import to_ask_about
from sidelong.clinic.practice.typed import TypedCell
from sidelong.paper.language import read_language
from sidelong.pathway.backfill import PieceCount

LATER = "Said to be written later: night 2 and 3."
SAME = "No answer differs from night to night: night 1 to 14."
BY_PLACE = "Answers follow the place on the sheet more than the position: night 1 to 14."


@pytest.fixture
def at(course: Any, cast: Any) -> str:
    return f"/trainees/{cast.CODE}/courses/1/result"


@pytest.fixture
def written(plan: Any, keep: Any, cast: Any) -> Any:
    """Fourteen nights of which two were written later."""

    def keep_nights(cells: Any = None) -> None:
        nights = []
        for night in cast.invent_nights(plan):
            when = "later" if night.night in {2, 3} else "same_evening"
            changed = {"cells": cells(night), "felt_best": ""} if cells else {}
            nights.append(replace(night, written=when, **changed))
        keep(nights)

    return keep_nights


def words_of(page: Any) -> str:
    """What stands in the middle of a page."""
    return " ".join(page.content.decode().split("<main")[1].split("</main>")[0].split())


def test_a_sign_stands_beside_a_question_without_blame(
    at: str, written: Any, coach: Any, signed_in: Any
) -> None:
    written()
    page = words_of(signed_in(coach).get(f"{at}/to-ask/"))
    assert LATER in page
    assert "For which of these nights do you remember well how it went?" in page
    assert "A sign is a reason to ask and proves nothing." in page
    assert "Without these nights the answer" in page
    assert BY_PLACE not in page
    for word in ("cheat", "lie", "false", "fake", "invented"):
        assert f" {word}" not in page


def test_answers_that_follow_the_place_are_noticed_the_same_twice(
    at: str, written: Any, coach: Any, signed_in: Any
) -> None:
    written(lambda night: tuple(TypedCell(str(5 - n), "first") for n in range(len(night.cells))))
    browser = signed_in(coach)
    first, second = (words_of(browser.get(f"{at}/to-ask/")) for _ in range(2))
    assert BY_PLACE in first
    assert first == second


def test_repeated_answers_change_what_the_nights_say(
    at: str, plan: Any, written: Any, coach: Any, signed_in: Any
) -> None:
    listed = [str(each) for each in plan.positions]

    def alike(night: Any) -> tuple[TypedCell, ...]:
        order = [str(each) for each in plan.nights[night.night - 1].order]
        return tuple(TypedCell("5" if each == listed[1] else "2", "first") for each in order)

    written(alike)
    page = words_of(signed_in(coach).get(f"{at}/to-ask/"))
    assert SAME in page
    assert "Without these nights the answer would be another one" in page


def test_nothing_is_made_of_the_hour_at_which_staff_typed(
    at: str, plan: Any, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    keep([replace(each, written="same_evening") for each in cast.invent_nights(plan)])
    page = words_of(signed_in(coach).get(f"{at}/to-ask/"))
    assert "minutes of one another" not in page
    assert "Nothing stands out in these nights." in page


@pytest.mark.parametrize(
    ("counts", "says"),
    [
        ({"given": "200", "returned": "10"}, "The pieces that are gone do not fit the answers."),
        ({"given": "5", "returned": "9"}, "More pieces came back than were given"),
        ({"given": "5", "returned": ""}, "Give both numbers, or leave both empty."),
        ({"given": "-1", "returned": ""}, "greater than or equal to 0"),
    ],
)
def test_pieces_are_compared_or_the_faulty_count_is_named(
    at: str, written: Any, coach: Any, signed_in: Any, counts: dict[str, str], says: str
) -> None:
    written()
    page = words_of(signed_in(coach).get(f"{at}/to-ask/", counts))
    assert says in page
    assert ("These counts are compared above." in page) is (counts["given"] == "200")


def test_pieces_that_fit_the_answers_are_no_sign(written: Any, coach: Any, cast: Any) -> None:
    written()
    usual = {"language": read_language("en"), "seen_by": coach}
    without = to_ask_about(cast.CODE, 1, pieces=None, **usual)
    # Fourteen nights of five positions: one piece or two each.
    assert to_ask_about(cast.CODE, 1, pieces=PieceCount(100, 0), **usual) == without
    assert to_ask_about(cast.CODE, 1, pieces=PieceCount(30, 0), **usual) != without


@pytest.mark.parametrize("role", [Role.ANALYST, Role.PHARMACIST, Role.ADMINISTRATOR])
def test_who_holds_no_follow_up_sees_neither_signs_nor_the_way_to_them(
    at: str, written: Any, make_staff: Any, signed_in: Any, cast: Any, role: Role
) -> None:
    written()
    member = make_staff(role)
    browser = signed_in(member)
    assert browser.get(f"{at}/to-ask/").status_code == 403
    assert "to-ask" not in words_of(browser.get(f"{at}/"))
    with pytest.raises(NotPermitted):
        to_ask_about(cast.CODE, 1, pieces=None, language=read_language("en"), seen_by=member)


def test_the_result_leads_there_and_holds_none_of_it(
    at: str, written: Any, clinician: Any, signed_in: Any
) -> None:
    written()
    page = words_of(signed_in(clinician).get(f"{at}/"))
    assert f'href="{at}/to-ask/"' in page
    assert LATER not in page
    assert "Without these nights" not in page


def test_there_is_no_such_page_of_a_course_that_is_not_there(
    at: str, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    assert browser.get(at.replace("/1/", "/7/") + "/to-ask/").status_code == 404
