"""The estimate: how often it is right, how true its chances are, against simple rules.

Run from the repository's root::

    python benchmarks/accuracy/estimate.py

Simulates cohorts in which the truth is known, under assumptions that hold and assumptions that do
not, and stores one row per regime in ``benchmarks/results/accuracy_estimate.csv``. These figures
say how the method does on simulated trainees. They are no clinical accuracy and are never shown
as such.
"""

import argparse
import csv
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidelong import __version__
from sidelong.designs import draw_orders
from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    Hyperparameters,
    PreferenceEstimates,
    SimulatedCourses,
    estimate_preferences,
    expected_rating,
    give_verdicts,
    simulate_courses,
)

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_estimate.csv"
BINS = np.linspace(0.0, 1.0, 11)
Chances = NDArray[np.float64]


@dataclass(frozen=True)
class Regime:
    """One kind of cohort."""

    name: str
    truth: dict[str, Any] = field(default_factory=dict)
    conduct: Conduct = field(default_factory=Conduct)
    n_positions: int = 5
    n_nights: int = 14
    scale: int = 5


REGIMES = (
    Regime("as assumed"),
    Regime("strong differences", {"spread_sd": 1.4}),
    Regime("weak differences", {"spread_sd": 0.4}),
    Regime("no differences", {"spread_sd": 0.0, "drift_sd": 0.0}),
    Regime("no drift", {"drift_sd": 0.0, "level_drift_sd": 0.0}),
    Regime("high drift", {"drift_sd": 0.3, "level_drift_sd": 0.2}),
    Regime("noisy pieces and nights", {"piece_sd": 1.0, "night_sd": 0.8}),
    Regime("30 % of nights missing", conduct=Conduct(missing_night=0.3)),
    Regime("no favourite named", conduct=Conduct(no_best=1.0)),
    Regime("favourite named again out of habit", {"choice_again": 1.5}),
    Regime("strong carryover", {"carryover_effects": (0.4, 0.0, -0.4, 0.3, -0.3)}),
    Regime("three-category raters", scale=3),
    Regime("three positions", n_positions=3),
    Regime("seven nights", n_nights=7),
)


def simulate(regime: Regime, *, n: int, seed: int) -> tuple[SimulatedCourses, Hyperparameters]:
    """Draw the cohort of one regime."""
    rng = np.random.default_rng([seed, REGIMES.index(regime)])
    truth = replace(DEFAULT, **regime.truth)
    orders = np.array(
        [
            draw_orders(n_positions=regime.n_positions, n_nights=regime.n_nights, rng=rng)
            for _ in range(n)
        ]
    )
    drawn = simulate_courses(
        orders, hyperparameters=truth, rng=rng, scale=regime.scale, conduct=regime.conduct
    )
    return drawn, truth


def simple_rules(courses: Courses, *, rng: np.random.Generator) -> dict[str, NDArray[np.intp]]:
    """Answer as a glance down a column would; ties and blanks are broken at random."""
    n = courses.n_trainees
    named = courses.felt_best[:, :, None] == np.arange(5)
    last = np.zeros((n, 5))
    for night in range(courses.n_nights):
        last = np.where(named[:, night].any(axis=1, keepdims=True), named[:, night], last)
    n_rated = (courses.rating > 0).sum(axis=1)
    mean = courses.rating.sum(axis=1) / np.maximum(n_rated, 1)
    scores = {"last_night": last, "most_frequent": named.sum(axis=1), "highest_mean": mean}
    answers = {}
    for name, score in scores.items():
        broken = score + 1e-6 * rng.random((n, 5))
        answers[name] = np.where(courses.allowed, broken, -1.0).argmax(axis=1)
    return answers


