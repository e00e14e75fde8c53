"""Simulation-based calibration: are the posteriors right where everything is known?

Run from the repository's root::

    python benchmarks/accuracy/calibration.py

Trainees are drawn from the model with known hyperparameters, their posterior is computed with the
same ones, and the truth is ranked among draws from it (Talts and others 2018, arXiv 1804.06788).
Exact posteriors give even ranks. Ranked are the ease of every position on the night after the
plan, and its differences to centre: as they decide, so they are ranked apart. One row per quantity
goes to ``benchmarks/results/accuracy_calibration.csv``: chi-square over 20 bins, its chance, the
largest deviation of the share of ranks from evenness, and how full the outermost bins are. The
goal is a chance of at least 0.01 over the number of quantities.
"""

import argparse
from pathlib import Path
from typing import Any

import numpy as np
from regimes import Array, Regime, simulate_cohort
from scipy.stats import chi2
from scoring import store

from sidelong import __version__
from sidelong.preferences import estimate_preferences

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_calibration.csv"
DRAWS, BINS = 99, 20
POSITIONS = ("down", "left", "centre", "right", "up")
REGIMES = (
    Regime("as assumed"),
    Regime("strong differences", {"spread_sd": 1.4}),
    Regime("seven nights, three-category raters", n_nights=7, scales=(3,)),
)


def rank(regime: Regime, *, trainees: int, rng: np.random.Generator) -> dict[str, Array]:
    """Rank the truth among draws from each trainee's posterior, by quantity."""
    drawn, truth, _ = simulate_cohort(regime, n=trainees, rng=rng)
    found = estimate_preferences(drawn.courses, hyperparameters=truth)
    root = np.linalg.cholesky(found.covariance)
    normals = rng.standard_normal((trainees, 5, DRAWS))
    sample = found.ease[:, :, None] + root @ normals
    ranks = {
        f"ease of {name}": (sample[:, k] < drawn.next_ease[:, k, None]).sum(axis=1)
        for k, name in enumerate(POSITIONS)
    }
    ahead = sample - sample[:, 2:3]
    known = drawn.next_ease - drawn.next_ease[:, 2:3]
    ranks |= {
        f"{name} against centre": (ahead[:, k] < known[:, k, None]).sum(axis=1)
        for k, name in enumerate(POSITIONS)
        if name != "centre"
    }
    return ranks


def judge(ranks: Array, *, quantities: int) -> dict[str, Any]:
    """Compare ranks with evenness."""
    counts = np.bincount(ranks * BINS // (DRAWS + 1), minlength=BINS)
    even = ranks.size / BINS
    statistic = float(((counts - even) ** 2 / even).sum())
    reached = np.cumsum(np.bincount(ranks, minlength=DRAWS + 1)) / ranks.size
    uneven = np.abs(reached - np.arange(1, DRAWS + 2) / (DRAWS + 1)).max()
    chance = float(chi2.sf(statistic, BINS - 1))
    low, high = (ranks < 5).mean(), (ranks >= 95).mean()
    return {
        "chi_square": statistic,
        "degrees_of_freedom": BINS - 1,
        "chance": chance,
        "goal_chance": 0.01 / quantities,
        "largest_deviation": float(uneven),
        "lowest_twentieth": float(low),
        "highest_twentieth": float(high),
        "met": "yes" if chance >= 0.01 / quantities else "missed",
    }


def main() -> None:
    """Rank, judge and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    rows = []
    for place, regime in enumerate(REGIMES):
        rng = np.random.default_rng([options.seed, place])
        ranks = rank(regime, trainees=options.trainees, rng=rng)
        for name, each in ranks.items():
            row = {"regime": regime.name, "quantity": name, "trainees": options.trainees}
            row |= judge(each, quantities=len(ranks))
            rows.append(row | {"seed": options.seed, "version": __version__})
            print(
                f"{regime.name:38s}{name:22s} chi2 {row['chi_square']:6.1f}"
                f" chance {row['chance']:.4f} largest deviation {row['largest_deviation']:.3f}"
                f" tails {row['lowest_twentieth']:.3f} {row['highest_twentieth']:.3f}"
                f" {row['met']}"
            )
    store(rows, RESULTS)


if __name__ == "__main__":
    main()
