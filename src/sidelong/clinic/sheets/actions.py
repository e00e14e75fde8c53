"""What is done with photographed sheets, each as one recorded act."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from sidelong import __version__
from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.practice.actions import keep_nights
from sidelong.clinic.practice.nights import check_all, find_course, known_nights
from sidelong.clinic.practice.typed import GridFault, TypedNight
from sidelong.clinic.sheets.answers import doubtful, states_of, to_night
from sidelong.clinic.sheets.models import (
    AnswerSaid,
    PhotoRow,
    ReadingRow,
    SheetKept,
    SpareNight,
)
from sidelong.clinic.sheets.packing import pack
from sidelong.clinic.sheets.reading import (
    ReadSheet,
    Stranger,
    name_stranger,
    read_photograph,
    wash_apart,
)
from sidelong.clinic.sheets.rows import find_sheet, night_of, photo_store, place_of, said_of
from sidelong.clinic.sheets.store import new_name
from sidelong.clinic.trainees.models import Course
from sidelong.problems import Problem, Refused
from sidelong.training.entry import Source
from sidelong.training.reading import PageStatus


class Outcome(StrEnum):
    """What became of a confirmed sheet."""

    KEPT = "kept"
    COMPARED = "compared"
    SET_ASIDE = "set_aside"


@dataclass(frozen=True)
class Received:
    """What a photograph held.

    Parameters
    ----------
    sheets : tuple of int
        Keys of the sheets that were recognised; empty where there was none of this course.
    is_again : bool
        The very same photograph had been sent before; nothing was added.
    stranger : Stranger or None
        What it shows instead of a sheet of this course, where that is certain.
    """

    sheets: tuple[int, ...]
    is_again: bool = False
    stranger: Stranger | None = None


@dataclass(frozen=True)
class Confirmed:
    """What became of a sheet that a person confirmed.

    Parameters
    ----------
    outcome : Outcome or None
        None where nothing was kept.
    faults : tuple of GridFault
        Why not.
    theirs, ours : TypedNight or None
        The night as it is known and as the sheet has it, where they differ.
    """

    outcome: Outcome | None
    faults: tuple[GridFault, ...] = ()
    theirs: TypedNight | None = None
    ours: TypedNight | None = None


def receive_photograph(
    *,
    code: str,
    course: int,
    content: bytes,
    now: datetime,
    by: Person,
    wash: Callable[[bytes], bytes] = wash_apart,
    read: Callable[[bytes, Course], Sequence[ReadSheet]] = read_photograph,
    name_other: Callable[[bytes, Course], Stranger | None] = name_stranger,
) -> Received:
    """Take a photograph in: wash it, read it, keep both.

    Parameters
    ----------
    code : str
        The trainee's code.
    course : int
        Number of the course.
    content : bytes
        JPEG, PNG or HEIC as it was sent.
    now : datetime
        When, with its offset.
    by : Person
        Who sends it in.
    wash, read : callable
        Make the content safe to open; find and read the sheets of a course in it.
    name_other : callable
        Says what a photograph shows in which there is no such sheet.

    Returns
    -------
    Received
        The sheets that were recognised. A photograph without a sheet of this course is not kept.

    Raises
    ------
    Refused
        If there is no such course or plan, or it is no photograph that can be opened safely.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    row = find_course(code, course)
    washed = wash(content)
    digest = hashlib.sha256(washed).hexdigest()
    before = PhotoRow.objects.filter(course=row, digest=digest).first()
    if before is not None:
        return Received(tuple(before.sheets.values_list("pk", flat=True)), is_again=True)
    # Read before the act begins: it takes a second, and other acts would wait for it.
    sheets = read(washed, row)
    if not sheets:
        return Received((), stranger=name_other(washed, row))
    name, store = new_name(), photo_store()
    store.put(pack(washed, [sheet.picture for sheet in sheets]), name=name)
    with act("photograph received", by=by, subject=subject_of(code)) as doing:
        photo = PhotoRow(
            course=row, name=name, digest=digest, received=now, received_by=by.audit_key
        )
        photo.save()
        keys = tuple(_add_sheet(photo, sheet, now=now) for sheet in sheets)
        doing.note(course=course, photograph=photo.pk, sheets=len(keys), digest=digest)
    return Received(keys)


