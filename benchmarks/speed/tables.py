"""Tables: CPU seconds for writing and reading plans and entries of many trainees.

Run from the repository's root::

    python benchmarks/speed/tables.py

Prints a table and stores it in ``benchmarks/results/speed_tables.csv``.
"""

import argparse
import csv
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np

from sidelong import __version__
from sidelong.exchange import read_entries, read_plans, write_entries, write_plans
from sidelong.training.entry import Entry, EntryRow, WentDown
from sidelong.training.plan import Night, Plan
from sidelong.training.position import ALL_POSITIONS

RESULTS = Path(__file__).parents[1] / "results" / "speed_tables.csv"
NIGHTS = 14


def draw_plan(number: int, rng: np.random.Generator) -> Plan:
    """Draw a plan with orders at random; its balance does not matter here."""
    orders = (rng.permutation(len(ALL_POSITIONS)) for _ in range(NIGHTS))
    nights = tuple(Night(tuple(ALL_POSITIONS[k] for k in order), 5.0) for order in orders)
    return Plan(f"T-{number:05d}", nights, site="harbour", band="younger")


def draw_entries(plan: Plan, rng: np.random.Generator) -> list[Entry]:
    """Draw what a family that misses nothing would write."""
    return [
        Entry(
            plan.trainee,
            number,
            tuple(
                EntryRow(slot, position, 5.0, int(rng.integers(1, 6)), WentDown.FIRST)
                for slot, position in enumerate(night.order, start=1)
            ),
            felt_best=night.order[0],
        )
        for number, night in enumerate(plan.nights, start=1)
    ]


def cpu_seconds(work: Callable[[], object]) -> float:
    """Time one call on the processor's clock."""
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    """Time and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=240)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    plans = [draw_plan(number, rng) for number in range(given.trainees)]
    entries = [entry for plan in plans for entry in draw_entries(plan, rng)]
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for ending in ("csv", "parquet"):
            first, second = Path(folder, f"p.{ending}"), Path(folder, f"e.{ending}")
            for what, work in (
                ("write plans", partial(write_plans, first, plans)),
                ("read plans", partial(read_plans, first)),
                ("write entries", partial(write_entries, second, entries)),
                ("read entries beside plans", partial(read_entries, second, plans=plans)),
            ):
                seconds = cpu_seconds(work)
                rows.append([what, ending, given.trainees * NIGHTS * 5, f"{seconds:.2f}"])
                print(f"{what:28} {ending:8} {rows[-1][2]:>8} rows {seconds:7.2f} s")
    with RESULTS.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(["what", "kind", "rows", "cpu_seconds", "seed", "version"])
        writer.writerows([*row, given.seed, __version__] for row in rows)


if __name__ == "__main__":
    main()
