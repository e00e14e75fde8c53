"""Signs of back-filling: how often honest nights show one, and how often invented nights do.

Run from the repository's root::

    python benchmarks/accuracy/backfill.py

Draws trainees who follow their plans, and trainees whose sheets somebody filled in at one go in a
simple way. Stores one row per kind of record and sign in ``benchmarks/results/backfill.csv``. The
ways of inventing a sheet are assumptions: nobody knows how families do it.
"""

import csv
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path

import numpy as np

from sidelong import __version__
from sidelong.pathway.backfill import BackfillSign, find_backfill
from sidelong.pathway.enrolling import simulate_enrolment
from sidelong.pathway.invention import draw_entries
from sidelong.pathway.planning import draw_plans
from sidelong.preferences import DEFAULT
from sidelong.training.entry import Entry, Scale, WentDown
from sidelong.training.position import Position

RESULTS = Path(__file__).parents[1] / "results" / "backfill.csv"
SEED = 20241125
N_TRAINEES = 2_000
PATTERNS = (BackfillSign.REPEATED, BackfillSign.BY_PLACE)
GOAL_FALSE = 0.01


def honest(seed: int, **truth: float) -> Iterator[list[Entry]]:
    """Draw trainees who write down what happened."""
    rng = np.random.default_rng(seed)
    enrolments = simulate_enrolment(
        N_TRAINEES, sites=("a",), bands=("older",), positions=tuple(Position), rng=rng
    )
    plans = draw_plans(enrolments, seed=str(seed), n_nights=14)
    entries = draw_entries(plans, scales={}, rng=rng, hyperparameters=replace(DEFAULT, **truth))
    for _, nights in groupby(entries, key=lambda entry: entry.trainee):
        yield list(nights)


def down_the_column(nights: Sequence[Entry], rng: np.random.Generator) -> list[Entry]:
    """Give each printed place one answer, with a slip now and then."""
    column = rng.integers(1, 6, size=5)
    told = np.where(
        rng.random((len(nights), 5)) < 0.15,
        rng.integers(1, 6, size=(len(nights), 5)),
        column,
    )
    return [
        _rated(entry, [int(told[n, row.slot - 1]) for row in entry.rows])
        for n, entry in enumerate(nights)
    ]


def same_every_night(nights: Sequence[Entry], rng: np.random.Generator) -> list[Entry]:
    """Repeat one answer per position on every night."""
    answer = dict(zip(Position, rng.integers(1, 6, size=5).tolist(), strict=True))
    return [_rated(entry, [answer[row.position] for row in entry.rows]) for entry in nights]


def first_is_favourite(nights: Sequence[Entry], rng: np.random.Generator) -> list[Entry]:
    """Tick the same place of "felt best" on every night but a few."""
    place = int(rng.integers(5))
    return [
        replace(entry, felt_best=entry.rows[min(place, len(entry.rows) - 1)].position)
        if rng.random() < 0.85
        else entry
        for entry in nights
    ]


def _rated(entry: Entry, ratings: Sequence[int]) -> Entry:
    rows = tuple(
        replace(row, rating=rating, went_down=WentDown.FIRST, why_not=None)
        for row, rating in zip(entry.rows, ratings, strict=True)
    )
    best = rows[int(np.argmax(ratings))].position
    return replace(entry, rows=rows, felt_best=best, scale=Scale.FIVE)


INVENTED: dict[str, Callable[[Sequence[Entry], np.random.Generator], list[Entry]]] = {
    "down the column": down_the_column,
    "same every night": same_every_night,
    "favourite by place": first_is_favourite,
}
HONEST: dict[str, dict[str, float]] = {
    "honest": {},
    "honest, strong differences": {"spread_sd": 1.4, "drift_sd": 0.0},
    "honest, no differences": {"spread_sd": 0.0, "drift_sd": 0.0},
    "honest, little noise": {"night_sd": 0.1, "spread_sd": 1.4, "drift_sd": 0.0},
}


def main() -> None:
    rows = []
    for kind, truth in HONEST.items():
        rows += tally(kind, honest(SEED, **truth), "at most")
    for kind, invent in INVENTED.items():
        rng = np.random.default_rng(SEED)
        rows += tally(kind, (invent(nights, rng) for nights in honest(SEED)), "")
    with RESULTS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def tally(kind: str, records: Iterator[list[Entry]], goal: str) -> list[dict[str, object]]:
    rng = np.random.default_rng(SEED)
    n, found = 0, Counter[BackfillSign]()
    for nights in records:
        n += 1
        found.update(finding.sign for finding in find_backfill(nights, rng=rng))
    rows: list[dict[str, object]] = []
    for sign in PATTERNS:
        share = found[sign] / n
        print(
            f"{kind:<28} {sign:<10} {share:.4f} of {n}"
            + (f"  goal {goal} {GOAL_FALSE}" * bool(goal))
        )
        rows.append(
            {"record": kind, "sign": str(sign), "share": f"{share:.4f}", "n": n,
             "goal_at_most": GOAL_FALSE if goal else "", "seed": SEED, "version": __version__}
        )  # fmt: skip
    return rows


if __name__ == "__main__":
    main()
