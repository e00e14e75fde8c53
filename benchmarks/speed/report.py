"""How long one report takes: the first in a process, and later ones with the warm compiler.

Run: python benchmarks/speed/report.py [--seed 7] [--reports 20]. Estimates are invented figures of
the right shape; the report does not depend on their values. Writes results/speed_report.csv.
"""

import argparse
import csv
import platform
import time
from datetime import date
from importlib.metadata import version
from pathlib import Path
from statistics import median

import numpy as np

from sidelong.paper.language import read_language
from sidelong.paper.report import set_report
from sidelong.pathway.reports import compose_report
from sidelong.training.entry import Entry, EntryRow, WentDown
from sidelong.training.estimate import (
    EarlierAnswer,
    Estimate,
    NightEstimate,
    PositionEstimate,
    Verdict,
)
from sidelong.training.position import Position

RESULTS = Path(__file__).parents[1] / "results" / "speed_report.csv"
NIGHTS = 14


def invent(number: int, rng: np.random.Generator) -> tuple[Estimate, tuple[Entry, ...]]:
    """Invent one trainee with five positions over fourteen nights."""
    code = f"T-{number:04d}"
    level = rng.uniform(2.0, 4.4, size=5)
    weight = np.exp(3 * level)
    positions = tuple(
        PositionEstimate(
            position, float(share), 0.8, float(easy), 0.3, float(easy) - 0.5, float(easy) + 0.5
        )
        for position, share, easy in zip(Position, weight / weight.sum(), level, strict=True)
    )
    nights = tuple(
        NightEstimate(night, position, float(easy), float(easy) - 0.5, float(easy) + 0.5)
        for night in range(1, NIGHTS + 1)
        for position, easy in zip(Position, level, strict=True)
    )
    entries = tuple(
        Entry(
            code,
            night,
            tuple(
                EntryRow(slot, position, 5.0, int(rng.integers(1, 6)), WentDown.FIRST)
                for slot, position in enumerate(Position, start=1)
            ),
        )
        for night in range(1, NIGHTS + 1)
    )
    earlier = tuple(EarlierAnswer(night, (0.2,) * 5, Verdict.TOO_CLOSE) for night in (3, 7, 10))
    estimate = Estimate(
        code, positions, NIGHTS, NIGHTS, Verdict.TOO_CLOSE, nights=nights, earlier=earlier
    )
    return estimate, entries


def main() -> None:
    """Time the reports, print the figures and keep them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seed", type=int, default=7)
    options.add_argument("--reports", type=int, default=20)
    chosen = options.parse_args()
    rng = np.random.default_rng(chosen.seed)
    language = read_language("en")
    seconds = []
    for number in range(chosen.reports):
        estimate, entries = invent(number, rng)
        start = time.perf_counter()
        report = compose_report(
            estimate, entries, language=language, today=date(2026, 1, 1), program="benchmark"
        )
        set_report(report, language=language)
        seconds.append(time.perf_counter() - start)
    rows = {
        "first_s": seconds[0],
        "later_median_s": median(seconds[1:]),
        "later_max_s": max(seconds[1:]),
    }
    RESULTS.parent.mkdir(exist_ok=True)
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["figure", "value", "seed", "reports", "version", "typst", "python"])
        for figure, value in rows.items():
            print(f"{figure:16} {value:.3f}")
            writer.writerow(
                [
                    figure,
                    f"{value:.3f}",
                    chosen.seed,
                    chosen.reports,
                    version("sidelong"),
                    version("typst"),
                    platform.python_version(),
                ]
            )


if __name__ == "__main__":
    main()
