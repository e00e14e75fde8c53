"""Finding the rows of photographed sheets, and their sealed pixels."""

from pathlib import Path

from django.conf import settings

from sidelong.clinic.practice.nights import Known, find_course
from sidelong.clinic.sheets.answers import SheetPlace
from sidelong.clinic.sheets.models import AnswerSaid, ReadingRow
from sidelong.clinic.sheets.packing import unpack
from sidelong.clinic.sheets.store import PhotoStore
from sidelong.problems import Problem, Refused
from sidelong.training.position import Position

_FOLDER = "sheets"


def photo_store() -> PhotoStore:
    """Open the store of this installation."""
    return PhotoStore(Path(settings.MEDIA_ROOT) / _FOLDER, settings.INSTALLATION.key_ring())


def find_sheet(code: str, course: int, key: int) -> ReadingRow:
    """Find a sheet of a course.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, key : int
        Number of the course; key of the sheet.

    Returns
    -------
    ReadingRow
        Its row, with its photograph.

    Raises
    ------
    Refused
        If there is no such course, or no such sheet in it.
    """
    found: ReadingRow | None = (
        ReadingRow.objects.filter(photo__course=find_course(code, course), pk=key)
        .select_related("photo__course__trainee")
        .first()
    )
    if found is None:
        remedy = "Go back to the sheets of this course."
        raise Refused([Problem(f"sheet {key} of {code}", "there is none", remedy, "sheet")])
    return found


def said_of(row: ReadingRow) -> dict[str, str]:
    """Give what a person said last of each field; what was taken back is left out."""
    last: dict[str, AnswerSaid] = {each.field: each for each in row.said.all()}
    return {field: each.value for field, each in last.items() if not each.is_taken_back}


def night_of(row: ReadingRow) -> int | None:
    """Say which night a sheet is: its number, or what a person said of a spare one."""
    if row.night is not None:
        return int(row.night)
    last = max(row.stands_for.all(), key=lambda each: each.pk, default=None)
    return None if last is None else last.night


def place_of(row: ReadingRow, night: int, *, known: Known) -> SheetPlace:
    """Say which night a sheet is, beside what is known of it.

    Parameters
    ----------
    row : ReadingRow
        Which sheet.
    night : int
        See :func:`night_of`; one that the plan has.
    known : Known
        What is known of the course.

    Returns
    -------
    SheetPlace
        With the order that is printed on the sheet.
    """
    plan = known.plans.get(row.plan_version, known.plan)
    printed = tuple(Position(each) for each in row.order)
    return SheetPlace(
        night=night,
        order=printed or plan.nights[night - 1].order,
        plan_version=plan.version,
        is_part=row.part > 0,
        known=known,
    )


def page_picture(row: ReadingRow) -> bytes:
    """Open the picture of a page laid flat, JPEG.

    Parameters
    ----------
    row : ReadingRow
        Which sheet.

    Returns
    -------
    bytes
        As it was cut out.

    Raises
    ------
    Refused
        If its pixels were deleted, or the file is damaged.
    """
    if row.photo.removed is not None:
        remedy = "What was read, said and kept is still there."
        what = "its pixels were deleted after the site's time"
        raise Refused([Problem(f"sheet {row.pk}", what, remedy, "sheet")])
    earlier = ReadingRow.objects.filter(photo=row.photo, pk__lt=row.pk).count()
    _, pictures = unpack(photo_store().get(row.photo.name))
    return pictures[earlier]
