"""Pages of sheets without a script: sent, looked at, confirmed, and what is refused."""

import io
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.practice.nights import find_course, known_nights
from sidelong.clinic.sheets.models import AnswerSaid, PhotoRow, SheetKept
from sidelong.clinic.sheets.queries import sheets_of
from sidelong.clinic.trainees.models import BookletRow
from sidelong.clinic.trainees.plan_actions import hand_out_booklet
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Edition

pytestmark = pytest.mark.django_db
BYTES = 10_000_000


@pytest.fixture
def at(code: str) -> str:
    return f"/trainees/{code}/courses/1/sheets"


@pytest.fixture
def desk(coach: Any, signed_in: Callable[[Any], Any]) -> Any:
    return signed_in(coach)


@pytest.fixture
def send(at: str, desk: Any) -> Callable[..., str]:
    """Send photographs through the form and give the page that answers."""

    def post(*contents: bytes) -> str:
        files = [
            SimpleUploadedFile(f"{n}.jpg", content, "image/jpeg")
            for n, content in enumerate(contents)
        ]
        answer = desk.post(f"{at}/receive/", {"photographs": files}, follow=True)
        assert answer.status_code == 200
        return answer.content.decode()

    return post


def line_of(code: str, coach: Any) -> Any:
    (line,) = sheets_of(code, 1, seen_by=coach)
    return line


def test_a_sheet_goes_through_by_forms_alone(
    code: str,
    at: str,
    coach: Any,
    desk: Any,
    send: Any,
    photograph: Any,
    full_night: Any,
) -> None:
    told = full_night(3)
    assert "Received: 1 sheet." in send(photograph(3, told))
    while (line := line_of(code, coach)).waiting:
        said = {f"said-{line.key}-{s.field}": told.get(s.field, "") for s in line.waiting}
        desk.post(f"{at}/look/", said)
    page = desk.post(f"{at}/{line.key}/confirm/", {"not_done": "other"}, follow=True)
    assert "The sheet is kept as its night." in page.content.decode()
    rows = known_nights(find_course(code, 1)).nights[3].evening.entry.rows
    assert {str(row.went_down) for row in rows} == {"first"}


def test_clear_sheets_are_confirmed_together_and_others_are_left(
    code: str, at: str, coach: Any, desk: Any, send: Any, photograph: Any, full_night: Any
) -> None:
    twice = (photograph(4, full_night(4)), photograph(4, full_night(4), turned=-6.0))
    send(*(photograph(night, full_night(night)) for night in (1, 2)), *twice)
    lines = sheets_of(code, 1, seen_by=coach)
    for line in lines:
        told = full_night(line.night)
        said = {f"said-{line.key}-{s.field}": told.get(s.field, "") for s in line.waiting}
        desk.post(f"{at}/look/", said)
    dates = {f"evening-{line.key}": "" for line in lines}
    desk.post(f"{at}/confirm/", dates)
    assert set(known_nights(find_course(code, 1)).nights) == {1, 2}
    assert SheetKept.objects.count() == 2


def test_a_sheet_that_the_page_did_not_show_is_not_confirmed_with_the_rest(
    code: str, at: str, coach: Any, desk: Any, send: Any, photograph: Any, full_night: Any
) -> None:
    send(photograph(1, full_night(1)))
    desk.post(f"{at}/confirm/", {"evening-999": ""})
    assert known_nights(find_course(code, 1)).nights == {}


def test_look_again_asks_anew_what_a_person_had_said(
    code: str, at: str, coach: Any, desk: Any, send: Any, photograph: Any
) -> None:
    send(photograph(6, {}))
    line = line_of(code, coach)
    desk.post(f"{at}/look/", {f"said-{line.key}-p1.rating": "2"})
    assert line_of(code, coach).states["p1.rating"].is_said
    desk.post(f"{at}/{line.key}/look-again/")
    assert line_of(code, coach).states == line.states
    assert AnswerSaid.objects.count() == 2, "both stay on record"


def test_a_sheet_of_somebody_else_is_not_kept_and_the_page_says_what_to_do(
    way: Any, camera: Any, coach: Any, make_staff: Any, desk: Any, at: str, send: Any
) -> None:
    other = way.refer(coach, nth=7)
    way.clear(other, make_staff(Role.CLINICIAN, username="second-clinician"))
    way.visit(other, coach)
    way.issue(other, coach)
    said = send(camera.take_photograph(camera.booklet_of(other), 2, marks={}))
    assert "this is a sheet of another trainee or of another course" in said
    assert "it was not kept" in said
    assert not PhotoRow.objects.exists()


def test_the_printed_example_is_named_and_nothing_is_entered(
    code: str, coach: Any, way: Any, camera: Any, send: Any
) -> None:
    hand_out_booklet(code=code, paper=Paper.A4, language="en", now=way.NOW, by=coach)
    made = camera.booklet_made(BookletRow.objects.get())
    said = send(camera.photograph_example(made))
    assert "Photograph 1: this is the filled example that is printed in every booklet" in said
    assert "nothing to enter" in said
    assert not PhotoRow.objects.exists()


