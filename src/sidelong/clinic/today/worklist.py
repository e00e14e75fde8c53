"""What waits today: trainees in groups, the gravest first, each with the link to its step."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.urls import reverse

from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.trainees.pages import Line
from sidelong.clinic.trainees.record import Record

QUIET_EVENINGS = 5
"""Evenings without a night written down after which somebody rings. Common practice, no source."""


@dataclass(frozen=True)
class Kind:
    """A kind of work.

    Parameters
    ----------
    title : str
        Heading of its group.
    steps : tuple of str
        Titles of the steps that wait when somebody belongs to it.
    action : str
        Words of the link.
    needs : Permission
        Whose work it is.
    """

    title: str
    steps: tuple[str, ...]
    action: str
    needs: Permission


LOCKED = Kind("Practice is locked", (), "Answer the event", Permission.ANSWER_EVENTS)
QUIET = Kind("Nothing heard from home", (), "Write down the nights", Permission.RECORD_NIGHTS)
AT_HOME = Kind("Practising at home", ("Nights",), "See the nights", Permission.RECORD_NIGHTS)
KINDS = (
    LOCKED,
    Kind("Decisions to take", ("Clinician's decision",), "Decide", Permission.DECIDE),
    Kind("Results to sign", ("Result",), "See the result", Permission.SIGN_RESULTS),
    Kind("Sheets to look at", ("Sheets",), "Look at the sheets", Permission.RECORD_NIGHTS),
    QUIET,
    Kind(
        "Referrals to complete",
        ("Referral", "Readiness questions"),
        "Ask the questions",
        Permission.ENTER_TRAINEES,
    ),
    Kind(
        "Teaching visits to hold", ("Teaching visit",), "Record the visit", Permission.RECORD_VISITS
    ),
    Kind("Plans to issue", ("Plan",), "Issue the plan", Permission.ISSUE_PLANS),
    Kind("Booklets to hand out", ("Booklet",), "Make the booklet", Permission.ISSUE_PLANS),
    AT_HOME,
)


@dataclass(frozen=True)
class Waiting:
    """One trainee in a group.

    Parameters
    ----------
    code, site : str
        Who and where.
    since : date or None
        When the last step was done.
    note : str
        What is to be known before the link is followed.
    url : str
        Where the step is done.
    """

    code: str
    site: str
    since: date | None
    note: str
    url: str


@dataclass(frozen=True)
class Group:
    """All who wait for one kind of work, those who have waited longest first."""

    kind: Kind
    waiting: tuple[Waiting, ...]


@dataclass(frozen=True)
class Worklist:
    """What waits today.

    Parameters
    ----------
    locked : Group or None
        Whose practice is locked: shown to everybody, before all else.
    own : tuple of Group
        What somebody may do.
    others : tuple of Group
        What waits for colleagues.
    n_stopped : int
        Trainees whose way has stopped, for another reason than a lock.
    """

    locked: Group | None
    own: tuple[Group, ...]
    others: tuple[Group, ...]
    n_stopped: int


def lay_out(
    lines: Sequence[Line], *, heard: Mapping[str, date], may: Collection[Permission]
) -> Worklist:
    """Sort trainees into what is next for each.

    Parameters
    ----------
    lines : sequence of Line
        Where each stands.
    heard : mapping of str to date
        By code, the evening on which something of the nights was written down last.
    may : collection of Permission
        What the reader may do.

    Returns
    -------
    Worklist
        Groups with nobody in them are left out.
    """
    found: dict[Kind, list[Waiting]] = {kind: [] for kind in KINDS}
    for line in lines:
        n_quiet = quiet_evenings(line.record, heard.get(line.record.code))
        kind = kind_of(line, n_quiet=n_quiet)
        if kind is not None:
            found[kind].append(_waiting(line, kind, n_quiet=n_quiet))
    groups = [
        Group(kind, tuple(sorted(waiting, key=_longest_first)))
        for kind, waiting in found.items()
        if waiting
    ]
    rest = [each for each in groups if each.kind is not LOCKED]
    locked = next((each for each in groups if each.kind is LOCKED), None)
    if locked is not None and LOCKED.needs not in may:
        locked = replace(locked, kind=replace(LOCKED, action="See the event"))
    return Worklist(
        locked=locked,
        own=tuple(each for each in rest if each.kind.needs in may),
        others=tuple(each for each in rest if each.kind.needs not in may),
        n_stopped=sum(_has_stopped(line) for line in lines),
    )


def kind_of(line: Line, *, n_quiet: int) -> Kind | None:
    """Say which work a trainee waits for; None where nothing is next."""
    if line.record.is_locked:
        return LOCKED
    if line.next is None:
        return None
    if line.next.title in AT_HOME.steps:
        return QUIET if n_quiet >= QUIET_EVENINGS else AT_HOME
    return next((each for each in KINDS if line.next.title in each.steps), None)


def quiet_evenings(record: Record, heard: date | None) -> int:
    """Count the evenings since something was heard from home, or since they were to begin.

    Parameters
    ----------
    record : Record
        What is known of one trainee.
    heard : date or None
        The evening on which something was written down last, in this course or an earlier one.

    Returns
    -------
    int
        0 before the first evening, and without a plan.
    """
    if record.plan is None:
        return 0
    first = record.plan.first_evening
    since = first if heard is None else max(first, heard)
    return max(0, (record.evening - since).days)


def _waiting(line: Line, kind: Kind, *, n_quiet: int) -> Waiting:
    record = line.record
    step = line.stopped if kind is LOCKED else line.next
    url = step.url if step is not None else ""
    note = step.note if step is not None else ""
    if kind is LOCKED:
        where = {"code": record.code, "course": record.course}
        url, note = reverse("events", kwargs=where), "Nothing goes home until it is answered."
    if kind is QUIET:
        note = f"{note} Nothing for {n_quiet} evenings."
    last = line.stopped if kind is LOCKED and line.stopped is not None else line.last
    since = last.on if last is not None else None
    return Waiting(record.code, record.site, since, note.strip(), url)


def _longest_first(each: Waiting) -> tuple[date, str]:
    return each.since or date.min, each.code


def _has_stopped(line: Line) -> bool:
    return line.stopped is not None and not line.record.is_locked and line.next is None
