"""What is written by hand on a sheet: which areas there are, what a text may be, how it is sealed.

The words and the limits are those of the table of corrections, which the command reads.
"""

import logging
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings

from sidelong.clinic.keys import KeyRing, Purpose
from sidelong.clinic.sealing import Place, seal, unseal
from sidelong.clinic.sheets.models import NoteSaid, ReadingRow
from sidelong.exchange.columns import CellFault
from sidelong.exchange.corrections import CORRECTION_COLUMNS
from sidelong.problems import Problem, Refused

Typed = Mapping[tuple[int, str], str]  # what a form held and was not kept, by sheet and area
MOST_CHARACTERS = 500
_COLUMN = next(column for column in CORRECTION_COLUMNS if column.name == "value")
_FORMULA = ("=", "+", "-", "@")
_NOTE, _FREE = "note.", "free."
_OF_NOTES = ("Note", "What the adult saw")  # in the order in which a layout lists its boxes
_DATE, _PIECES, _PRESENT = "Date", "Pieces used", "Which adult was there"
_OF_PARTS = {0: (_DATE, _PIECES, _PRESENT), 1: (_PRESENT,), 2: (_DATE, _PIECES)}
_DRAWING, _STANDS_FOR = "Drawing or sticker", "Stands for night"
_ASKED_ELSEWHERE = (_DATE, _STANDS_FOR)  # as a date, and as a number
# Of 112 empty boxes on 28 poor photographs of the first generator 107 held less, the others a stain
# or a slip of the pen; of 112 that were written in none held less than seven times as much.
_NO_INK_MM2 = 0.8
_journal = logging.getLogger(__name__)


@dataclass(frozen=True)
class Handwriting:
    """One area of a sheet that is written in by hand.

    Parameters
    ----------
    area : str
        Its name, for example ``note.0``.
    title : str
        What the sheet asks there.
    seems_empty : bool
        Whether no ink was seen there.
    text : str
        As somebody typed it; empty where nobody has.
    base : int
        Key of the row that says so, 0 where there is none: what a correction rests on.
    is_lost : bool
        It was typed, and cannot be opened.
    """

    area: str
    title: str
    seems_empty: bool
    text: str = ""
    base: int = 0
    is_lost: bool = False

    @property
    def is_note(self) -> bool:
        """Whether it is a note, and not one of the small boxes."""
        return self.area.startswith(_NOTE)

    @property
    def waits(self) -> bool:
        """Whether it is a note that somebody wrote and nobody has typed."""
        return self.is_note and not (self.seems_empty or self.text or self.is_lost)


def areas_by_hand(
    boxes: Mapping[str, Mapping[str, Any]], *, part: int, is_spare: bool
) -> dict[str, str]:
    """Name the areas of a sheet that are typed as they stand there.

    Parameters
    ----------
    boxes : mapping of str to mapping
        Boxes of the sheet by name.
    part : int
        1 or 2 for a page of the large print, else 0.
    is_spare : bool
        Whether it is a spare sheet, whose last box says for which night it stands.

    Returns
    -------
    dict of str to str
        What the sheet asks in each, by name of the area; notes first.
    """
    notes = [name for name in boxes if name.startswith(_NOTE)]
    free = [name for name in boxes if name.startswith(_FREE)]
    asked = list(_OF_PARTS[part])
    asked += [_DRAWING] * (len(free) - len(asked))
    if is_spare and free:
        asked[len(free) - 1] = _STANDS_FOR
    titles = {name: _OF_NOTES[n % len(_OF_NOTES)] for n, name in enumerate(notes)}
    titles |= dict(zip(free, asked, strict=False))
    return {name: title for name, title in titles.items() if title not in _ASKED_ELSEWHERE}


def handwriting_of(row: ReadingRow, opened: Mapping[int, str]) -> tuple[Handwriting, ...]:
    """Say of each area of a sheet what somebody typed last.

    Parameters
    ----------
    row : ReadingRow
        The sheet, with what was typed fetched.
    opened : mapping of int to str
        See :func:`open_notes`.

    Returns
    -------
    tuple of Handwriting
        Notes first.
    """
    titles = areas_by_hand(row.boxes, part=row.part, is_spare=row.night is None)
    said = last_said(row)
    return tuple(
        Handwriting(
            area=area,
            title=title,
            seems_empty=_seems_empty(row.boxes[area]),
            text=opened.get(said[area].pk, "") if area in said else "",
            base=said[area].pk if area in said else 0,
            is_lost=area in said and said[area].pk not in opened,
        )
        for area, title in titles.items()
    )


def last_said(row: ReadingRow) -> dict[str, NoteSaid]:
    """Give what somebody typed last in each area, also where that took something back."""
    return {each.area: each for each in sorted(row.notes_said.all(), key=lambda each: each.pk)}


def open_notes(rows: Iterable[NoteSaid]) -> dict[int, str]:
    """Open what was typed.

    Parameters
    ----------
    rows : iterable of NoteSaid
        Any of them.

    Returns
    -------
    dict of int to str
        By key; empty where something was taken back. What does not open is left out, so that one
        damaged row does not close a whole page.
    """
    opened: dict[int, str] = {}
    ring: KeyRing | None = None
    for row in rows:
        ring = ring or settings.INSTALLATION.key_ring()
        try:
            plain = unseal(
                bytes(row.text), ring=ring, purpose=Purpose.PHOTOGRAPHS, place=_place(row.name)
            )
        except Refused:
            _journal.warning("a note does not open", extra={"facts": {"row": row.pk}})
            continue
        opened[row.pk] = plain.decode("utf-8")
    return opened


def seal_note(text: str, *, name: str) -> bytes:
    """Seal a text for its row, with the key of the pictures that it is read from."""
    key = settings.INSTALLATION.key_ring().newest(Purpose.PHOTOGRAPHS)
    return seal(text.encode("utf-8"), key=key, place=_place(name))


def check_note(text: str, *, where: str) -> str:
    """Bring a text onto one line, and refuse one that the table of corrections would not take.

    Parameters
    ----------
    text : str
        As it was typed; breaks of lines become blanks.
    where : str
        Night and area, for the message.

    Returns
    -------
    str
        As it is kept; empty for nothing.

    Raises
    ------
    Refused
        If it is too long, starts like a formula, or holds signs that cannot be seen.
    """
    line = " ".join(text.split())
    try:
        return str(_COLUMN.read_cell(line) or "")
    except CellFault as fault:
        if len(line) > MOST_CHARACTERS:
            what = f"it has {len(line)} characters"
        elif line.startswith(_FORMULA):
            what = "it starts like a formula of a spreadsheet"
        else:
            what = "it holds signs that cannot be printed"
        raise Refused([Problem(where, what, fault.remedy, "sheet")]) from None


def _seems_empty(box: Mapping[str, Any]) -> bool:
    """Tell whether no ink was seen; a sheet of which that was not measured may hold some."""
    _, _, width, height = box["box"]
    ink_mm2 = float(box.get("ink", 1.0)) * width * height
    return bool(ink_mm2 < _NO_INK_MM2)


def _place(name: str) -> Place:
    return Place("sheets_notesaid", "text", name)
