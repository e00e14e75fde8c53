"""The estimate: CPU seconds for scoring many trainees, and the time for one.

Run from the repository's root::

    python benchmarks/speed/estimate.py

Prints a table and stores it in ``benchmarks/results/speed_estimate.csv``. Nothing is compiled at
first use: the first answer of a fresh process is timed too.
"""

import argparse
import csv
import time
from pathlib import Path

import numpy as np

from sidelong import __version__
from sidelong.designs import draw_orders
from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    estimate_earlier,
    estimate_preferences,
    simulate_courses,
    trace_nights,
)

RESULTS = Path(__file__).parents[1] / "results" / "speed_estimate.csv"


def simulate(n: int, *, rng: np.random.Generator) -> Courses:
    """Draw n trainees with 14 nights of five positions, as families keep them."""
    orders = np.array([draw_orders(n_positions=5, n_nights=14, rng=rng) for _ in range(n)])
    return simulate_courses(
        orders, hyperparameters=DEFAULT, rng=rng, conduct=Conduct(missing_night=0.0)
    ).courses


def cpu_seconds(courses: Courses) -> float:
    """Score once."""
    start = time.process_time()
    estimate_preferences(courses)
    return time.process_time() - start


def median_ms(work: object, *, repeats: int = 21) -> float:
    """Time a call, in milliseconds of wall clock."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()  # type: ignore[operator]
        times.append(time.perf_counter() - start)
    return 1e3 * float(np.median(times))


def main() -> None:
    """Time and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=10_000, help="largest cohort that is scored")
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    one = simulate(1, rng=rng)
    rows = [
        (
            "first answer of the process, one trainee",
            "ms",
            median_ms(lambda: estimate_preferences(one), repeats=1),
        ),
        ("one trainee, median", "ms", median_ms(lambda: estimate_preferences(one))),
        (
            "one trainee, after each of 14 nights",
            "ms",
            median_ms(lambda: estimate_earlier(one, range(1, 15))),
        ),
        ("one trainee, all nights looking back", "ms", median_ms(lambda: trace_nights(one))),
    ]
    for n in (1_000, 10_000, 100_000):
        if n <= options.most:
            rows.append((f"{n} trainees scored", "CPU s", cpu_seconds(simulate(n, rng=rng))))
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("what", "unit", "value", "seed", "version"))
        for what, unit, value in rows:
            print(f"{what:45s}{value:10.2f} {unit}")
            writer.writerow((what, unit, f"{value:.3f}", options.seed, __version__))


if __name__ == "__main__":
    main()
