"""The fit: how near estimates from a fitted cohort come to estimates that know the truth.

Run from the repository's root::

    python benchmarks/accuracy/cohorts.py

Every regime is simulated, some where the model is right and some where it is wrong. 600 trainees
of each are fitted as cohorts of 10, of 60 and as one of 600, and answered three ways: with the
fit, with the hyperparameters they were drawn from, and by simple rules. One row per regime and
size goes to ``benchmarks/results/accuracy_cohorts.csv`` as soon as it is known, with paired
bootstrap intervals (trainees drawn with replacement) of the differences in Brier score and regret,
the goals, and in ``met`` what was missed. A row that the file already holds, from the same
version, seed and number of trainees, is not computed again. These figures say how the method does
on simulated trainees. They are no clinical accuracy and are never shown as such.
"""

import argparse
import csv
import time
from pathlib import Path
from typing import Any

import numpy as np
from regimes import REGIMES, Regime, Rng, simulate_cohort
from scoring import (
    RULES,
    Tally,
    calibration_error,
    paired_interval,
    simple_rules,
    store,
    tally_answer,
    tally_choice,
    true_rating,
)

from sidelong import __version__
from sidelong.preferences import estimate_preferences, fit_cohort, give_verdicts

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_cohorts.csv"
WORSE, CALIBRATION = 0.015, 0.03
"""Goals: most that Brier score and regret may be worse than with the truth, and calibration."""


def coverage_goal(regime: Regime, size: int) -> tuple[float, float]:
    """Give the range that the share of 90 % intervals holding the truth is to lie in."""
    if regime.wrong:
        return 0.85, 1.0
    return (0.86, 0.97) if size <= 60 else (0.87, 0.94)


def run_cohort(regime: Regime, tally: Tally, *, size: int, rng: Rng) -> float:
    """Draw, fit and answer one cohort; give the CPU seconds of the last two."""
    drawn, truth, shift = simulate_cohort(regime, n=size, rng=rng)
    known = true_rating(drawn, truth, shift=shift)
    start = time.process_time()
    fit = fit_cohort(drawn.courses)
    found = estimate_preferences(drawn.courses, hyperparameters=fit.mixture)
    seconds = time.process_time() - start
    ideal = estimate_preferences(drawn.courses, hyperparameters=truth)
    for name, chosen in simple_rules(drawn.courses, rng=rng).items():
        tally_choice(tally, chosen, drawn=drawn, name=name)
    tally_answer(tally, found, drawn=drawn, known=known, name="fit")
    tally_answer(tally, ideal, drawn=drawn, known=known, name="truth")
    # In expectation over the posterior under the truth this is what the Brier score loses.
    tally.add("brier_expected", ((found.p_best - ideal.p_best) ** 2).sum(axis=1))
    words = np.array([each.word for each in give_verdicts(found)])
    for word in ("clear", "likely"):
        tally.add(f"said_{word}", words == word)
    tally.add("converged", np.full(size, fit.converged))
    return seconds


