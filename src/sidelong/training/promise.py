"""Promises: an estimate that was fixed at follow-up, and the first real dose that came after it.

An estimate is locked when a follow-up begins and never changed. What happened later can then be
laid against what was said before anybody knew. A correction of the nights makes a new estimate,
which stands beside the first one; the first one stays the promise.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.days import say_day
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.estimate import PositionEstimate, Verdict
from sidelong.training.piece import LARGEST_MM, Shape
from sidelong.training.position import Position


class DoseKind(StrEnum):
    """What the first real dose was; never a brand, and no medicine by name."""

    TABLET = "tablet"
    CAPSULE = "capsule"
    LIQUID_FILLED = "liquid_filled"


class SeenBy(StrEnum):
    """Who saw the dose: what home says is a report, and success is seen by staff."""

    STAFF = "staff"
    HOME = "home"


@dataclass(frozen=True)
class FitMark:
    """The hyperparameters that an estimate rests on.

    Parameters
    ----------
    name : str
        Where they come from, in a sentence.
    program : str
        Version of the program that made them; empty for shipped values.
    fingerprint : str
        SHA-256 of the values, 64 hexadecimal digits.
    """

    name: str
    program: str = ""
    fingerprint: str = ""


@dataclass(frozen=True)
class LockedEstimate:
    """What was said when a follow-up began, and all that is needed to say it again.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course, version : int
        Course of the trainee and plan version within it, from 1.
    follow_up, number : int
        Which follow-up of the course, and which estimate within the course, both from 1. The
        first estimate of a follow-up is its promise; later ones rest on corrected nights.
    locked_at : datetime
        When, with its offset.
    locked_by : str
        Key of who locked it; empty by command.
    program : str
        Version of the program that made the figures.
    fit : FitMark
        Hyperparameters.
    seed : str
        Seed of what was drawn at random for it; empty where nothing was.
    evidence : str
        SHA-256 of the nights, events and plan that it rests on.
    positions : tuple of PositionEstimate
        Figures by position, in listed order.
    nights_used, nights_planned : int
        Nights with at least one answer, and nights of the plan.
    verdict : Verdict
        The answer in a word.
    suggested : Position or None
        The position to discuss.
    used : Position or None
        The position to be used at this follow-up, where that was said beforehand.

    Raises
    ------
    ValueError
        If a number is below 1, the time has no offset, or no position is left.
    """

    trainee: str
    course: int
    version: int
    follow_up: int
    number: int
    locked_at: datetime
    locked_by: str
    program: str
    fit: FitMark
    seed: str
    evidence: str
    positions: tuple[PositionEstimate, ...]
    nights_used: int
    nights_planned: int
    verdict: Verdict
    suggested: Position | None = None
    used: Position | None = None

    def __post_init__(self) -> None:
        """Refuse what no program would have locked."""
        if min(self.course, self.version, self.follow_up, self.number) < 1:
            raise ValueError("course, version, follow-up and number count from 1")
        if self.locked_at.tzinfo is None:
            raise ValueError("locked_at needs an offset")
        if not self.positions:
            raise ValueError("an estimate needs a position")

    def of(self, position: Position | None) -> PositionEstimate | None:
        """Give the figures of one position; None where there are none for it."""
        return next((each for each in self.positions if each.position is position), None)


@dataclass(frozen=True)
class FirstDose:
    """The first real dose of a course: one tablet or capsule of the trainee's own medicine.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course : int
        Course of the trainee, from 1.
    given_on : date
        Day on which it was taken, in the site's time zone.
    position : Position or None
        The position that was used; None where nobody knows.
    kind : DoseKind
        What it was.
    shape : Shape
        Its outline.
    largest_mm : float
        Its largest dimension, mm.
    seen_by : SeenBy
        Whether staff saw it, or home reported it.
    went_down : WentDown
        Whether it was swallowed, and how soon.
    why_not : WhyNot or None
        Only where it did not go down.
    rating : int or None
        How easy it felt, 1 very hard to 5 very easy; None where nobody asked.
    whole, unchewed, unaided : bool or None
        What was seen or told; None where it is not known.

    Raises
    ------
    Refused
        With every answer that contradicts another one.
    """

    trainee: str
    course: int
    given_on: date
    position: Position | None
    kind: DoseKind
    shape: Shape
    largest_mm: float
    seen_by: SeenBy
    went_down: WentDown
    why_not: WhyNot | None = None
    rating: int | None = None
    whole: bool | None = None
    unchewed: bool | None = None
    unaided: bool | None = None

    def __post_init__(self) -> None:
        """Refuse answers that cannot stand together, all at once."""
        faults = []
        if not 0 < self.largest_mm <= LARGEST_MM:
            what = f"{self.largest_mm:g} mm is no size of a dose"
            faults.append(_fault("largest_mm", what, f"Measure it; at most {LARGEST_MM} mm."))
        if self.rating is not None and not 1 <= self.rating <= 5:
            what = f"a rating of {self.rating} is not within 1..5"
            faults.append(_fault("rating", what, "Use 1 very hard to 5 very easy, or leave it."))
        if self.why_not is WhyNot.NOT_TRIED:
            what = "a dose that was not tried is no first dose"
            faults.append(_fault("why_not", what, "Record the first dose that was tried."))
        if self.why_not is not None and self.went_down is not WentDown.NO:
            what = "it went down, and there is a reason why it did not"
            faults.append(_fault("why_not", what, "Leave the reason out."))
        if self.went_down is WentDown.NO and self.whole:
            what = "it did not go down, so it was not swallowed whole"
            faults.append(_fault("whole", what, "Leave it out, or say that it went down."))
        if faults:
            raise Refused(faults)

    @property
    def went_first_try(self) -> bool:
        """Whether it went down at the first try, which is what the estimate gave a chance for."""
        return self.went_down is WentDown.FIRST

    @property
    def is_success(self) -> bool:
        """Whether staff saw it go down whole, unchewed and unaided."""
        seen = (self.whole, self.unchewed, self.unaided)
        return (
            self.seen_by is SeenBy.STAFF
            and self.went_down is not WentDown.NO
            and all(each is True for each in seen)
        )


def promise_for(
    locks: Iterable[LockedEstimate], *, days: Iterable[date], given_on: date
) -> LockedEstimate:
    """Find the estimate that a first dose is laid against.

    It is the first estimate of the last follow-up that had begun by the day of the dose. What
    was locked later than that day knew the outcome, or may have.

    Parameters
    ----------
    locks : iterable of LockedEstimate
        Of one course, by number.
    days : iterable of date
        Day of each of them, in the site's time zone.
    given_on : date
        Day of the dose.

    Returns
    -------
    LockedEstimate
        The promise.

    Raises
    ------
    Refused
        If no estimate was locked by that day.
    """
    dated = list(zip(locks, days, strict=True))
    if not dated:
        what = "no estimate was locked for this course, so there is nothing to lay it against"
        raise Refused([_fault("first dose", what, "Begin the follow-up first.")])
    begun: dict[int, LockedEstimate] = {}
    for lock, day in dated:
        first = begun.get(lock.follow_up)
        if day <= given_on and (first is None or lock.number < first.number):
            begun[lock.follow_up] = lock
    if not begun:
        what = (
            f"{say_day(given_on)} lies before the day on which the first estimate was locked, "
            f"{say_day(min(day for _, day in dated))}"
        )
        remedy = "Check the date: a dose before the lock says nothing about it."
        raise Refused([_fault("given_on", what, remedy)])
    return begun[max(begun)]


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "first-dose")
