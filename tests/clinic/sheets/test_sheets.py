"""From a photograph to a night: read, looked at, confirmed, compared, and never added twice."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.practice.nights import find_course, known_nights
from sidelong.clinic.practice.typed import TypedCell
from sidelong.clinic.sheets import actions
from sidelong.clinic.sheets.actions import Outcome
from sidelong.clinic.sheets.clearing_actions import remove_old_photographs
from sidelong.clinic.sheets.models import AnswerSaid, PhotoRow, ReadingRow, SheetKept
from sidelong.clinic.sheets.queries import picture_of, sheets_of
from sidelong.clinic.sheets.rows import photo_store
from sidelong.problems import Refused
from sidelong.training.entry import Source, WentDown

NOW = datetime(2026, 12, 20, 10, 0, tzinfo=UTC)
TODAY = date(2026, 12, 20)
pytestmark = pytest.mark.django_db


@pytest.fixture
def receive(code: str, coach: Any) -> Callable[..., Any]:
    def send(content: bytes) -> Any:
        return actions.receive_photograph(code=code, course=1, content=content, now=NOW, by=coach)

    return send


@pytest.fixture
def settle(code: str, coach: Any) -> Callable[..., None]:
    """Say of every unclear field what the sheet shows."""

    def say(sheet: int, told: dict[str, str]) -> None:
        while True:
            (line,) = [each for each in sheets_of(code, 1, seen_by=coach) if each.key == sheet]
            if not line.waiting:
                return
            for state in line.waiting:
                actions.say_answer(
                    code=code,
                    course=1,
                    sheet=sheet,
                    field=state.field,
                    value=told.get(state.field, ""),
                    now=NOW,
                    by=coach,
                )

    return say


@pytest.fixture
def confirm(code: str, coach: Any) -> Callable[..., Any]:
    def go(sheet: int, **more: Any) -> Any:
        return actions.confirm_sheet(
            code=code, course=1, sheet=sheet, now=NOW, today=TODAY, by=coach, **more
        )

    return go


def test_a_photographed_sheet_becomes_a_night_once_a_person_has_confirmed_it(
    code: str, receive: Any, photograph: Any, full_night: Any, settle: Any, confirm: Any
) -> None:
    told = full_night(3)
    (sheet,) = receive(photograph(3, told)).sheets
    assert known_nights(find_course(code, 1)).nights == {}
    settle(sheet, told)
    assert confirm(sheet, evening="2026-12-03").outcome is Outcome.KEPT
    known = known_nights(find_course(code, 1)).nights[3]
    entry = known.evening.entry
    assert entry.source is Source.SHEET
    assert known.evening.evening == date(2026, 12, 3)
    assert [row.rating for row in entry.rows] == [
        int(told[f"p{row.slot}.rating"]) for row in entry.rows
    ]
    assert {row.went_down for row in entry.rows} == {WentDown.FIRST}
    assert str(entry.felt_best) == told["felt_best"]


def test_a_clean_photograph_is_read_right_wherever_it_is_accepted(
    receive: Any, photograph: Any, full_night: Any
) -> None:
    told = full_night(5)
    (sheet,) = receive(photograph(5, told, turned=183)).sheets
    read = ReadingRow.objects.get(pk=sheet).fields
    accepted = {name: value for name, (value, _, is_accepted) in read.items() if is_accepted}
    assert accepted
    assert accepted == {name: told.get(name, "") for name in accepted}


def test_the_same_photograph_again_adds_nothing(
    receive: Any, photograph: Any, full_night: Any
) -> None:
    content = photograph(1, full_night(1))
    first, again = receive(content), receive(content)
    assert again.is_again
    assert again.sheets == first.sheets
    assert PhotoRow.objects.count() == 1
    assert len(list(photo_store().names())) == 1


def test_a_second_photograph_of_a_night_is_compared_and_not_added(
    code: str, receive: Any, photograph: Any, full_night: Any, settle: Any, confirm: Any
) -> None:
    told = full_night(2)
    for turned in (3.0, -5.0):
        (sheet,) = receive(photograph(2, told, turned=turned)).sheets
        settle(sheet, told)
        confirm(sheet)
    assert known_nights(find_course(code, 1)).version(2) == 1
    assert [each.outcome for each in SheetKept.objects.all()] == [Outcome.KEPT, Outcome.COMPARED]


def test_a_night_known_otherwise_is_replaced_only_by_a_person_who_saw_both(
    code: str, receive: Any, photograph: Any, full_night: Any, settle: Any, confirm: Any
) -> None:
    told = full_night(2)
    (sheet,) = receive(photograph(2, told)).sheets
    settle(sheet, told)
    confirm(sheet)
    told |= {"p1.rating": "1"}
    (second,) = receive(photograph(2, told, turned=-4.0)).sheets
    settle(second, told)
    done = confirm(second)
    assert done.outcome is None
    assert done.theirs.cells[0] != done.ours.cells[0] == TypedCell("1", "first")
    assert known_nights(find_course(code, 1)).version(2) == 1
    assert confirm(second, replaces=True).outcome is Outcome.KEPT
    assert known_nights(find_course(code, 1)).version(2) == 2


def test_a_sheet_is_not_confirmed_while_a_field_is_unclear(
    code: str, receive: Any, photograph: Any, full_night: Any, confirm: Any
) -> None:
    told = full_night(4)
    (sheet,) = receive(photograph(4, told)).sheets
    row = ReadingRow.objects.get(pk=sheet)
    doubted = {name: [value, 0.5, False] for name, (value, _, _) in row.fields.items()}
    from sidelong.clinic.audit.acts import act

    with act("sheet doubted", by=Operator(), subject="installation"):
        ReadingRow.objects.filter(pk=sheet).update(fields=doubted)
    with pytest.raises(Refused, match="wait to be looked at"):
        confirm(sheet)
    assert known_nights(find_course(code, 1)).nights == {}


def test_an_answer_taken_back_waits_again(
    code: str, coach: Any, receive: Any, photograph: Any
) -> None:
    (sheet,) = receive(photograph(6, {})).sheets
    where = {"code": code, "course": 1, "sheet": sheet, "field": "p1.rating", "now": NOW}
    before = sheets_of(code, 1, seen_by=coach)[0].states["p1.rating"]
    actions.say_answer(**where, value="2", by=coach)
    said = sheets_of(code, 1, seen_by=coach)[0].states["p1.rating"]
    assert (said.value, said.is_said, said.read) == ("2", True, before.read)
    actions.say_answer(**where, value=None, by=coach)
    assert sheets_of(code, 1, seen_by=coach)[0].states["p1.rating"] == before
    assert AnswerSaid.objects.count() == 2, "both stay on record"


@pytest.mark.parametrize(("field", "value"), [("p9.rating", "1"), ("p1.rating", "6")])
def test_an_answer_that_the_sheet_does_not_have_is_refused(
    code: str, coach: Any, receive: Any, photograph: Any, field: str, value: str
) -> None:
    (sheet,) = receive(photograph(6, {})).sheets
    with pytest.raises(Refused, match="no such answer"):
        actions.say_answer(
            code=code, course=1, sheet=sheet, field=field, value=value, now=NOW, by=coach
        )


def test_a_photograph_without_a_sheet_is_not_kept(receive: Any) -> None:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (1200, 1600), (90, 120, 90)).save(out, "JPEG")
    assert receive(out.getvalue()).sheets == ()
    assert not PhotoRow.objects.exists()
    assert list(photo_store().names()) == []


def test_what_is_no_photograph_is_refused_and_leaves_nothing(receive: Any) -> None:
    for content in (b"", b"hello", b"\xff\xd8\xff\xe0 cut short"):
        with pytest.raises(Refused):
            receive(content)
    assert list(photo_store().names()) == []


def test_a_failing_act_leaves_no_row_and_its_file_is_swept(
    receive: Any, photograph: Any, full_night: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> int:
        raise RuntimeError("killed here")

    monkeypatch.setattr(actions, "_add_sheet", fail)
    with pytest.raises(RuntimeError):
        receive(photograph(1, full_night(1)))
    assert not PhotoRow.objects.exists()
    assert len(list(photo_store().names())) == 1
    assert photo_store().sweep(set(), now=datetime.now(UTC) + timedelta(hours=2)) == 1


def test_a_file_that_cannot_be_written_leaves_no_row(
    receive: Any, photograph: Any, full_night: Any, settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path / "full"
    settings.MEDIA_ROOT.write_text("a file where the folder should be")
    with pytest.raises(OSError, match=r"full"):
        receive(photograph(1, full_night(1)))
    assert not PhotoRow.objects.exists()


def test_pixels_go_after_the_sites_time_and_what_was_read_stays(
    code: str,
    coach: Any,
    receive: Any,
    photograph: Any,
    full_night: Any,
    settle: Any,
    confirm: Any,
) -> None:
    done, waiting = full_night(1), full_night(2)
    (first,) = receive(photograph(1, done)).sheets
    (second,) = receive(photograph(2, waiting)).sheets
    settle(first, done)
    confirm(first)
    later = NOW + timedelta(days=100)
    month = timedelta(days=90)
    assert remove_old_photographs(older_than=month, now=later, by=Operator()) == 1
    with pytest.raises(Refused, match="deleted after"):
        picture_of(code, 1, first, "page", seen_by=coach)
    assert picture_of(code, 1, second, "page", seen_by=coach)[:2] == b"\xff\xd8"
    assert ReadingRow.objects.get(pk=first).fields
    assert remove_old_photographs(older_than=month, now=later, by=Operator()) == 0


def test_nothing_that_the_phone_wrote_is_kept(
    code: str, coach: Any, receive: Any, photograph: Any
) -> None:
    content = photograph(1, {})
    assert b"Planted Owner" in content
    (sheet,) = receive(content).sheets
    opened = photo_store().get(PhotoRow.objects.get().name)
    assert b"Planted Owner" not in opened
    assert b"Planted Owner" not in picture_of(code, 1, sheet, "p1.rating", seen_by=coach)
