"""Photographed sheets as values, for those who may see them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.nights import find_course, known_nights
from sidelong.clinic.sheets.answers import (
    FieldState,
    SheetPlace,
    doubtful,
    states_of,
    to_night,
)
from sidelong.clinic.sheets.models import ReadingRow, SheetKept
from sidelong.clinic.sheets.notes import Handwriting, handwriting_of, last_said, open_notes
from sidelong.clinic.sheets.reading import cut_from_page
from sidelong.clinic.sheets.rows import find_sheet, night_of, page_picture, place_of, said_of
from sidelong.problems import Problem, Refused
from sidelong.training.position import Position
from sidelong.training.reading import TRUE_SIZE_TOLERANCE

_FREE = "free."
_NO_INK = 0.004  # share of an area; the shortest date takes five times as much
_DATE = "free.0"  # the first area to write in, in the order of the layout


@dataclass(frozen=True)
class SheetLine:
    """One sheet as pages show it.

    Parameters
    ----------
    key : int
        Of its row.
    night : int or None
        Its number; None for a spare sheet until somebody has said which night it stands for.
    is_spare : bool
        Whether it is a spare sheet.
    part : int
        1 or 2 for a page of the large print, else 0.
    order : tuple of Position
        Positions of its slots.
    is_sure : bool
        Whether tags and code leave no doubt which page it is.
    is_wrong_size : bool
        Whether it was printed at another size than true; False where that is unknown.
    states : mapping of str to FieldState
        All its fields.
    waiting : tuple of FieldState
        What a person has yet to look at, the most doubtful first.
    values : mapping of str to tuple of str
        What each field can be.
    notes : tuple of str
        Names of the areas that were written in by hand.
    outcome : str
        What became of it; empty while it is open.
    has_pixels : bool
        Whether its pictures are still there.
    received : datetime
        When its photograph came.
    is_known : bool
        Whether the night is known already, and not only from the other page of a large print.
    evening : str
        Date of the night as it is known.
    seems_undated : bool
        Whether no ink was seen where the date is to be written.
    handwriting : tuple of Handwriting
        What is written elsewhere by hand, as far as somebody has typed it; notes first.
    """

    key: int
    night: int | None
    is_spare: bool
    part: int
    order: tuple[Position, ...]
    is_sure: bool
    is_wrong_size: bool
    states: Mapping[str, FieldState]
    waiting: tuple[FieldState, ...]
    values: Mapping[str, tuple[str, ...]]
    notes: tuple[str, ...]
    outcome: str
    has_pixels: bool
    received: datetime
    is_known: bool
    evening: str
    seems_undated: bool
    handwriting: tuple[Handwriting, ...]

    @property
    def is_open(self) -> bool:
        """Whether nobody has confirmed it or set it aside."""
        return not self.outcome

    @property
    def date_area(self) -> str:
        """Name of the area with the date; empty on the page of a large print that has none."""
        return _DATE if self.part in (0, 2) and _DATE in self.notes else ""

    @property
    def note_areas(self) -> tuple[Handwriting, ...]:
        """Notes that are typed beside the sheet's answers: those that somebody wrote."""
        return tuple(
            each for each in self.handwriting if each.is_note and (each.waits or each.base)
        )

    @property
    def number_area(self) -> str:
        """Name of the area in which a spare sheet says for which night it stands."""
        free = [name for name in self.notes if name.startswith(_FREE)]
        return free[-1] if self.is_spare and free else ""


def sheets_of(code: str, course: int, *, seen_by: Person) -> tuple[SheetLine, ...]:
    """Give all sheets of a course, in the order in which they came.

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
    tuple of SheetLine
        Open ones and those that are done with.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    found = find_course(code, course)
    known = known_nights(found)
    rows = (
        ReadingRow.objects.filter(photo__course=found)
        .select_related("photo")
        .prefetch_related("said", "stands_for", "notes_said")
    )
    typed = open_notes(each for row in rows for each in last_said(row).values())
    outcomes = dict(
        SheetKept.objects.filter(sheet__photo__course=found).values_list("sheet", "outcome")
    )
    lines = []
    for row in rows:
        states = states_of(row.fields, said_of(row))
        night = night_of(row)
        night = night if night in range(1, len(known.plan.nights) + 1) else None
        place = place_of(row, night, known=known) if night else None
        lines.append(
            SheetLine(
                key=row.pk,
                night=night,
                is_spare=row.night is None,
                part=row.part,
                order=place.order if place else (),
                is_sure=row.is_sure,
                is_wrong_size=abs((row.print_scale or 1.0) - 1.0) > TRUE_SIZE_TOLERANCE,
                states=states,
                waiting=doubtful(states),
                values={name: tuple(box["values"]) for name, box in row.boxes.items()},
                notes=tuple(name for name in row.boxes if name.startswith(("note.", _FREE))),
                outcome=outcomes.get(row.pk, ""),
                has_pixels=row.photo.removed is None,
                received=row.photo.received,
                is_known=place is not None and _is_known(place, states),
                evening=place.before.evening if place else "",
                seems_undated=row.boxes.get(_DATE, {}).get("ink", 1.0) < _NO_INK,
                handwriting=handwriting_of(row, typed),
            )
        )
    return tuple(lines)


def _is_known(place: SheetPlace, states: Mapping[str, FieldState]) -> bool:
    if place.is_part and place.adds_only(to_night(states, place)):
        return False
    return place.is_known


def first_evening_of(code: str, course: int, *, seen_by: Person) -> date | None:
    """Give the first evening that was agreed for the last plan of a course, if there was one."""
    demand(Permission.SEE_RESULTS, of=seen_by)
    return known_nights(find_course(code, course)).plan.start


def picture_of(code: str, course: int, sheet: int, area: str, *, seen_by: Person) -> bytes:
    """Give the picture of a sheet, or of one area of it.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    area : str
        Id of a field, name of a write-in area, or ``page``.
    seen_by : Person
        Who looks.

    Returns
    -------
    bytes
        JPEG.

    Raises
    ------
    Refused
        If there is no such sheet or area, or its pixels are gone.
    """
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_sheet(code, course, sheet)
    picture = page_picture(row)
    if area == "page":
        return picture
    if area not in row.boxes:
        remedy = "Load the page again."
        raise Refused([Problem(f"sheet {sheet}", "it has no such area", remedy, "sheet")])
    return cut_from_page(picture, row.boxes[area]["box"])


def areas_of(code: str, course: int, sheet: int, *, seen_by: Person) -> tuple[str, ...]:
    """Name the areas of a sheet that can be shown by themselves; none once its pixels are gone."""
    demand(Permission.SEE_RESULTS, of=seen_by)
    row = find_sheet(code, course, sheet)
    return tuple(row.boxes) if row.photo.removed is None else ()


def order_known(code: str, course: int, night: int, *, seen_by: Person) -> tuple[Position, ...]:
    """Give the positions of a night's slots as it is known, slot 1 first."""
    demand(Permission.SEE_RESULTS, of=seen_by)
    return known_nights(find_course(code, course)).order(night)
