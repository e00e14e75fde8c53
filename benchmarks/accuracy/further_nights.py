"""Whether looking ahead to more nights expects what then happens, and whether shares are true.

Run from the repository's root::

    python benchmarks/accuracy/further_nights.py

Trainees are drawn who practise a plan and seven nights more. After the plan it is said what seven
more nights would be expected to change; then they are practised. With hyperparameters as drawn,
and under the mixture that cohorts of 40 leave possible after their plans, whose looking ahead takes
several points for one normal. Rows go to ``benchmarks/results/accuracy_further_nights.csv``, one
for each verdict after which more nights are a question: how often another position came out ahead,
and how high the highest chance then was, expected and found. Simulated figures are no clinical
accuracy.
"""

import argparse
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scoring import store

from sidelong import __version__
from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    HyperparameterMixture,
    Hyperparameters,
    average_night,
    estimate_preferences,
    expect_of_more_nights,
    fit_cohort,
    give_verdicts,
    simulate_courses,
)

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_further_nights.csv"
MORE = 7
GOAL = 0.05
"""How far an expectation may be off on average: well within the tenths that are shown."""

COHORT = 40
FEWEST = 30
Shared = Hyperparameters | HyperparameterMixture


def practise(n: int, planned: int, *, rng: np.random.Generator) -> tuple[Courses, Courses]:
    """Draw courses of a plan and seven nights more; gives them after the plan, and whole."""
    orders = np.argsort(rng.random((n, planned + MORE, 5)), axis=2)
    conduct = Conduct(missing_night=0.0)  # looked ahead to are nights that are practised
    whole = simulate_courses(orders, hyperparameters=DEFAULT, rng=rng, conduct=conduct).courses
    return replace(whole.until(planned), planned=np.full(n, planned)), whole


def look(first: Courses, whole: Courses, shared: Shared) -> dict[str, Any]:
    """Say what more nights are expected to change, and what they changed."""
    now = estimate_preferences(first, hyperparameters=shared)
    then = estimate_preferences(whole, hyperparameters=shared)
    telling = average_night(first, hyperparameters=shared)
    ahead = expect_of_more_nights(now, telling=telling, nights=MORE, hyperparameters=shared)
    return {
        "word": np.array([each.word for each in give_verdicts(now)]),
        "another": ahead.another,
        "highest_now": ahead.highest_now,
        "highest_then": ahead.highest_then,
        "another_found": now.p_best.argmax(axis=1) != then.p_best.argmax(axis=1),
        "highest_found": then.p_best.max(axis=1),
    }


def looks(planned: int, kind: str, *, n: int, rng: np.random.Generator) -> Iterator[dict[str, Any]]:
    """Look ahead for all trainees together, or for one fitted cohort after the other."""
    if kind == "as drawn":
        yield look(*practise(n, planned, rng=rng), DEFAULT)
        return
    for _ in range(n // COHORT):
        first, whole = practise(COHORT, planned, rng=rng)
        yield look(first, whole, fit_cohort(first).mixture)


def rows(n: int, *, seed: int) -> Iterator[dict[str, Any]]:
    """Compare expectation and outcome, verdict by verdict."""
    rng = np.random.default_rng(seed)
    for planned in (7, 14):
        for kind in ("as drawn", f"fitted, cohorts of {COHORT}"):
            found = list(looks(planned, kind, n=n, rng=rng))
            every = {name: np.concatenate([each[name] for each in found]) for name in found[0]}
            for word in ("insufficient", "too close", "likely"):
                some = (every["word"] == word) & ~np.isnan(every["another"])
                if some.sum() >= FEWEST:
                    yield _row(planned, kind, word, {k: v[some] for k, v in every.items()}) | {
                        "seed": seed,
                        "version": __version__,
                    }


def _row(planned: int, kind: str, word: str, found: dict[str, Any]) -> dict[str, Any]:
    mean = {name: float(np.mean(found[name])) for name in found if name != "word"}
    off = max(
        abs(mean["another"] - mean["another_found"]),
        abs(mean["highest_then"] - mean["highest_found"]),
    )
    return {
        "nights": planned,
        "hyperparameters": kind,
        "verdict": word,
        "trainees": int(found["word"].size),
        **mean,
        "largest_off": off,
        "goal": GOAL,
        "met": "yes" if off <= GOAL else "no",
    }


def main() -> None:
    """Compare, print and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=1200)
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    found = []
    for row in rows(options.trainees, seed=options.seed):
        found.append(row)
        print(
            f"{row['nights']:3d} nights, {row['hyperparameters']:22s} {row['verdict']:13s}"
            f"{row['trainees']:5d}  another {row['another']:.3f} ({row['another_found']:.3f})  "
            f"highest {row['highest_now']:.3f} -> {row['highest_then']:.3f} "
            f"({row['highest_found']:.3f})  {row['met']}"
        )
    store(found, RESULTS)


if __name__ == "__main__":
    main()
