"""Promises kept: estimates are locked when a follow-up begins, and first doses laid against them.

What is laid against what: the chance of going down first try, in the position that was used, as it
was locked before anybody knew; against whether the first real dose did. Doses that staff saw count;
what home says is a report and is counted apart. Nothing here says how good the estimate is for the
next trainee: ``docs/method/calibration.md`` says when the figures mislead.
"""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from sidelong.outcomes import (
    BrierParts,
    CalibrationTable,
    CalibrationTest,
    Recalibration,
    check_calibration,
    group_chances,
    recalibrate,
    split_brier,
    tabulate_calibration,
    total_interval,
)
from sidelong.pathway.estimates import PractisedCourse
from sidelong.training.entry import EntryRow, WentDown
from sidelong.training.estimate import Estimate
from sidelong.training.event import Event
from sidelong.training.position import Position
from sidelong.training.promise import FirstDose, FitMark, LockedEstimate, SeenBy

FEWEST = 20
"""Outcomes below which there is no plot and no test: a sentence instead (a choice; assumption)."""

A_GROUP = 10
"""Outcomes that a group of the plot is to hold at least (a choice; assumption)."""

MOST_GROUPS = 5
"""Groups of the plot at most: fixed beforehand, since what is seen depends on it."""

FEWEST_OF_EACH = 10
"""Outcomes of either kind below which no slope is fitted (a choice; assumption)."""


@dataclass(frozen=True)
class Promise:
    """A locked estimate with the first dose that came after it.

    Parameters
    ----------
    lock : LockedEstimate
        What was said beforehand.
    dose : FirstDose
        What happened.
    """

    lock: LockedEstimate
    dose: FirstDose

    def __post_init__(self) -> None:
        """Refuse another trainee's dose."""
        ours, theirs = (self.lock.trainee, self.lock.course), (self.dose.trainee, self.dose.course)
        if ours != theirs:
            raise ValueError("a dose is laid against an estimate of the same course")

    @property
    def chance(self) -> float | None:
        """Locked chance of going down first try in the position that was used."""
        figures = self.lock.of(self.dose.position)
        return None if figures is None else figures.p_first_try

    @property
    def counts(self) -> bool:
        """Whether it is laid in the plot: seen by staff, in a position with an estimate."""
        return self.dose.seen_by is SeenBy.STAFF and self.chance is not None


@dataclass(frozen=True)
class LaterPiece:
    """One practice piece in the suggested position, after the estimate was locked.

    Parameters
    ----------
    lock : LockedEstimate
        What was said.
    row : EntryRow
        What was recorded on a later night.
    """

    lock: LockedEstimate
    row: EntryRow


@dataclass(frozen=True)
class Tally:
    """How often it went down first try, and how often it was expected to.

    Parameters
    ----------
    n, n_first : int
        Outcomes, and those that went down first try.
    expected, lower, upper : float
        Sum of the locked chances, and the range that holds the count 95 times in 100 if they hold
        and outcomes are independent.
    """

    n: int
    n_first: int
    expected: float
    lower: float
    upper: float

    @property
    def is_as_expected(self) -> bool:
        """Whether the count lies in that range."""
        return self.lower <= self.n_first <= self.upper


@dataclass(frozen=True)
class Calibration:
    """What is drawn and said once there are outcomes enough.

    Parameters
    ----------
    table : CalibrationTable
        Groups of similar chances.
    brier : BrierParts
        Over the same groups.
    test : CalibrationTest or None
        None where the chances leave it nothing to say.
    line : Recalibration or None
        None while there are fewer than :data:`FEWEST_OF_EACH` outcomes of either kind.
    """

    table: CalibrationTable
    brier: BrierParts
    test: CalibrationTest | None
    line: Recalibration | None


@dataclass(frozen=True)
class Reckoning:
    """All promises of a programme, laid against what happened.

    Parameters
    ----------
    n_promises : int
        First estimates of follow-ups that have a first dose.
    n_unplaced : int
        Doses in a position that is not known, or that had no estimate.
    n_suggested : int
        Doses that were taken in the suggested position.
    seen, told : Tally
        Doses that staff saw, and those that home reported.
    later : Tally
        Practice pieces in the suggested position on nights after the lock.
    n_later_trainees : int
        How many trainees those pieces are from.
    chances : tuple of float
        Locked chances of the doses that staff saw, ascending.
    calibration : Calibration or None
        None below :data:`FEWEST` doses that staff saw.
    """

    n_promises: int
    n_unplaced: int
    n_suggested: int
    seen: Tally
    told: Tally
    later: Tally
    n_later_trainees: int
    chances: tuple[float, ...]
    calibration: Calibration | None

    @property
    def n_missing(self) -> int:
        """Doses seen by staff that are still needed before there is a plot."""
        return max(0, FEWEST - self.seen.n)


