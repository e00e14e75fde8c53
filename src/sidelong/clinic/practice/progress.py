"""How far practice at home has come, for many courses at once: counts, not figures."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count

from sidelong.clinic.practice.models import EventRow, NightEntry, Signature, UpSignOff
from sidelong.clinic.practice.rows import MAY_GO_ON
from sidelong.clinic.trainees.models import PlanRow
from sidelong.training.safety import Tier

CourseKey = tuple[str, int]


@dataclass(frozen=True)
class LastNight:
    """The night that was written down last.

    Parameters
    ----------
    by : str
        Audit key of who kept it.
    at : datetime
        When.
    """

    by: str
    at: datetime


@dataclass(frozen=True)
class SignedLast:
    """The last signature: who, when, what was decided, and whether anything came after it."""

    shown_as: str
    at: datetime
    meaning: str
    position: str
    is_stale: bool


@dataclass(frozen=True)
class Progress:
    """How far one course has come.

    Parameters
    ----------
    n_known : int
        Nights of which something is known, a reason for no practice included.
    n_practised : int
        Nights with an answer.
    last : LastNight or None
        The night written down last.
    last_evening : date or None
        The latest evening that a date was given for.
    events : tuple of EventRow
        In the order in which they were told.
    signed : SignedLast or None
        The last signature.
    """

    n_known: int = 0
    n_practised: int = 0
    last: LastNight | None = None
    last_evening: date | None = None
    events: tuple[EventRow, ...] = ()
    signed: SignedLast | None = None

    @property
    def waiting_event(self) -> EventRow | None:
        """The first event that waits for a clinician."""
        return next((each for each in self.events if waits(each)), None)


def waits(row: EventRow) -> bool:
    """Tell whether an event still keeps practice locked."""
    return Tier(row.tier).locks_practice and row.answer != MAY_GO_ON


def progress_of(codes: Collection[str]) -> Mapping[CourseKey, Progress]:
    """Say how far all courses of some trainees have come.

    Parameters
    ----------
    codes : collection of str
        Codes of the trainees.

    Returns
    -------
    mapping of (str, int) to Progress
        By code and number of the course; courses of which nothing is known are left out.
    """
    nights, events = _nights_of(codes), _events_of(codes)
    changed = _changed_of(codes, nights, events)
    signed = _signed_of(codes, changed)
    return {
        key: _progress(nights.get(key, []), events.get(key, []), signed.get(key))
        for key in {*nights, *events, *signed}
    }


def _progress(
    nights: list[Mapping[str, object]], events: list[EventRow], signed: SignedLast | None
) -> Progress:
    known = [each for each in nights if _says_something(each)]
    last = max(known, key=lambda each: (each["kept"], each["night"]), default=None)
    evenings = [each["evening"] for each in known if isinstance(each["evening"], date)]
    return Progress(
        n_known=len(known),
        n_practised=sum(bool(each["n_rows"]) for each in known),
        last=None if last is None else LastNight(str(last["kept_by"]), _moment(last["kept"])),
        last_evening=max(evenings, default=None),
        events=tuple(events),
        signed=signed,
    )


def _says_something(night: Mapping[str, object]) -> bool:
    marks = ("n_rows", "felt_best", "written", "evening", "not_done")
    return any(night[mark] for mark in marks)


def _nights_of(codes: Collection[str]) -> dict[CourseKey, list[Mapping[str, object]]]:
    """Read the version that counts of every night, without its ratings."""
    rows = (
        NightEntry.objects.filter(course__trainee__in=codes)
        .order_by("version")
        .values(
            *("course__trainee", "course__number", "night", "kept", "kept_by"),
            *("evening", "written", "felt_best", "not_done"),
        )
        .annotate(n_rows=Count("rows"))
    )
    latest = {(row["course__trainee"], row["course__number"], row["night"]): row for row in rows}
    found: dict[CourseKey, list[Mapping[str, object]]] = defaultdict(list)
    for (code, number, _), row in latest.items():
        found[code, number].append(row)
    return found


def _events_of(codes: Collection[str]) -> dict[CourseKey, list[EventRow]]:
    found: dict[CourseKey, list[EventRow]] = defaultdict(list)
    rows = EventRow.objects.filter(course__trainee__in=codes).select_related("course")
    for row in rows.order_by("pk"):
        found[row.course.trainee_id, row.course.number].append(row)
    return found


def _changed_of(
    codes: Collection[str],
    nights: Mapping[CourseKey, list[Mapping[str, object]]],
    events: Mapping[CourseKey, list[EventRow]],
) -> dict[CourseKey, datetime]:
    """Find when something that a result rests on was written last."""
    moments: dict[CourseKey, list[datetime]] = defaultdict(list)
    for key, rows in nights.items():
        moments[key] += [_moment(each["kept"]) for each in rows]
    for key, told in events.items():
        moments[key] += [at for each in told for at in (each.kept, each.answered) if at]
    columns = ("course__trainee", "course__number")
    for code, number, at in PlanRow.objects.filter(course__trainee__in=codes).values_list(
        *columns, "issued"
    ):
        moments[code, number].append(at)
    for code, number, text in UpSignOff.objects.filter(course__trainee__in=codes).values_list(
        *columns, "signed"
    ):
        moments[code, number].append(datetime.fromisoformat(text))
    return {key: max(found) for key, found in moments.items()}


def _signed_of(
    codes: Collection[str], changed: Mapping[CourseKey, datetime]
) -> dict[CourseKey, SignedLast]:
    rows = Signature.objects.filter(result__course__trainee__in=codes)
    found = {}
    for row in rows.select_related("result__course").order_by("pk"):
        course = row.result.course
        key = (course.trainee_id, course.number)
        found[key] = SignedLast(
            shown_as=row.shown_as,
            at=datetime.fromisoformat(row.signed),
            meaning=row.meaning,
            position=row.position,
            is_stale=key in changed and changed[key] > row.result.made,
        )
    return found


def _moment(value: object) -> datetime:
    if not isinstance(value, datetime):
        raise TypeError("a moment is expected")
    return value
