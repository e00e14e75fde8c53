"""The estimate: how often it is right, how true its chances are, against simple rules.

Run from the repository's root::

    python benchmarks/accuracy/estimate.py

Simulates cohorts in which the truth is known, under assumptions that hold and assumptions that do
not, and answers with the shipped values whatever the truth is: what a clinic gets before it has
trainees enough for a fit of its own. One row per regime goes to
``benchmarks/results/accuracy_estimate.csv``. These figures say how the method does on simulated
trainees. They are no clinical accuracy and are never shown as such.
"""

import argparse
from pathlib import Path
from typing import Any

import numpy as np
from regimes import FURTHER, REGIMES, Regime, simulate_cohort
from scoring import (
    RULES,
    Tally,
    calibration_error,
    simple_rules,
    store,
    tally_answer,
    tally_choice,
    true_rating,
)

from sidelong import __version__
from sidelong.preferences import estimate_preferences, give_verdicts

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_estimate.csv"
EVERY = (*REGIMES, *FURTHER)
WORDS = ("clear", "likely", "too close", "all work", "insufficient")


def measure(regime: Regime, *, n: int, seed: int) -> dict[str, Any]:
    """Compare all answers on one regime."""
    rng = np.random.default_rng([seed, EVERY.index(regime)])
    drawn, truth, shift = simulate_cohort(regime, n=n, rng=rng)
    known, tally = true_rating(drawn, truth, shift=shift), Tally()
    found = estimate_preferences(drawn.courses)
    ideal = estimate_preferences(drawn.courses, hyperparameters=truth)
    for name, chosen in simple_rules(drawn.courses, rng=rng).items():
        tally_choice(tally, chosen, drawn=drawn, name=name)
    tally_answer(tally, found, drawn=drawn, known=known, name="estimate")
    tally_answer(tally, ideal, drawn=drawn, known=known, name="truth")
    row: dict[str, Any] = {"regime": regime.name, "model": "wrong" if regime.wrong else "right"}
    row["trainees"] = n
    names = (*RULES, "estimate", "truth")
    row |= {f"right_{name}": tally.mean(f"right_{name}") for name in names}
    row |= {f"regret_{name}": tally.mean(f"regret_{name}") for name in names}
    for name in ("estimate", "truth"):
        row[f"brier_{name}"] = tally.mean(f"brier_{name}")
        row[f"calibration_{name}"] = calibration_error(tally, name)
        row[f"coverage_{name}"] = tally.mean(f"covered_{name}")
    verdicts = give_verdicts(found)
    said = np.array([each.word for each in verdicts])
    row |= {f"said_{word.replace(' ', '_')}": float((said == word).mean()) for word in WORDS}
    named = np.array([-1 if each.best is None else each.best for each in verdicts])
    for word in ("clear", "likely"):
        right = (named == drawn.best)[said == word]
        row[f"right_when_{word}"] = float(right.mean()) if right.size else np.nan
    row["converged"] = float(found.converged.mean())
    return row | {"seed": seed, "version": __version__}


def show(row: dict[str, Any]) -> None:
    """Print one line per measure."""
    print(f"\n{row['regime']}")
    for name, value in row.items():
        if isinstance(value, float) and not np.isnan(value):
            print(f"  {name:28s}{value:8.3f}")


def main() -> None:
    """Run every regime."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    rows = []
    for regime in EVERY:
        rows.append(measure(regime, n=options.trainees, seed=options.seed))
        show(rows[-1])
    store(rows, RESULTS)


if __name__ == "__main__":
    main()