def calibration_error(p_best: Chances, best: NDArray[np.intp], *, allowed: Chances) -> float:
    """Mean distance of chance and share over ten equal bins, every allowed position counted."""
    hit = (np.arange(5) == best[:, None])[allowed]
    chance = p_best[allowed]
    place = np.clip(np.digitize(chance + 1e-12, BINS) - 1, 0, 9)
    gaps = [
        abs(chance[place == b].mean() - hit[place == b].mean()) * (place == b).sum()
        for b in range(10)
        if (place == b).any()
    ]
    return float(sum(gaps) / chance.size)


def brier(p_best: Chances, best: NDArray[np.intp]) -> float:
    """Multiclass Brier score: 0 is perfect, 0.8 knows nothing of five positions."""
    return float(((p_best - np.eye(5)[best]) ** 2).sum(axis=1).mean())


def coverage(
    found: PreferenceEstimates, drawn: SimulatedCourses, *, truth: Hyperparameters
) -> float:
    """Share of 90 % intervals that hold the true expected rating."""
    slots = np.mean(truth.slot_effects[: int(drawn.courses.allowed[0].sum())])
    known = expected_rating(
        drawn.next_ease + slots, scale=drawn.courses.scale, hyperparameters=truth
    )
    allowed = drawn.courses.allowed
    inside = (found.lower <= known) & (known <= found.upper)
    return float(inside[allowed].mean())


def measure(regime: Regime, *, n: int, seed: int) -> dict[str, Any]:
    """Compare all answers on one regime."""
    drawn, truth = simulate(regime, n=n, seed=seed)
    best, courses = drawn.best, drawn.courses
    rules = simple_rules(courses, rng=np.random.default_rng(seed))
    found = estimate_preferences(courses)
    ideal = estimate_preferences(courses, hyperparameters=truth)
    verdicts = give_verdicts(found)
    said = np.array([each.word for each in verdicts])
    tells = regime.name != "no differences"
    answers = {
        **rules,
        "estimate": found.p_best.argmax(axis=1),
        "true_parameters": ideal.p_best.argmax(axis=1),
    }
    rows = np.arange(n)
    top = np.where(courses.allowed, drawn.next_ease, -np.inf).max(axis=1)
    row: dict[str, Any] = {"regime": regime.name, "trainees": n}
    for name, answer in answers.items():
        row[f"right_{name}"] = (answer == best).mean() if tells else np.nan
    row["regret"] = (top - drawn.next_ease[rows, answers["estimate"]]).mean()
    row["brier"] = brier(found.p_best, best) if tells else np.nan
    row["brier_true_parameters"] = brier(ideal.p_best, best) if tells else np.nan
    row["calibration_error"] = (
        calibration_error(found.p_best, best, allowed=courses.allowed) if tells else np.nan
    )
    row["coverage_90"] = coverage(found, drawn, truth=truth)
    for word in ("clear", "likely", "too close", "all work", "insufficient"):
        row[f"said_{word.replace(' ', '_')}"] = (said == word).mean()
    for word in ("clear", "likely"):
        right = [v.best == b for v, b in zip(verdicts, best, strict=True) if v.word == word]
        row[f"right_when_{word}"] = np.mean(right) if right and tells else np.nan
    row["converged"] = found.converged.mean()
    return row | {"seed": seed, "version": __version__}


def show(rows: list[dict[str, Any]]) -> None:
    """Print the table with one line per measure."""
    for row in rows:
        print(f"\n{row['regime']}")
        for name, value in row.items():
            if isinstance(value, float) and not np.isnan(value):
                print(f"  {name:28s}{value:8.3f}")


def store(rows: list[dict[str, Any]], path: Path) -> None:
    """Write one row per regime."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        for row in rows:
            writer.writerow(
                {
                    k: ("" if np.isnan(v) else f"{v:.4f}") if isinstance(v, float) else v
                    for k, v in row.items()
                }
            )


def main() -> None:
    """Run every regime."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    rows = [measure(regime, n=options.trainees, seed=options.seed) for regime in REGIMES]
    show(rows)
    store(rows, RESULTS)


if __name__ == "__main__":
    main()