def measure(regime: Regime, *, size: int, trainees: int, seed: int) -> dict[str, Any]:
    """Answer one regime in cohorts of one size."""
    rng = np.random.default_rng([seed, REGIMES.index(regime), size])
    tally = Tally()
    seconds = sum(
        run_cohort(regime, tally, size=size, rng=rng) for _ in range(max(1, trainees // size))
    )
    row: dict[str, Any] = {"regime": regime.name, "model": "wrong" if regime.wrong else "right"}
    row |= {"cohort": size, "trainees": tally.every("brier_fit").size}
    for kind in ("brier", "regret"):
        worse = tally.every(f"{kind}_fit") - tally.every(f"{kind}_truth")
        low, high = paired_interval(worse, rng=np.random.default_rng(seed))
        row |= {f"{kind}_{name}": tally.mean(f"{kind}_{name}") for name in ("fit", "truth")}
        row |= {f"{kind}_worse": float(worse.mean()), f"{kind}_low": low, f"{kind}_high": high}
        row[f"{kind}_goal"] = WORSE
    row["brier_worse_expected"] = tally.mean("brier_expected")
    for name in ("fit", "truth"):
        row[f"calibration_{name}"] = calibration_error(tally, name)
    row["calibration_goal"] = CALIBRATION
    for name in ("fit", "truth"):
        row[f"coverage_{name}"] = tally.mean(f"covered_{name}")
    row["coverage_from"], row["coverage_to"] = coverage_goal(regime, size)
    for name in ("fit", "truth", *RULES):
        row[f"right_{name}"] = tally.mean(f"right_{name}")
    row |= {f"regret_{name}": tally.mean(f"regret_{name}") for name in RULES}
    row |= {f"said_{word}": tally.mean(f"said_{word}") for word in ("clear", "likely")}
    row |= {"converged": tally.mean("converged"), "cpu_s": seconds}
    return row | {"met": judge(row), "seed": seed, "version": __version__}


def judge(row: dict[str, Any]) -> str:
    """Say ``yes``, or what was missed."""
    missed = [kind for kind in ("brier", "regret") if row[f"{kind}_worse"] > WORSE]
    if row["calibration_fit"] > CALIBRATION:
        missed.append("calibration")
    if not row["coverage_from"] <= row["coverage_fit"] <= row["coverage_to"]:
        missed.append("coverage")
    # Where nothing differs there is nothing to be ahead in.
    matters = max(row[f"regret_{name}"] for name in RULES) > 1e-9
    behind = (
        row["right_fit"] <= row[f"right_{name}"] or row["regret_fit"] >= row[f"regret_{name}"]
        for name in RULES
    )
    if matters and any(behind):
        missed.append("simple rules")
    return "yes" if not missed else "missed: " + ", ".join(missed)


def show(row: dict[str, Any]) -> None:
    """Print the goals' figures of one row."""
    print(
        f"{row['regime']:30s}{row['model']:6s}{row['cohort']:5d}"
        f"  brier {row['brier_fit']:.3f} {row['brier_worse']:+.4f}"
        f" [{row['brier_low']:+.3f} {row['brier_high']:+.3f}]"
        f" expected {row['brier_worse_expected']:.4f}"
        f"  regret {row['regret_fit']:.3f} {row['regret_worse']:+.4f}"
        f"  calib {row['calibration_fit']:.3f} ({row['calibration_truth']:.3f})"
        f"  cover {row['coverage_fit']:.3f} ({row['coverage_truth']:.3f})"
        f"  right {row['right_fit']:.2f} ({row['right_truth']:.2f}) rules"
        f" {row['right_last_night']:.2f} {row['right_most_frequent']:.2f}"
        f" {row['right_highest_mean']:.2f}"
        f"  clear {row['said_clear']:.2f} likely {row['said_likely']:.2f}"
        f"  {row['cpu_s']:.0f} s  {row['met']}",
        flush=True,
    )


def read_known(path: Path, *, trainees: int, seed: int) -> dict[tuple[str, int], dict[str, Any]]:
    """Read the rows that need not be computed again."""
    if not path.exists():
        return {}
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        (row["regime"], int(row["cohort"])): row
        for row in rows
        if row["version"] == __version__
        and int(row["seed"]) == seed
        and int(row["trainees"]) == max(1, trainees // int(row["cohort"])) * int(row["cohort"])
    }


def main() -> None:
    """Run every regime in every size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=600, help="per regime and size")
    parser.add_argument("--sizes", type=int, nargs="+", default=[10, 60, 600])
    parser.add_argument("--regimes", nargs="*", default=[], help="names, or all")
    parser.add_argument("--seed", type=int, default=20240601)
    parser.add_argument("--cpu-seconds", type=float, default=3600.0, help="begin no row after")
    parser.add_argument("--out", type=Path, default=RESULTS)
    options = parser.parse_args()
    rows = read_known(options.out, trainees=options.trainees, seed=options.seed)
    for size in options.sizes:
        for regime in REGIMES:
            if (regime.name, size) in rows or regime.name not in (options.regimes or [regime.name]):
                continue
            if time.process_time() > options.cpu_seconds:
                return
            row = measure(regime, size=size, trainees=options.trainees, seed=options.seed)
            rows[regime.name, size] = row
            show(row)
            names = [each.name for each in REGIMES]
            order = sorted(rows, key=lambda key: (names.index(key[0]), key[1]))
            store([rows[key] for key in order], options.out)


if __name__ == "__main__":
    main()
