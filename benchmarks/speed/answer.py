"""What one result page needs of the estimate: CPU milliseconds, part by part.

Run from the repository's root::

    python benchmarks/speed/answer.py

One trainee with 14 nights of five positions, under one point of the hyperparameters and under all
points that a cohort of 40 leaves possible. Nothing is kept from call to call. The median of many
calls is shown, beside the smallest: on a shared machine the median holds what others do. Prints a
table with the goal and stores it in ``benchmarks/results/speed_answer.csv``.
"""

import argparse
import csv
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from sidelong import __version__
from sidelong.designs import draw_orders
from sidelong.pathway.estimates import LOOKING_BACK
from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    HyperparameterMixture,
    Hyperparameters,
    chance_better,
    estimate_earlier,
    estimate_preferences,
    expect_of_more_nights,
    fit_cohort,
    give_verdicts,
    share_of_own_nights,
    simulate_courses,
    trace_nights,
    view_courses,
)

RESULTS = Path(__file__).parents[1] / "results" / "speed_answer.csv"
GOAL_MS = 20.0
PAGE = "whole page: answer, verdict, charts, earlier answers"
Shared = Hyperparameters | HyperparameterMixture


def simulate(n: int, *, rng: np.random.Generator) -> Courses:
    """Draw n trainees with 14 nights of five positions."""
    orders = np.array([draw_orders(n_positions=5, n_nights=14, rng=rng) for _ in range(n)])
    conduct = Conduct(missing_night=0.0)
    return simulate_courses(orders, hyperparameters=DEFAULT, rng=rng, conduct=conduct).courses


def cpu_ms(work: Callable[[], object], *, repeats: int) -> tuple[float, float]:
    """Time a call: median and smallest CPU milliseconds."""
    work()
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(1e3 * (time.process_time() - start))
    return float(np.median(times)), float(np.min(times))


def parts(one: Courses, shared: Shared) -> Iterator[tuple[str, Callable[[], object]]]:
    """Name what a page is made of, and what it may be asked for beside."""
    answers = estimate_preferences(one, hyperparameters=shared)

    def page() -> object:
        view = view_courses(one, LOOKING_BACK, hyperparameters=shared)
        return [give_verdicts(each) for each in (view.answers, *view.earlier)]

    yield PAGE, page
    yield "answer alone", lambda: estimate_preferences(one, hyperparameters=shared)
    yield "verdict alone", lambda: give_verdicts(answers)
    yield "all nights looking back, alone", lambda: trace_nights(one, hyperparameters=shared)
    nights = range(1, 14)
    yield (
        "whole page with an earlier answer after each of 13 nights",
        lambda: view_courses(one, nights, hyperparameters=shared),
    )
    yield (
        "the same earlier answers, alone and under every point",
        lambda: estimate_earlier(one, nights, hyperparameters=shared),
    )
    yield (
        "asked for: share of own nights",
        lambda: share_of_own_nights(one, answers, hyperparameters=shared),
    )
    yield "asked for: better than centre", lambda: chance_better(answers)
    telling = view_courses(one, LOOKING_BACK, hyperparameters=shared).telling
    yield (
        "where it is open: what 7 more nights would change",
        lambda: expect_of_more_nights(answers, telling=telling, hyperparameters=shared),
    )


def main() -> None:
    """Time and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=31)
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    cohort = simulate(40, rng=rng)
    one = cohort.take(slice(0, 1))
    rows = []
    for shared in (DEFAULT, fit_cohort(cohort).mixture):
        n_points = len(shared.points) if isinstance(shared, HyperparameterMixture) else 1
        for what, work in parts(one, shared):
            median, least = cpu_ms(work, repeats=options.repeats)
            goal = f"{GOAL_MS:g}" if what == PAGE else ""
            rows.append((what, n_points, f"{median:.2f}", f"{least:.2f}", goal))
            print(f"{what:60s}{n_points:4d} points{median:9.2f}{least:9.2f} ms  {goal}")
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("what", "points", "median_ms", "least_ms", "goal_ms", "seed", "version"))
        writer.writerows([(*row, options.seed, __version__) for row in rows])


if __name__ == "__main__":
    main()