def say_answer(
    *, code: str, course: int, sheet: int, field: str, value: str | None, now: datetime, by: Person
) -> None:
    """Keep what a person says that a field shows, or take back what was said last.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    field : str
        Which field.
    value : str or None
        Value of a target, empty for nothing marked; None takes the last answer back.
    now : datetime
        When, with its offset.
    by : Person
        Who looked.

    Raises
    ------
    Refused
        If there is no such sheet or field, the value is none of its targets, or the sheet is
        confirmed already.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    row = find_sheet(code, course, sheet)
    _refuse_if_kept(row)
    if field not in row.fields or (value and value not in row.boxes[field]["values"]):
        remedy = "Load the page again."
        raise Refused([Problem(f"sheet {sheet}", "it has no such answer", remedy, "sheet")])
    with act("sheet looked at", by=by, subject=subject_of(code)) as doing:
        AnswerSaid(
            sheet=row,
            field=field,
            value=value or "",
            is_taken_back=value is None,
            at=now,
            by=by.audit_key,
        ).save()
        doing.note(sheet=sheet, field=field, read=row.fields[field][0], said=value, course=course)


def confirm_sheet(
    *,
    code: str,
    course: int,
    sheet: int,
    evening: str = "",
    not_done: str = "",
    replaces: bool = False,
    now: datetime,
    today: date,
    by: Person,
) -> Confirmed:
    """Let a sheet become a night, once a person has looked at all that was unclear.

    A second photograph of a night that says the same is compared and adds nothing. One that says
    something else is not kept until the person has seen both and lets it replace the other.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    evening : str
        Date as it was written down, ISO 8601; may be empty.
    not_done : str
        Why nobody practised, where the sheet says so.
    replaces : bool
        Let the sheet count although the night is known otherwise.
    now : datetime
        When, with its offset.
    today : date
        Today at the site.
    by : Person
        Who confirms.

    Returns
    -------
    Confirmed
        What became of it.

    Raises
    ------
    Refused
        If there is no such sheet, it is confirmed already, or a field is still unclear.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    row = find_sheet(code, course, sheet)
    _refuse_if_kept(row)
    states = states_of(row.fields, said_of(row))
    waiting, night = doubtful(states), night_of(row)
    if waiting or night is None:
        what = f"{len(waiting)} fields wait to be looked at" if waiting else "it has no number"
        remedy = "Look at each of them, then confirm."
        raise Refused([Problem(f"sheet {sheet}", what, remedy, "sheet")])
    known = known_nights(find_course(code, course))
    place = place_of(row, night, known=known)
    ours = to_night(states, place, evening=evening, not_done=not_done, replaces=replaces)
    found = check_all([ours], known, today=today, source=Source.SHEET)
    if found.faults:
        return Confirmed(None, faults=tuple(found.faults))
    if found.clashing:
        return Confirmed(None, theirs=place.before, ours=ours)
    outcome = Outcome.KEPT if found.changed else Outcome.COMPARED
    with act("sheet confirmed", by=by, subject=subject_of(code)) as doing:
        if found.changed:
            kept = keep_nights(
                code=code,
                course=course,
                nights=[ours],
                source=Source.SHEET,
                now=now,
                today=today,
                by=by,
            )
            if kept.clashes or kept.faults:  # somebody was faster
                remedy = "Load the page again and look at both."
                what = f"night {night} was changed meanwhile"
                raise Refused([Problem(f"sheet {sheet}", what, remedy, "sheet")])
        _keep(row, outcome, night=night, now=now, by=by)
        doing.note(sheet=sheet, course=course, night=night, outcome=str(outcome))
    return Confirmed(outcome)


def set_aside(*, code: str, course: int, sheet: int, now: datetime, by: Person) -> None:
    """Leave a sheet out: a worse second photograph, or the night as it is known counts.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    now : datetime
        When, with its offset.
    by : Person
        Who decides.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    row = find_sheet(code, course, sheet)
    _refuse_if_kept(row)
    with act("sheet set aside", by=by, subject=subject_of(code)) as doing:
        _keep(row, Outcome.SET_ASIDE, night=None, now=now, by=by)
        doing.note(sheet=sheet, course=course, night=row.night)


def name_spare(
    *, code: str, course: int, sheet: int, night: int | None, now: datetime, by: Person
) -> None:
    """Keep which night a spare sheet stands for, or take back what was said last.

    Parameters
    ----------
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.
    night : int or None
        As it is written on the sheet; None takes the last one back.
    now : datetime
        When, with its offset.
    by : Person
        Who looked.

    Raises
    ------
    Refused
        If there is no such sheet, it has a number of its own or is confirmed already, or the plan
        has no such night.
    """
    demand(Permission.RECORD_NIGHTS, of=by)
    row = find_sheet(code, course, sheet)
    _refuse_if_kept(row)
    if row.night is not None:
        what = f"it is the sheet of night {row.night}"
        remedy = "Only a spare sheet is told which night it stands for."
        raise Refused([Problem(f"sheet {sheet}", what, remedy, "sheet")])
    n_nights = len(known_nights(find_course(code, course)).plan.nights)
    if night is not None and not 1 <= night <= n_nights:
        what = f"there is no night {night}: the plan has {n_nights}"
        remedy = "Read the number that is written on the spare sheet, or ask the family."
        raise Refused([Problem(f"sheet {sheet}", what, remedy, "sheet")])
    with act("spare sheet named", by=by, subject=subject_of(code)) as doing:
        SpareNight(sheet=row, night=night, at=now, by=by.audit_key).save()
        doing.note(sheet=sheet, course=course, night=night)


def _add_sheet(photo: PhotoRow, sheet: ReadSheet, *, now: datetime) -> int:
    reading, page = sheet.reading, sheet.page
    row = ReadingRow(
        photo=photo,
        page_id=reading.page_id,
        is_sure=reading.status is PageStatus.OK,
        plan_version=page.version or 1,
        night=page.night,
        part=page.part,
        order=[str(each) for each in page.order],
        print_scale=reading.print_scale,
        fields={
            name: [each.value, round(each.confidence, 4), each.accepted]
            for name, each in reading.fields.items()
        },
        boxes=sheet.boxes,
        program=__version__,
        read=now,
    )
    row.save()
    return int(row.pk)


def _refuse_if_kept(row: ReadingRow) -> None:
    if SheetKept.objects.filter(sheet=row).exists():
        remedy = "Change the night in the grid instead."
        raise Refused([Problem(f"sheet {row.pk}", "it is done with already", remedy, "sheet")])


def _keep(
    row: ReadingRow, outcome: Outcome, *, night: int | None, now: datetime, by: Person
) -> None:
    entry = None
    if night is not None:
        entry = row.photo.course.nights.filter(night=night).order_by("-version").first()
    SheetKept(sheet=row, entry=entry, outcome=str(outcome), at=now, by=by.audit_key).save()
