"""What is written by hand on sheets, as a person typed it, for those who may see it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.beside import NightNote
from sidelong.clinic.practice.nights import find_course
from sidelong.clinic.sheets.actions import Outcome
from sidelong.clinic.sheets.models import NoteSaid, ReadingRow, SheetKept
from sidelong.clinic.sheets.notes import Handwriting, handwriting_of, last_said, open_notes
from sidelong.clinic.sheets.rows import find_sheet, night_of
from sidelong.clinic.trainees.recording import staff_names


@dataclass(frozen=True)
class Version:
    """One text that was typed in an area, or that one was taken back."""

    text: str
    is_taken_back: bool
    is_lost: bool
    by: str
    at: datetime


@dataclass(frozen=True)
class AreaTyped:
    """One area with everything that was typed there, the last first."""

    hand: Handwriting
    versions: tuple[Version, ...]


@dataclass(frozen=True)
class SheetTyped:
    """One sheet with its areas.

    Parameters
    ----------
    key : int
        Of its row.
    night : int or None
        Which night it is; None for a spare sheet that nobody has named.
    part : int
        1 or 2 for a page of the large print, else 0.
    has_pixels : bool
        Whether its pictures are still there.
    areas : tuple of AreaTyped
        Notes first.
    """

    key: int
    night: int | None
    part: int
    has_pixels: bool
    areas: tuple[AreaTyped, ...]


def sheet_typed(code: str, course: int, sheet: int, *, seen_by: Person) -> SheetTyped:
    """Give what is written by hand on a sheet, with everything that was ever typed of it.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    seen_by : Person
        Who looks.

    Returns
    -------
    SheetTyped
        All areas, also those in which nothing seems to be written.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_sheet(code, course, sheet)
    said = list(row.notes_said.all())
    opened, names = open_notes(said), staff_names()
    return SheetTyped(
        key=row.pk,
        night=night_of(row),
        part=row.part,
        has_pixels=row.photo.removed is None,
        areas=tuple(
            AreaTyped(
                hand,
                tuple(
                    _version(each, opened, names)
                    for each in reversed(said)
                    if each.area == hand.area
                ),
            )
            for hand in handwriting_of(row, opened)
        ),
    )


def night_notes(code: str, course: int, *, seen_by: Person) -> Mapping[int, Sequence[NightNote]]:
    """Give what was typed of sheets that are done with, by night.

    The same words on two photographs of one sheet stand once. A sheet that was set aside counts
    where its codes leave no doubt whose it is: its night was typed by hand then.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    seen_by : Person
        Who looks.

    Returns
    -------
    mapping of int to sequence of NightNote
        Nights without any are missing.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    done = dict(
        SheetKept.objects.filter(sheet__photo__course=find_course(code, course)).values_list(
            "sheet", "outcome"
        )
    )
    rows = (
        ReadingRow.objects.filter(pk__in=NoteSaid.objects.filter(sheet__in=done).values("sheet"))
        .select_related("photo")
        .prefetch_related("notes_said", "stands_for")
    )
    counting = [row for row in rows if row.is_sure or done[row.pk] != Outcome.SET_ASIDE]
    opened = open_notes(each for row in counting for each in last_said(row).values())
    names = staff_names() if counting else {}
    by_night: dict[int, dict[tuple[str, str], NightNote]] = {}
    for row in counting:
        night = night_of(row)
        if night is not None:
            for note in _notes_of(row, opened, names, code=code, course=course):
                by_night.setdefault(night, {}).setdefault((note.title, note.text), note)
    return {night: tuple(notes.values()) for night, notes in by_night.items()}


def _notes_of(
    row: ReadingRow, opened: Mapping[int, str], names: Mapping[str, str], *, code: str, course: int
) -> list[NightNote]:
    where = {"code": code, "course": course, "sheet": row.pk}
    said = last_said(row)
    return [
        NightNote(
            title=hand.title,
            text=hand.text,
            by=names.get(said[hand.area].by, said[hand.area].by),
            at=said[hand.area].at,
            is_corrected=sum(each.area == hand.area for each in row.notes_said.all()) > 1,
            picture=reverse("sheet_picture", kwargs=where | {"area": hand.area})
            if row.photo.removed is None
            else "",
            url=reverse("handwriting", kwargs=where),
        )
        for hand in handwriting_of(row, opened)
        if hand.text or hand.is_lost
    ]


def _version(row: NoteSaid, opened: Mapping[int, str], names: Mapping[str, str]) -> Version:
    return Version(
        text=opened.get(row.pk, ""),
        is_taken_back=row.is_taken_back,
        is_lost=row.pk not in opened,
        by=names.get(row.by, row.by),
        at=row.at,
    )