def lock_figures(
    estimate: Estimate,
    *,
    course: int,
    version: int,
    follow_up: int,
    number: int,
    locked_at: datetime,
    locked_by: str,
    program: str,
    fit: FitMark,
    evidence: str,
    seed: str = "",
    used: Position | None = None,
) -> LockedEstimate:
    """Fix what an estimate says, with all that it rests on.

    Parameters
    ----------
    estimate : Estimate
        Rounded as the table of estimates writes it, so that both hold the same digits.
    course, version : int
        Course of the trainee and plan version within it, from 1.
    follow_up, number : int
        Which follow-up of the course, and which estimate within the course, from 1.
    locked_at : datetime
        When, with its offset.
    locked_by : str
        Key of who locks; empty by command.
    program : str
        Version of the program that made the figures.
    fit : FitMark
        Hyperparameters.
    evidence : str
        SHA-256 of what it rests on.
    seed : str
        Seed of what was drawn at random for it; empty where nothing was.
    used : Position or None
        The position to be used at this follow-up, where that was said beforehand.

    Returns
    -------
    LockedEstimate
        To be kept as it is.
    """
    return LockedEstimate(
        trainee=estimate.trainee,
        course=course,
        version=version,
        follow_up=follow_up,
        number=number,
        locked_at=locked_at,
        locked_by=locked_by,
        program=program,
        fit=fit,
        seed=seed,
        evidence=evidence,
        positions=estimate.positions,
        nights_used=estimate.nights_used,
        nights_planned=estimate.nights_planned,
        verdict=estimate.verdict,
        suggested=estimate.suggested,
        used=used,
    )


def fingerprint_nights(course: PractisedCourse, events: Iterable[Event]) -> str:
    """Fingerprint the nights and events that an answer by command rests on.

    Parameters
    ----------
    course : PractisedCourse
        What was to be practised, and what was recorded.
    events : iterable of Event
        Those of the same trainee, in any order.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits; any change of any answer gives another one.
    """
    happened = sorted(json.dumps(asdict(each), default=str, sort_keys=True) for each in events)
    text = json.dumps([asdict(course), happened], default=str, sort_keys=True)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def reckon(promises: Sequence[Promise], *, later: Iterable[LaterPiece] = ()) -> Reckoning:
    """Lay what happened against what was locked.

    Parameters
    ----------
    promises : sequence of Promise
        One for each course with a first dose.
    later : iterable of LaterPiece
        Practice pieces in the suggested position on nights after the lock.

    Returns
    -------
    Reckoning
        Counts, and from :data:`FEWEST` doses that staff saw on, the calibration.
    """
    seen = [each for each in promises if each.counts]
    told = [
        each for each in promises if each.dose.seen_by is SeenBy.HOME and each.chance is not None
    ]
    pieces = [each for each in later if each.row.went_down and _chance_later(each) is not None]
    chances, outcomes = _arrays(seen)
    return Reckoning(
        n_promises=len(promises),
        n_unplaced=sum(each.chance is None for each in promises),
        n_suggested=sum(
            each.dose.position is not None and each.dose.position is each.lock.suggested
            for each in promises
        ),
        seen=_tally(chances, outcomes),
        told=_tally(*_arrays(told)),
        later=_tally(
            np.array([_chance_later(each) for each in pieces], dtype=float),
            np.array([each.row.went_down is WentDown.FIRST for each in pieces], dtype=bool),
        ),
        n_later_trainees=len({each.lock.trainee for each in pieces}),
        chances=tuple(sorted(float(each) for each in chances)),
        calibration=_calibrate(chances, outcomes) if len(seen) >= FEWEST else None,
    )


def _chance_later(piece: LaterPiece) -> float | None:
    figures = piece.lock.of(piece.lock.suggested)
    return None if figures is None else figures.p_first_try


def _arrays(promises: Sequence[Promise]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    return (
        np.array([each.chance for each in promises], dtype=float),
        np.array([each.dose.went_first_try for each in promises], dtype=bool),
    )


def _tally(chances: NDArray[np.float64], outcomes: NDArray[np.bool_]) -> Tally:
    expected, lower, upper = total_interval(chances)
    return Tally(int(outcomes.size), int(outcomes.sum()), expected, lower, upper)


def _calibrate(chances: NDArray[np.float64], outcomes: NDArray[np.bool_]) -> Calibration:
    n_groups = max(1, min(MOST_GROUPS, chances.size // A_GROUP))
    n_first = int(outcomes.sum())
    enough = min(n_first, chances.size - n_first) >= FEWEST_OF_EACH
    return Calibration(
        table=tabulate_calibration(chances, outcomes, n_groups=n_groups),
        brier=split_brier(chances, outcomes, groups=group_chances(chances, n_groups=n_groups)),
        test=check_calibration(chances, outcomes),
        line=recalibrate(chances, outcomes) if enough else None,
    )
