"""Signs that nights were written down at another time than they claim: to be asked about, kindly.

A sign is a reason for a question at the follow-up visit and never a verdict on a family: every one
of them also has an innocent cause. Signs are for the staff who hold that visit. They are in no
letter, in no report that leaves the clinic, and in no figure that compares coaches; nights with a
sign count in the estimate like any other, and :func:`compare_without` says what hangs on them.

Why they are looked for: in an instrumented paper diary adults claimed 90 % of the entries on time
and had made 11 % [1]_. What is looked for, and how rarely honest nights look like it, stands in
``docs/method/back-fill.md``.

References
----------
.. [1] Stone, A. A. et al. (2003). Control Clin Trials 24:182-199 (read as an abstract).
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from sidelong.pathway.estimates import PractisedCourse
from sidelong.pathway.report_nights import answered_nights
from sidelong.training.entry import Entry, EntryRow, WentDown, WhyNot, Written
from sidelong.training.estimate import Estimate
from sidelong.training.position import Position

_N_RATINGS = 5
_MOST_TRIES = 2  # a second try with a fresh piece, then the next position


class BackfillSign(StrEnum):
    """What was noticed."""

    WRITTEN_LATER = "written_later"
    ONE_SITTING = "one_sitting"
    REPEATED = "repeated"
    BY_PLACE = "by_place"
    PIECES = "pieces"


@dataclass(frozen=True)
class BackfillRules:
    """From where on something is noticed; a site may change them.

    Parameters
    ----------
    sitting : timedelta
        Nights written within so short a time belong to one sitting.
    sitting_nights : int
        So many nights in one sitting are a sign, at least 2.
    repeated_nights : int
        So many nights in a row with every answer the same are a sign, at least 2.
    chance : float
        A pattern by place is a sign where chance alone gives it this rarely, in (0, 1).
    spare_pieces : int
        Pieces may be lost or dropped: a difference up to this is no sign.
    """

    sitting: timedelta = timedelta(minutes=15)
    sitting_nights: int = 3
    repeated_nights: int = 5
    chance: float = 0.001
    spare_pieces: int = 3

    def __post_init__(self) -> None:
        """Refuse rules that every family would break."""
        if min(self.sitting_nights, self.repeated_nights) < 2:
            raise ValueError("a single night is no sign")
        if not 0 < self.chance < 1:
            raise ValueError(f"a chance of {self.chance} is not between 0 and 1")
        if self.spare_pieces < 0 or self.sitting < timedelta(0):
            raise ValueError("spare pieces and the time of a sitting cannot be negative")


USUAL_RULES = BackfillRules()


@dataclass(frozen=True)
class PieceCount:
    """Pieces that a family was given for a course, and those that came back."""

    given: int
    returned: int

    def __post_init__(self) -> None:
        """Refuse counts that cannot be."""
        if not 0 <= self.returned <= self.given:
            raise ValueError(f"{self.returned} of {self.given} pieces cannot have come back")


@dataclass(frozen=True)
class BackfillFinding:
    """One sign and the nights that it concerns.

    Parameters
    ----------
    sign : BackfillSign
        What was noticed.
    nights : tuple of int
        Sheet numbers, ascending; all answered nights where it concerns the course.
    """

    sign: BackfillSign
    nights: tuple[int, ...]


@dataclass(frozen=True)
class Sensitivity:
    """What hangs on the nights with a sign.

    Parameters
    ----------
    with_all : Estimate
        From every night, which is the estimate that counts.
    without : Estimate
        As if the nights with a sign had not been written.
    nights : tuple of int
        The nights left out.
    """

    with_all: Estimate
    without: Estimate
    nights: tuple[int, ...]

    @property
    def changes_answer(self) -> bool:
        """Whether verdict or suggested position would be another one."""
        return (self.with_all.verdict, self.with_all.suggested) != (
            self.without.verdict,
            self.without.suggested,
        )


def chance_for(trainee: str, course: int) -> np.random.Generator:
    """Give a course its own source of chance, so that it is told the same whenever one looks.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    course : int
        Number of the course.

    Returns
    -------
    numpy.random.Generator
        At its beginning.
    """
    return np.random.default_rng([course, *trainee.encode("utf-8")])


def find_backfill(
    entries: Sequence[Entry],
    *,
    rng: np.random.Generator,
    pieces: PieceCount | None = None,
    rules: BackfillRules = USUAL_RULES,
) -> tuple[BackfillFinding, ...]:
    """Look through one course for signs of nights written at another time than they claim.

    Parameters
    ----------
    entries : sequence of Entry
        One course of one trainee, in any order.
    rng : numpy.random.Generator
        Source of chance for the comparison of places.
    pieces : PieceCount, optional
        Counted at the follow-up visit; without it pieces are not compared.
    rules : BackfillRules
        From where on something is noticed.

    Returns
    -------
    tuple of BackfillFinding
        At most one for each sign, in the order of :class:`BackfillSign`; empty where there is none.
    """
    answered = sorted(answered_nights(entries).values(), key=lambda entry: entry.night)
    found = {
        BackfillSign.WRITTEN_LATER: [e.night for e in answered if e.written is Written.LATER],
        BackfillSign.ONE_SITTING: _in_one_sitting(answered, rules),
        BackfillSign.REPEATED: _repeated(answered, rules),
        BackfillSign.BY_PLACE: _by_place(answered, rules, rng),
        BackfillSign.PIECES: _pieces_differ(answered, pieces, rules),
    }
    return tuple(BackfillFinding(sign, tuple(sorted(n))) for sign, n in found.items() if n)


def compare_without(
    course: PractisedCourse,
    findings: Iterable[BackfillFinding],
    *,
    estimate: Callable[[PractisedCourse], Estimate],
) -> Sensitivity | None:
    """Say what the estimate would be without the nights that have a sign.

    Parameters
    ----------
    course : PractisedCourse
        All nights.
    findings : iterable of BackfillFinding
        What was noticed.
    estimate : callable
        Answers for one course.

    Returns
    -------
    Sensitivity or None
        None where no night has a sign.
    """
    nights = tuple(sorted({night for finding in findings for night in finding.nights}))
    if not nights:
        return None
    kept = tuple(entry for entry in course.entries if entry.night not in nights)
    return Sensitivity(estimate(course), estimate(replace(course, entries=kept)), nights)


def _in_one_sitting(entries: Sequence[Entry], rules: BackfillRules) -> list[int]:
    """Find nights whose times of writing lie close together."""
    timed = sorted((e.written_at, e.night) for e in entries if e.written_at is not None)
    sittings: list[list[int]] = []
    before = None
    for when, night in timed:
        if before is not None and when - before <= rules.sitting:
            sittings[-1].append(night)
        else:
            sittings.append([night])
        before = when
    return [n for sitting in sittings if len(sitting) >= rules.sitting_nights for n in sitting]


def _repeated(entries: Sequence[Entry], rules: BackfillRules) -> list[int]:
    """Find runs of nights in which no answer differs, position by position."""
    # Not where all positions have one answer: many honest courses end so, and nothing is repeated.
    runs: list[tuple[dict[Position, int], list[int]]] = [({}, [])]
    for entry in entries:
        told = {row.position: row.rating for row in entry.rows if row.rating is not None}
        known, nights = runs[-1]
        if all(known.get(position, rating) == rating for position, rating in told.items()):
            known |= told
            nights.append(entry.night)
        else:
            runs.append((told, [entry.night]))
    return [
        night
        for known, nights in runs
        if len(nights) >= rules.repeated_nights and len(set(known.values())) > 1
        for night in nights
    ]


def _by_place(
    entries: Sequence[Entry], rules: BackfillRules, rng: np.random.Generator
) -> list[int]:
    """Notice answers that follow the printed place although positions change places every night."""
    full = [e for e in entries if len(e.rows) >= 3 and all(r.rating is not None for r in e.rows)]
    signs = _ratings_follow_place(full, rules, rng) or _favourite_keeps_place(entries, rules)
    return [entry.night for entry in full] if signs else []


def _ratings_follow_place(
    entries: Sequence[Entry], rules: BackfillRules, rng: np.random.Generator
) -> bool:
    """Test by permuting answers within each night whether places agree more than chance."""
    most = max((len(entry.rows) for entry in entries), default=0)
    same_length = [entry for entry in entries if len(entry.rows) == most]
    if len(same_length) < 3:
        return False
    ratings = np.array([[row.rating for row in entry.rows] for entry in same_length])
    n_draws = int(np.ceil(2 / rules.chance))
    drawn = rng.permuted(np.broadcast_to(ratings, (n_draws, *ratings.shape)), axis=2)
    seen = _agreement(ratings[np.newaxis])[0]
    as_much = int((_agreement(drawn) >= seen).sum())
    return (as_much + 1) / (n_draws + 1) <= rules.chance


def _agreement(ratings: NDArray[np.int_]) -> NDArray[np.int_]:
    """Count pairs of nights that agree at a place; ratings (draws, nights, places)."""
    total = np.zeros(len(ratings), dtype=np.int_)
    for rating in range(1, _N_RATINGS + 1):
        nights = (ratings == rating).sum(axis=1)
        total += (nights * (nights - 1) // 2).sum(axis=1)
    return total


def _favourite_keeps_place(entries: Sequence[Entry], rules: BackfillRules) -> bool:
    """Notice a favourite that stands at the same place far too often."""
    places = [
        (row.slot, len(entry.rows))
        for entry in entries
        if len(entry.rows) > 1
        for row in entry.rows
        if row.position is entry.felt_best
    ]
    if not places:
        return False
    slots = [slot for slot, _ in places]
    n_places = min(n for _, n in places)
    most = max(slots.count(slot) for slot in set(slots))
    return bool(n_places * binom.sf(most - 1, len(slots), 1 / n_places) <= rules.chance)


def _pieces_differ(
    entries: Sequence[Entry], pieces: PieceCount | None, rules: BackfillRules
) -> list[int]:
    """Compare pieces that did not come back with those that the answers would have used."""
    if pieces is None:
        return []
    gone = pieces.given - pieces.returned
    used = [_pieces_used(row) for entry in entries for row in entry.rows]
    fewest = sum(low for low, _ in used) - rules.spare_pieces
    most = sum(high for _, high in used) + rules.spare_pieces
    return [] if fewest <= gone <= most else [entry.night for entry in entries]


def _pieces_used(row: EntryRow) -> tuple[int, int]:
    """Give the fewest and the most pieces that one answer stands for."""
    if row.why_not is WhyNot.NOT_TRIED:
        return (0, 0)
    if row.went_down is WentDown.FIRST:
        return (1, 1)
    if row.went_down is WentDown.LATER:
        return (_MOST_TRIES, _MOST_TRIES)
    return (1, _MOST_TRIES) if row.went_down is WentDown.NO else (0, _MOST_TRIES)
