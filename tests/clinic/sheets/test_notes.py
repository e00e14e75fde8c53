"""What is written by hand: typed beside its picture, sealed, corrected, and in no trail or log."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from django.apps import apps
from django.conf import settings

from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.keys import Purpose
from sidelong.clinic.practice.beside import notes_beside
from sidelong.clinic.sealing import Place, unseal
from sidelong.clinic.sheets import actions
from sidelong.clinic.sheets.clearing_actions import remove_old_photographs
from sidelong.clinic.sheets.models import NoteSaid, PhotoRow, ReadingRow
from sidelong.clinic.sheets.note_actions import type_note
from sidelong.clinic.sheets.note_queries import sheet_typed
from sidelong.clinic.sheets.notes import areas_by_hand, check_note
from sidelong.clinic.sheets.queries import sheets_of
from sidelong.exchange.corrections import read_corrections
from sidelong.problems import Refused
from sidelong.training.correction import NOTE

NOW = datetime(2026, 12, 20, 10, 0, tzinfo=UTC)
SAID = "Inventia laughed, then it slid down"
pytestmark = pytest.mark.django_db


@pytest.fixture
def receive(code: str, coach: Any, photograph: Any) -> Callable[..., int]:
    """Send a photograph of a night whose note box is written in, and give its sheet."""

    def send(night: int, *, marks: Any = None, turned: float = 4.0) -> int:
        content = photograph(night, marks or {}, turned=turned, written=["note.0"])
        sent = {"code": code, "course": 1, "content": content, "now": NOW, "by": coach}
        (sheet,) = actions.receive_photograph(**sent).sheets
        return sheet

    return send


@pytest.fixture
def say(code: str, coach: Any) -> Callable[..., int]:
    def go(sheet: int, text: str, **more: Any) -> int:
        told = {"area": "note.0", "base": 0, "now": NOW, "by": coach} | more
        return type_note(code=code, course=1, sheet=sheet, text=text, **told)

    return go


def note_of(code: str, coach: Any, sheet: int) -> Any:
    (line,) = [each for each in sheets_of(code, 1, seen_by=coach) if each.key == sheet]
    return next(each for each in line.handwriting if each.area == "note.0")


def everything_at_rest() -> str:
    """All rows of all tables; bytes show what is readable in them."""
    return repr([[*map(repr, model._base_manager.values_list())] for model in apps.get_models()])


def test_a_note_is_kept_with_who_and_when_and_nowhere_in_clear(
    code: str, coach: Any, receive: Any, say: Any, caplog: pytest.LogCaptureFixture
) -> None:
    sheet = receive(3)
    assert note_of(code, coach, sheet).waits
    say(sheet, SAID)
    assert note_of(code, coach, sheet).text == SAID
    assert not note_of(code, coach, sheet).waits
    (area,) = [a for a in sheet_typed(code, 1, sheet, seen_by=coach).areas if a.versions]
    assert (area.versions[0].by, area.versions[0].at) == (coach.display_name, NOW)
    row = NoteSaid.objects.get()
    ring, place = settings.INSTALLATION.key_ring(), Place("sheets_notesaid", "text", row.name)
    opened = unseal(bytes(row.text), ring=ring, purpose=Purpose.PHOTOGRAPHS, place=place)
    assert opened.decode() == SAID
    kept = everything_at_rest()
    assert row.name in kept
    for word in ("Inventia", "slid down"):
        assert word not in kept
    assert "Inventia" not in caplog.text


def test_the_trail_says_that_a_note_was_typed_and_never_what(
    code: str, receive: Any, say: Any
) -> None:
    sheet = receive(3)
    first = say(sheet, SAID)
    second = say(sheet, "laughed, then it slid down", base=first)
    say(sheet, "", base=second)
    rows = AuditRow.objects.filter(verb="note typed").order_by("number")
    assert [json.loads(row.detail)["became"] for row in rows] == [
        "typed",
        "corrected",
        "taken back",
    ]
    assert {row.subject for row in rows} == {f"trainee:{code}"}
    told = " ".join(row.detail for row in AuditRow.objects.all())
    assert "Inventia" not in told
    assert "slid" not in told


def test_a_correction_counts_and_the_earlier_text_stays_on_record(
    code: str, coach: Any, make_staff: Any, receive: Any, say: Any
) -> None:
    lead = make_staff(Role.LEAD, username="second-lead")
    sheet = receive(3)
    first = say(sheet, SAID)
    later = NOW + timedelta(days=1)
    second = say(sheet, "[name] laughed", base=first, by=lead, now=later)
    assert note_of(code, coach, sheet).text == "[name] laughed"
    say(sheet, "", base=second)
    assert note_of(code, coach, sheet).text == ""
    assert note_of(code, coach, sheet).waits, "a written note that was taken back is asked again"
    area = sheet_typed(code, 1, sheet, seen_by=coach).areas[0]
    assert [(each.text, each.is_taken_back) for each in area.versions] == [
        ("", True),
        ("[name] laughed", False),
        (SAID, False),
    ]
    assert area.versions[1].by == lead.display_name
    assert area.versions[1].at == later


def test_two_who_type_at_once_do_not_overwrite_each_other(
    code: str, coach: Any, receive: Any, say: Any
) -> None:
    sheet = receive(3)
    say(sheet, "the first")
    with pytest.raises(Refused, match="somebody else typed there meanwhile"):
        say(sheet, "the second")
    assert note_of(code, coach, sheet).text == "the first"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("Inventia " * 56, "it has 503 characters"),
        ("=Inventia", "starts like a formula"),
        ("- Inventia", "starts like a formula"),
        ("Inventia\x07", "cannot be printed"),
    ],
)
def test_what_is_refused_says_where_and_what_to_do_and_not_what_was_typed(
    text: str, what: str
) -> None:
    with pytest.raises(Refused, match=what) as refused:
        check_note(text, where="night 3, note")
    (problem,) = refused.value.problems
    assert problem.where == "night 3, note"
    assert problem.remedy
    assert "Inventia" not in str(problem)


@pytest.mark.parametrize(
    ("text", "is_taken"),
    [("x" * 500, True), ("x" * 501, False), ("+ more", False), ("later = easier", True)],
)
def test_the_limits_are_those_of_the_table_of_corrections(
    tmp_path: Path, text: str, is_taken: bool
) -> None:
    """The command takes a note where the clinic does, and refuses it where the clinic does."""
    file = tmp_path / "corrections.csv"
    header = "image,page_id,field,value,by,when\n"
    file.write_text(f"{header}IMG_1.jpg,K7Q2M-03,{NOTE},{text},coach-2,2026-12-20T10:00Z\n")
    for taken in (
        lambda: read_corrections(file)[0].value,
        lambda: check_note(text, where="night 3, note"),
    ):
        if is_taken:
            assert taken() == text
        else:
            with pytest.raises(Refused):
                taken()


def test_a_text_that_is_refused_leaves_nothing(receive: Any, say: Any) -> None:
    sheet = receive(3)
    for text, what in (("x" * 501, "night 3, note"), ("  ", "nothing to take back")):
        with pytest.raises(Refused, match=what):
            say(sheet, text)
    assert not NoteSaid.objects.exists()


def test_lines_are_joined(code: str, coach: Any, receive: Any, say: Any) -> None:
    sheet = receive(3)
    say(sheet, " two sips\r\n\tthen  down ")
    assert note_of(code, coach, sheet).text == "two sips then down"


def test_only_areas_that_are_written_in_by_hand_are_typed(receive: Any, say: Any) -> None:
    sheet = receive(3)
    for area in ("note.9", "p1.rating", "free.0", "page"):
        with pytest.raises(Refused, match="no such area"):
            say(sheet, "something", area=area)
    say(sheet, "three", area="free.1")


def test_an_empty_box_does_not_wait_and_faint_writing_does(
    code: str, coach: Any, photograph: Any
) -> None:
    pale = (205, 205, 215)
    for night, written in ((1, []), (2, ["note.0"])):
        content = photograph(night, {}, written=written, ink=pale)
        actions.receive_photograph(code=code, course=1, content=content, now=NOW, by=coach)
    empty, faint = sheets_of(code, 1, seen_by=coach)
    assert (empty.night, empty.note_areas) == (1, ())
    assert [each.area for each in faint.note_areas] == ["note.0"]
    assert faint.note_areas[0].waits
    # Nothing is hidden because no ink was seen: its picture is among those that the page shows.
    assert "note.0" in empty.notes


def test_the_text_outlives_the_picture_and_can_still_be_corrected(
    code: str, coach: Any, receive: Any, say: Any
) -> None:
    sheet = receive(3)
    first = say(sheet, SAID)
    actions.set_aside(code=code, course=1, sheet=sheet, now=NOW, by=coach)
    later = NOW + timedelta(days=100)
    assert remove_old_photographs(older_than=timedelta(days=90), now=later, by=Operator()) == 1
    assert PhotoRow.objects.get().removed
    (note,) = notes_beside(code, 1, seen_by=coach)(3)
    assert (note.text, note.picture) == (SAID, "")
    say(sheet, "laughed", base=first, now=later)
    assert notes_beside(code, 1, seen_by=coach)(3)[0].text == "laughed"


def confirm(code: str, coach: Any, sheet: int, told: Any, **more: Any) -> Any:
    (line,) = [each for each in sheets_of(code, 1, seen_by=coach) if each.key == sheet]
    where = {"code": code, "course": 1, "sheet": sheet, "now": NOW, "by": coach}
    while line.waiting:
        for state in line.waiting:
            value = told.get(state.field, "")
            actions.say_answer(**where, field=state.field, value=value)
        (line,) = [each for each in sheets_of(code, 1, seen_by=coach) if each.key == sheet]
    return actions.confirm_sheet(**where, today=date(2026, 12, 20), **more)


def test_a_note_stands_beside_its_night_once_the_sheet_is_done_with(
    code: str, coach: Any, receive: Any, say: Any, full_night: Any, signed_in: Any
) -> None:
    told = full_night(3)
    sheet = receive(3, marks=told)
    say(sheet, SAID)
    say(sheet, "5 of 6", area="free.1")
    assert notes_beside(code, 1, seen_by=coach)(3) == ()
    confirm(code, coach, sheet, told)
    notes = notes_beside(code, 1, seen_by=coach)(3)
    assert [(each.title, each.text) for each in notes] == [
        ("Note", SAID),
        ("Pieces used", "5 of 6"),
    ]
    assert notes[0].picture.endswith(f"/{sheet}/note.0.jpg")
    assert notes[0].by == coach.display_name
    # Neither the result nor its report holds a word of it.
    desk, home = signed_in(coach), f"/trainees/{code}/courses/1"
    assert SAID in desk.get(f"{home}/nights/").content.decode()
    assert "slid down" not in desk.get(f"{home}/result/").content.decode()
    with pypdfium2.PdfDocument(desk.get(f"{home}/result/report.pdf").content) as report:
        words = " ".join(page.get_textpage().get_text_bounded() for page in report)
    assert code in words
    assert "slid down" not in words
    # A second photograph says the same, and stands once.
    again = receive(3, marks=told, turned=-5.0)
    say(again, SAID)
    confirm(code, coach, again, told)
    assert len(notes_beside(code, 1, seen_by=coach)(3)) == 2


def test_a_sheet_in_doubt_that_was_set_aside_says_nothing_beside_a_night(
    code: str, coach: Any, receive: Any, say: Any
) -> None:
    sheet = receive(3)
    say(sheet, SAID)
    with act("sheet doubted", by=Operator(), subject="installation"):
        ReadingRow.objects.update(is_sure=False)
    actions.set_aside(code=code, course=1, sheet=sheet, now=NOW, by=coach)
    assert notes_beside(code, 1, seen_by=coach)(3) == ()


def test_a_damaged_note_is_named_and_closes_no_page(
    code: str, coach: Any, receive: Any, say: Any, signed_in: Any
) -> None:
    sheet = receive(3)
    say(sheet, SAID)
    actions.set_aside(code=code, course=1, sheet=sheet, now=NOW, by=coach)
    with act("row moved", by=Operator(), subject="installation"):
        NoteSaid.objects.update(name="0" * 32)
    assert note_of(code, coach, sheet).is_lost
    desk = signed_in(coach)
    for page in ("nights/", "nights/3/versions/", f"sheets/{sheet}/by-hand/", "sheets/"):
        answer = desk.get(f"/trainees/{code}/courses/1/{page}")
        assert answer.status_code == 200
        assert page == "sheets/" or "cannot be opened" in answer.content.decode()


def fields_of(sheet: int, text: str, *, was: str = "", base: int = 0) -> dict[str, Any]:
    name = f"{sheet}-note.0"
    return {f"note-{name}": text, f"was-{name}": was, f"base-{name}": base}


def test_without_a_script_a_note_goes_with_the_form_of_its_sheet(
    code: str, coach: Any, receive: Any, full_night: Any, signed_in: Any
) -> None:
    told = full_night(3)
    sheet = receive(3, marks=told)
    desk, at = signed_in(coach), f"/trainees/{code}/courses/1/sheets"
    (line,) = sheets_of(code, 1, seen_by=coach)
    said = {f"said-{sheet}-{s.field}": told.get(s.field, "") for s in line.waiting}
    desk.post(f"{at}/look/", said)
    refused = desk.post(
        f"{at}/{sheet}/confirm/", fields_of(sheet, f"-{SAID}") | {"not_done": "other"}
    ).content.decode()
    alert = refused[refused.index('role="alert"') : refused.index("</section>")]
    assert "starts like a formula" in alert
    assert SAID not in alert
    assert f">-{SAID}</textarea>" in refused, "what was typed is not lost"
    assert notes_beside(code, 1, seen_by=coach)(3) == ()
    desk.post(f"{at}/{sheet}/confirm/", fields_of(sheet, SAID) | {"not_done": "other"})
    assert [each.text for each in notes_beside(code, 1, seen_by=coach)(3)] == [SAID]


def test_a_field_that_nobody_touched_overwrites_no_correction(
    code: str, coach: Any, receive: Any, say: Any, signed_in: Any
) -> None:
    sheet = receive(3)
    first = say(sheet, SAID)
    say(sheet, "corrected", base=first)
    keep = f"/trainees/{code}/courses/1/sheets/{sheet}/by-hand/keep/"
    desk = signed_in(coach)
    desk.post(keep, fields_of(sheet, SAID, was=SAID, base=first))
    assert note_of(code, coach, sheet).text == "corrected"
    touched = desk.post(keep, fields_of(sheet, "mine", was=SAID, base=first)).content.decode()
    assert "somebody else typed there meanwhile" in touched
    assert note_of(code, coach, sheet).text == "corrected"


def test_whoever_may_only_see_results_reads_a_note_and_types_none(
    code: str, make_staff: Any, receive: Any, say: Any, signed_in: Any
) -> None:
    sheet = receive(3)
    say(sheet, SAID)
    reader = signed_in(make_staff(Role.CLINICIAN, username="reader"))
    at = f"/trainees/{code}/courses/1/sheets/{sheet}/by-hand"
    page = reader.get(f"{at}/").content.decode()
    assert SAID in page
    assert "Keep what is typed" not in page
    assert reader.post(f"{at}/keep/", fields_of(sheet, "mine", was=SAID)).status_code == 403
    sent = {"area": "note.0", "text": "mine", "base": 1}
    assert reader.post(f"{at}/say/", sent, content_type="application/json").status_code == 403


def test_what_a_script_sends_wrongly_is_refused_without_its_text(
    code: str, coach: Any, receive: Any, signed_in: Any
) -> None:
    sheet = receive(3)
    desk, say = signed_in(coach), f"/trainees/{code}/courses/1/sheets/{sheet}/by-hand/say/"
    for sent in ({}, {"area": "note.0", "text": f"={SAID}", "base": 0}, ["x"]):
        answer = desk.post(say, sent, content_type="application/json")
        assert answer.status_code == 400
        assert answer.json()["problems"]
        assert "Inventia" not in answer.content.decode()
    kept = desk.post(
        say, {"area": "note.0", "text": SAID, "base": 0}, content_type="application/json"
    )
    assert kept.json() == {"base": NoteSaid.objects.get().pk}


@pytest.mark.parametrize(
    ("boxes", "part", "is_spare", "titles"),
    [
        ("note.0 free.0 free.1 free.2", 0, False, "Note|Pieces used|Which adult was there"),
        (
            "note.0 note.1 free.0 free.1 free.2",
            0,
            False,
            "Note|What the adult saw|Pieces used|Which adult was there",
        ),
        (
            "note.0 free.0 free.1 free.2 free.3 free.4",
            0,
            True,
            "Note|Pieces used|Which adult was there|Drawing or sticker",
        ),
        ("free.0 free.1", 1, True, "Which adult was there"),
        ("note.0 free.0 free.1", 2, False, "Note|Pieces used"),
    ],
)
def test_areas_are_named_as_the_sheet_asks_in_them(
    boxes: str, part: int, is_spare: bool, titles: str
) -> None:
    named = areas_by_hand({name: {} for name in boxes.split()}, part=part, is_spare=is_spare)
    assert list(named.values()) == titles.split("|")
