"""Fitting a cohort and scoring everybody in it: CPU seconds and peak memory.

Run from the repository's root::

    python benchmarks/speed/fit.py

Each size runs in a process of its own that imports, fits and scores once, so nothing is warm and
a wait for compiling would be seen. Drawing the trainees is not counted in the seconds; the peak
memory is that of the whole process. Prints a table with the goals and stores it in
``benchmarks/results/speed_fit.csv``.
"""

import argparse
import csv
import json
import resource
import subprocess
import sys
import time
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

RESULTS = Path(__file__).parents[1] / "results" / "speed_fit.csv"
GOALS = {1_000: 3.0, 10_000: 20.0, 100_000: 60.0}
"""CPU seconds to fit and score; of the largest cohort for scoring alone."""
GOAL_MB = 1_000
_AT_ONCE = 2_000


def draw(n: int, *, seed: int) -> Any:
    """Draw n trainees with 14 nights of five positions, some at a time to spare memory."""
    from sidelong.designs import draw_orders
    from sidelong.preferences import DEFAULT, Conduct, Courses, simulate_courses

    parts = []
    for start in range(0, n, _AT_ONCE):
        rng = np.random.default_rng([seed, start])
        some = min(_AT_ONCE, n - start)
        orders = np.array([draw_orders(n_positions=5, n_nights=14, rng=rng) for _ in range(some)])
        conduct = Conduct(missing_night=0.0)
        drawn = simulate_courses(orders, hyperparameters=DEFAULT, rng=rng, conduct=conduct)
        parts.append(drawn.courses)
    return Courses(
        **{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Courses)}
    )


def measure(n: int, *, seed: int) -> dict[str, Any]:
    """Fit and score once, in this process."""
    from sidelong import __version__
    from sidelong.preferences import estimate_preferences, fit_cohort

    courses = draw(n, seed=seed)
    times = [time.process_time()]
    fit = fit_cohort(courses)
    times.append(time.process_time())
    estimate_preferences(courses, hyperparameters=fit.mixture)
    times.append(time.process_time())
    # Kilobytes on Linux, bytes on macOS.
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return {
        "trainees": n,
        "ratings": int((courses.rating > 0).sum()),
        "points": len(fit.mixture.points),
        "fit_cpu_s": round(times[1] - times[0], 2),
        "score_cpu_s": round(times[2] - times[1], 2),
        "goal_cpu_s": GOALS.get(n, ""),
        "peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit),
        "goal_mb": GOAL_MB,
        "converged": fit.converged,
        "seed": seed,
        "version": __version__,
    }


def main() -> None:
    """Measure every size in its own process, print and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, nargs="+", default=[60, *GOALS])
    parser.add_argument("--seed", type=int, default=20240601)
    parser.add_argument("--alone", type=int, help="measure this size in this process")
    options = parser.parse_args()
    if options.alone:
        print(json.dumps(measure(options.alone, seed=options.seed)))
        return
    rows = []
    for n in options.trainees:
        command = [sys.executable, __file__, "--alone", str(n), "--seed", str(options.seed)]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        rows.append(json.loads(done.stdout))
        print(rows[-1], flush=True)
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