def test_a_spare_sheet_is_told_its_night_and_counts_in_its_own_order(
    code: str, at: str, coach: Any, desk: Any, send: Any, camera: Any, booklet: Any
) -> None:
    spare = next(page for page in booklet.layout.pages if page.night is None)
    planned = known_nights(find_course(code, 1)).plan.nights[1].order
    assert spare.order != planned, "else this would show nothing"
    told = {"p1.rating": "5", "p1.went_down": "first", "written": "same_evening"}
    send(camera.photograph_page(booklet, spare, marks=told))
    line = line_of(code, coach)
    assert (line.is_spare, line.night) == (True, None)
    for wrong in ("", "15", "two"):
        page = desk.post(f"{at}/{line.key}/stands-for/", {"night": wrong})
        assert 'role="alert"' in page.content.decode()
    desk.post(f"{at}/{line.key}/stands-for/", {"night": "2"})
    while (line := line_of(code, coach)).waiting:
        said = {f"said-{line.key}-{s.field}": told.get(s.field, "") for s in line.waiting}
        desk.post(f"{at}/look/", said)
    page = desk.get(f"{at}/").content.decode()
    assert "Night 2 (spare sheet)" in page
    desk.post(f"{at}/{line.key}/stands-for/", {"back": "1"})
    assert line_of(code, coach).night is None
    desk.post(f"{at}/{line.key}/stands-for/", {"night": "2"})
    desk.post(f"{at}/{line.key}/confirm/", {"not_done": "other"})
    (row,) = known_nights(find_course(code, 1)).nights[2].evening.entry.rows
    assert (row.position, row.slot, row.rating) == (spare.order[0], 1, 5)


def test_both_pages_of_a_large_print_night_become_one_night(
    code: str, at: str, coach: Any, desk: Any, way: Any, send: Any, camera: Any
) -> None:
    hand_out_booklet(
        code=code, paper=Paper.A4, language="en", edition=Edition.LARGE, now=way.NOW, by=coach
    )
    made = camera.booklet_made(BookletRow.objects.get())
    parts = [page for page in made.layout.pages if page.night == 4]
    told = {f"p{slot}.rating": str(slot) for slot in range(1, 6)}
    told |= {f"p{slot}.went_down": "first" for slot in range(1, 6)}
    send(*(camera.photograph_page(made, page, marks=told) for page in parts))
    for line in (lines := sheets_of(code, 1, seen_by=coach)):
        said = {f"said-{line.key}-{s.field}": told.get(s.field, "") for s in line.waiting}
        desk.post(f"{at}/look/", said)
    desk.post(f"{at}/confirm/", {f"evening-{line.key}": "" for line in lines})
    rows = known_nights(find_course(code, 1)).nights[4].evening.entry.rows
    assert [(row.slot, row.rating) for row in rows] == [(slot, slot) for slot in range(1, 6)]
    assert [each.outcome for each in SheetKept.objects.all()] == ["kept", "kept"]


def test_ten_megabytes_pass_and_twelve_are_refused_kindly(
    code: str, send: Any, photograph: Any, full_night: Any
) -> None:
    taken = photograph(1, full_night(1))
    said = send(taken + b"\0" * (BYTES - len(taken)))
    assert "Received: 1 sheet." in said
    said = send(photograph(2, full_night(2)) + b"\0" * (12_000_000 - len(taken)))
    assert "it has over 10 MB" in said
    assert PhotoRow.objects.count() == 1


def test_too_many_at_once_are_refused_whole(send: Any) -> None:
    said = send(*[b"x"] * 41)
    assert "41 photographs came at once, and none was kept" in said


def test_no_photograph_and_none_of_a_sheet_are_told_apart(send: Any) -> None:
    assert "No photograph was chosen." in send()
    out = io.BytesIO()
    Image.fromarray(np.full((1200, 900, 3), 90, np.uint8)).save(out, "JPEG")
    said = send(b"these are words", out.getvalue())
    assert "Photograph 1:" in said
    assert "Photograph 2: no sheet of this course was found" in said


def test_pictures_are_never_stored_by_the_browser(
    code: str, at: str, coach: Any, desk: Any, send: Any, photograph: Any
) -> None:
    send(photograph(1, {}))
    key = line_of(code, coach).key
    for area in ("page", "p1.rating", "note.0"):
        answer = desk.get(f"{at}/{key}/{area}.jpg")
        assert answer.status_code == 200, area
        assert answer["Cache-Control"] == "no-store"
        assert answer["Content-Type"] == "image/jpeg"
        assert answer.content[:2] == b"\xff\xd8"
    assert desk.get(f"{at}/{key}/elsewhere.jpg").status_code == 404


def test_whoever_may_only_see_results_sees_sheets_and_sends_none(
    code: str, at: str, coach: Any, make_staff: Any, signed_in: Any, send: Any, photograph: Any
) -> None:
    send(photograph(1, {}))
    reader = signed_in(make_staff(Role.CLINICIAN, username="reader"))
    page = reader.get(f"{at}/").content.decode()
    assert "Night 1" in page
    for needed in ("Send and read", "Keep these answers", "Confirm night"):
        assert needed not in page
    assert reader.post(f"{at}/receive/", {}).status_code == 403
