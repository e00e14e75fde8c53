"""An invented course and the estimate of it, for the tests of the report."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp

import numpy as np
import pytest

from sidelong.training.entry import Entry, EntryRow, WentDown, WhyNot, Written
from sidelong.training.estimate import (
    EarlierAnswer,
    Estimate,
    NightEstimate,
    PositionEstimate,
    Verdict,
)
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position


@dataclass(frozen=True)
class InventedCourse:
    """What a report is composed from."""

    estimate: Estimate
    entries: tuple[Entry, ...]
    plan: Plan


def _estimates(
    levels: dict[Position, float], closed: frozenset[Position]
) -> tuple[PositionEstimate, ...]:
    weights = {position: exp(3 * level) for position, level in levels.items()}
    return tuple(
        PositionEstimate(
            position=position,
            p_best=weights[position] / sum(weights.values()),
            p_first_try=min(0.9876, 0.15 * level + 0.2),
            expected_rating=level,
            sd=0.2719,
            lower=max(1.0, level - 0.4472),
            upper=min(5.0, level + 0.4472),
            may_recommend=position not in closed,
        )
        for position, level in levels.items()
    )


def _entries(trainee: str, nights: tuple[Night, ...], rng: np.random.Generator) -> list[Entry]:
    entries = []
    for number, night in enumerate(nights, start=1):
        rows = []
        for slot, position in enumerate(night.order, start=1):
            went_down = (WentDown.FIRST, WentDown.LATER, WentDown.NO)[
                int(rng.choice(3, p=[0.7, 0.2, 0.1]))
            ]
            rows.append(
                EntryRow(
                    slot,
                    position,
                    night.piece_mm,
                    int(rng.integers(1, 6)),
                    went_down,
                    WhyNot.SPAT_OUT if went_down is WentDown.NO else None,
                )
            )
        favourite = rows[int(rng.integers(len(rows)))].position
        written = Written.SAME_EVENING if number % 3 else Written.NEXT_DAY
        entries.append(Entry(trainee, number, tuple(rows), felt_best=favourite, written=written))
    return entries


def _invent_course(
    verdict: Verdict = Verdict.LIKELY,
    *,
    positions: tuple[Position, ...] = tuple(Position),
    suggested: Position | None = None,
    closed: frozenset[Position] = frozenset(),
    n_nights: int = 14,
    skipped: frozenset[int] = frozenset({4, 9}),
    trainee: str = "HL-0007",
    seed: int = 3,
) -> InventedCourse:
    rng = np.random.default_rng(seed)
    levels = {position: float(rng.uniform(2, 4.3)) for position in positions}
    if suggested is not None and suggested in levels:
        levels[suggested] = 4.4271
    orders = [tuple(positions[i] for i in rng.permutation(len(positions))) for _ in range(n_nights)]
    nights = tuple(Night(order, 5.0) for order in orders)
    entries = tuple(e for e in _entries(trainee, nights, rng) if e.night not in skipped)
    estimates = _estimates(levels, closed)
    traces = tuple(
        NightEstimate(night, position, level - 1 + night / n_nights, 1.0, 5.0)
        for night in range(1, n_nights + 1)
        for position, level in levels.items()
    )
    even = tuple(1 / len(positions) for _ in positions)
    words = (Verdict.INSUFFICIENT, Verdict.TOO_CLOSE, Verdict.TOO_CLOSE)
    earlier = tuple(
        EarlierAnswer(night, even, word)
        for night, word in zip((3, 7, 10), words, strict=True)
        if night < n_nights
    )
    estimate = Estimate(
        trainee, estimates, len(entries), n_nights, verdict, suggested, traces, earlier
    )
    return InventedCourse(estimate, entries, Plan(trainee, nights, protocol_version="invented-1"))


@pytest.fixture(scope="session")
def invent_course() -> Callable[..., InventedCourse]:
    """Invent a course: verdict, positions, nights and skipped nights as the test wants them."""
    return _invent_course


@pytest.fixture(scope="session")
def without_nights() -> Callable[[InventedCourse], InventedCourse]:
    """Take all entries out of an invented course: nothing was written down."""

    def empty(course: InventedCourse) -> InventedCourse:
        estimate = replace(course.estimate, nights_used=0, earlier=())
        return InventedCourse(estimate, (), course.plan)

    return empty
