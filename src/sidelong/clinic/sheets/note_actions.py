"""Typing what is written by hand on a sheet, as a recorded act that holds no text."""

from datetime import datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.sheets.models import NoteSaid, ReadingRow
from sidelong.clinic.sheets.notes import areas_by_hand, check_note, last_said, seal_note
from sidelong.clinic.sheets.rows import find_sheet, night_of
from sidelong.clinic.sheets.store import new_name
from sidelong.problems import Problem, Refused


def type_note(
    *,
    code: str,
    course: int,
    sheet: int,
    area: str,
    text: str,
    base: int = 0,
    now: datetime,
    by: Person,
) -> int:
    """Keep what a person reads in an area written by hand, or take back what was typed there.

    It may be typed, corrected and taken back at any time, also once the sheet is confirmed and
    after its pixels are gone. Earlier texts stay on record, with who and when.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    area : str
        Name of the area, for example ``note.0``.
    text : str
        On one line, at most 500 characters; empty takes back what was typed last.
    base : int
        Key of what was typed there before, as the person saw it; 0 for nothing.
    now : datetime
        When, with its offset.
    by : Person
        Who looked.

    Returns
    -------
    int
        Key of what is kept now.

    Raises
    ------
    Refused
        If there is no such sheet or area, the text is too long or like a formula, there is nothing
        to take back, or somebody else typed there meanwhile.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    row = find_sheet(code, course, sheet)
    titles = areas_by_hand(row.boxes, part=row.part, is_spare=row.night is None)
    if area not in titles:
        remedy = "Load the page again."
        raise Refused([_fault(f"sheet {sheet}", "it has no such area", remedy)])
    where = _where(row, titles[area])
    line = check_note(text, where=where)
    with act("note typed", by=by, subject=subject_of(code)) as doing:
        before = last_said(row).get(area)
        if (before.pk if before else 0) != base:
            remedy = "Load the page again, and look at what stands there now."
            raise Refused([_fault(where, "somebody else typed there meanwhile", remedy)])
        was_typed = before is not None and not before.is_taken_back
        if not line and not was_typed:
            remedy = "Type what stands there."
            raise Refused([_fault(where, "there is nothing to take back", remedy)])
        name = new_name()
        said = NoteSaid(
            sheet=row,
            area=area,
            name=name,
            text=seal_note(line, name=name),
            is_taken_back=not line,
            at=now,
            by=by.audit_key,
        )
        said.save()
        became = "taken back" if not line else "corrected" if was_typed else "typed"
        doing.note(course=course, sheet=sheet, night=night_of(row), area=area, became=became)
    return int(said.pk)


def _where(row: ReadingRow, title: str) -> str:
    night = night_of(row)
    return f"{'spare sheet' if night is None else f'night {night}'}, {title.lower()}"


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "sheet")
