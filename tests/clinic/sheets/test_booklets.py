"""Sheets of several booklets: of one course, printed again or otherwise, and of somebody else."""

import io
from typing import Any

import pytest
from PIL import Image

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.sheets import actions
from sidelong.clinic.sheets.models import PhotoRow, ReadingRow
from sidelong.clinic.trainees.models import BookletRow
from sidelong.clinic.trainees.plan_actions import hand_out_booklet
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Edition
from sidelong.problems import Refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def print_one(code: str, coach: Any, way: Any, camera: Any) -> Any:
    """Make a booklet as the page does, and give it with its layout."""

    def make(**wishes: Any) -> Any:
        wishes = {"paper": Paper.A4, "language": "en"} | wishes
        hand_out_booklet(code=wishes.pop("code", code), now=way.NOW, by=coach, **wishes)
        return camera.booklet_made(BookletRow.objects.last())

    return make


@pytest.fixture
def receive(code: str, coach: Any, way: Any) -> Any:
    def send(content: bytes) -> list[tuple[str, int | None]]:
        got = actions.receive_photograph(
            code=code, course=1, content=content, now=way.NOW, by=coach
        )
        rows = ReadingRow.objects.filter(pk__in=got.sheets)
        return sorted((row.page_id, row.night) for row in rows)

    return send


def side_by_side(*photographs: bytes) -> bytes:
    images = [Image.open(io.BytesIO(each)) for each in photographs]
    width, height = sum(each.width for each in images), max(each.height for each in images)
    table = Image.new("RGB", (width, height), (70, 60, 50))
    left = 0
    for image in images:
        table.paste(image, (left, 0))
        left += image.width
    out = io.BytesIO()
    table.save(out, "JPEG", quality=92)
    return out.getvalue()


def test_two_prints_of_one_sheet_in_one_photograph_are_sent_back_and_none_is_lost(
    print_one: Any, receive: Any, camera: Any
) -> None:
    taken = camera.take_photograph(print_one(), 2, marks={})
    with pytest.raises(Refused, match=r"page \S+-02 lies in it more than once"):
        receive(side_by_side(taken, taken))
    assert not PhotoRow.objects.exists()


def test_two_booklets_of_a_course_photographed_together_are_never_mixed(
    code: str, print_one: Any, receive: Any, camera: Any
) -> None:
    first, again = print_one(), print_one()
    taken = [
        camera.take_photograph(first, 3, marks={}),
        camera.take_photograph(again, 3, marks={}, turned=-3.0),
    ]
    assert receive(side_by_side(*taken)) == [(f"{code}-03", 3), (f"{code}-B2-03", 3)]


def test_sheets_of_somebody_elses_booklet_beside_ones_own_are_left_out(
    code: str, coach: Any, way: Any, make_staff: Any, print_one: Any, receive: Any, camera: Any
) -> None:
    own = print_one()
    other = way.refer(coach, nth=7)
    way.clear(other, make_staff(Role.CLINICIAN, username="second-clinician"))
    way.visit(other, coach)
    way.issue(other, coach)
    theirs = print_one(code=other)
    taken = [
        camera.take_photograph(theirs, 2, marks={}),
        camera.take_photograph(own, 2, marks={}, turned=-3.0),
    ]
    assert receive(side_by_side(*taken)) == [(f"{code}-02", 2)]
    assert PhotoRow.objects.count() == 1


def test_an_earlier_booklet_on_other_paper_is_still_read_after_a_reprint(
    code: str, print_one: Any, receive: Any, camera: Any
) -> None:
    letter, a4 = print_one(paper=Paper.LETTER), print_one()
    assert receive(camera.take_photograph(letter, 5, marks={})) == [(f"{code}-05", 5)]
    assert receive(camera.take_photograph(a4, 5, marks={})) == [(f"{code}-B2-05", 5)]


def test_large_print_is_read_from_its_two_pages(
    code: str, print_one: Any, receive: Any, camera: Any
) -> None:
    large = print_one(edition=Edition.LARGE)
    parts = [page for page in large.layout.pages if page.night == 4]
    taken = [camera.photograph_page(large, page, marks={}) for page in parts]
    assert [receive(each) for each in taken] == [[(f"{code}-04-1", 4)], [(f"{code}-04-2", 4)]]
