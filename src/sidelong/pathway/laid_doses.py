"""First doses by command: each is laid against the table in which its estimate was locked."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime

from sidelong.pathway.promises import Promise
from sidelong.problems import Problem, Refused
from sidelong.training.promise import FirstDose, LockedEstimate, promise_for

_Courses = dict[tuple[str, int], list[LockedEstimate]]


def lay_doses(
    doses: Sequence[FirstDose],
    locks: Iterable[LockedEstimate],
    *,
    day_of: Callable[[datetime], date],
    where: str,
) -> tuple[Promise, ...]:
    """Lay each dose against what was locked for its course by the day on which it was taken.

    Every time at which a course was locked counts as the beginning of a follow-up, so a dose is
    laid against the last estimate that was locked by its day.

    Parameters
    ----------
    doses : sequence of FirstDose
        At most one for a course.
    locks : iterable of LockedEstimate
        Of all tables, in any order.
    day_of : callable
        Gives the day of a moment in the site's time zone.
    where : str
        Name of the table of doses, for messages.

    Returns
    -------
    tuple of Promise
        In the order of the doses.

    Raises
    ------
    Refused
        With every dose whose course was not locked, or not by that day.
    """
    courses = follow_ups(locks)
    promises, faults = [], []
    for dose in doses:
        known = courses.get((dose.trainee, dose.course), [])
        try:
            promises.append(Promise(_promise(known, dose, day_of), dose))
        except Refused as refused:
            place = f"{where}, trainee {dose.trainee}, course {dose.course}"
            faults += [Problem(place, p.what, p.remedy, "first-dose") for p in refused.problems]
    if faults:
        raise Refused(faults)
    return tuple(promises)


def follow_ups(locks: Iterable[LockedEstimate]) -> _Courses:
    """Give the locked estimates of each course a number, by the time at which they were locked.

    Parameters
    ----------
    locks : iterable of LockedEstimate
        Of all tables; one that is in two of them counts once.

    Returns
    -------
    dict of (str, int) to list of LockedEstimate
        By trainee and course.
    """
    courses: _Courses = {}
    for lock in sorted(dict.fromkeys(locks), key=lambda each: each.locked_at):
        known = courses.setdefault((lock.trainee, lock.course), [])
        number = len(known) + 1
        known.append(replace(lock, follow_up=number, number=number))
    return courses


def _promise(
    locks: Sequence[LockedEstimate], dose: FirstDose, day_of: Callable[[datetime], date]
) -> LockedEstimate:
    if not locks:
        what = "no table holds a locked estimate for it"
        remedy = (
            "Check code and course, or name the table in which its estimate was locked as well."
        )
        raise Refused([Problem("dose", what, remedy, "first-dose")])
    days = [day_of(lock.locked_at) for lock in locks]
    return promise_for(locks, days=days, given_on=dose.given_on)
