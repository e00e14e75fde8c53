"""The fit: how near estimates from a fitted cohort come to estimates that know the truth.

Run from the repository's root::

    python benchmarks/accuracy/cohorts.py

Every regime is simulated, some where the model is right and some where it is wrong. The same
trainees are fitted as cohorts of 10, of 60 and as one of 600, and answered three ways: with the
fit, with the hyperparameters they were drawn from, and by simple rules. One row per regime and
cohort size goes to ``benchmarks/results/accuracy_cohorts.csv``, with paired bootstrap intervals
(trainees drawn with replacement) of the differences in Brier score and regret. These figures say
how the method does on simulated trainees. They are no clinical accuracy and are never shown as
such.
"""

import argparse
import csv
import time
from collections.abc import Callable
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
    fit_cohort,
    give_verdicts,
    simulate_courses,
)
from sidelong.preferences.simulate import draw_ease

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_cohorts.csv"
BINS = np.linspace(0.0, 1.0, 11)
RESAMPLES = 2000
Array = NDArray[np.float64]
Rng = np.random.Generator


@dataclass(frozen=True)
class Regime:
    """One kind of cohort.

    ``truth`` changes the default hyperparameters, ``vary`` draws them anew for every cohort;
    ``wrong`` marks regimes that the model does not hold.
    """

    name: str
    truth: dict[str, Any] = field(default_factory=dict)
    vary: Callable[[Rng], dict[str, Any]] | None = None
    conduct: Conduct = field(default_factory=Conduct)
    positions: tuple[int, ...] = (0, 1, 2, 3, 4)
    restricted: bool = False
    n_nights: int = 14
    scales: tuple[int, ...] = (5,)
    wrong: str = ""


def draw_anything(rng: Rng) -> dict[str, Any]:
    """Draw hyperparameters over wide ranges, none of them the prior of the fit."""
    spread = rng.uniform(0.2, 1.5)
    cuts = {
        5: tuple(np.cumsum([rng.uniform(-2.2, -0.8), *rng.uniform(0.6, 1.5, 3)])),
        4: tuple(np.cumsum([rng.uniform(-2.0, -0.7), *rng.uniform(0.8, 1.8, 2)])),
    }
    carried = rng.normal(0.0, 0.2, 5)
    means = rng.normal(0.0, 0.35, 5)
    below = rng.uniform(-3.5, -1.5)
    return {
        "position_means": tuple(means - means[2]),
        "level_sd": rng.uniform(0.4, 1.6),
        "spread_sd": spread,
        "drift_sd": rng.uniform(0.0, 0.3),
        "level_drift_sd": rng.uniform(0.0, 0.3),
        "learning_gain": rng.uniform(0.0, 2.0),
        "learning_rate": rng.uniform(0.02, 0.5),
        "night_sd": rng.uniform(0.1, 0.9),
        "piece_sd": rng.uniform(0.2, 1.2),
        "slot_effects": (0.0, *rng.normal(0.0, 0.15, 4)),
        "carryover_effects": tuple(carried - carried.mean()),
        "carryover_failed": rng.uniform(-0.8, 0.1),
        "thresholds": {**DEFAULT.thresholds, **cuts},
        "went_slope": rng.uniform(0.7, 2.2),
        "went_cuts": (below, below + rng.uniform(0.6, 1.8)),
        "choice_slope": rng.uniform(0.8, 4.0),
        "choice_again": rng.uniform(0.0, 1.5),
    }


REGIMES = (
    Regime("as assumed"),
    Regime("strong differences", {"spread_sd": 1.4}),
    Regime("weak differences", {"spread_sd": 0.4}),
    Regime("no differences", {"spread_sd": 0.0, "drift_sd": 0.0}),
    Regime("no drift", {"drift_sd": 0.0, "level_drift_sd": 0.0}),
    Regime("high drift", {"drift_sd": 0.3, "level_drift_sd": 0.2}),
    Regime("sudden changes of mind", {"drift_sd": 0.0}, wrong="jump"),
    Regime("heavy tails", wrong="heavy tails"),
    Regime("three-category raters", scales=(3,)),
    Regime("half rate on 1, 3, 5 of five", wrong="coarse"),
    Regime("drifting raters", wrong="rating drift"),
    Regime("30 % of nights missing", conduct=Conduct(missing_night=0.3)),
    Regime("restricted positions", restricted=True),
    Regime("sticky bests", {"choice_again": 2.5}),
    Regime("positions differ on average", {"position_means": (0.5, -0.2, 0.0, 0.3, -0.8)}),
    Regime("random parameters", vary=draw_anything, scales=(5, 4)),
)


def draw_plans(regime: Regime, *, n: int, rng: Rng) -> NDArray[np.intp]:
    """Draw balanced orders; restricted trainees may use two to five positions."""
    orders = np.full((n, regime.n_nights, 5), -1)
    for row in range(n):
        count = int(rng.integers(2, 6)) if regime.restricted else 5
        chosen = np.sort(rng.choice(5, count, replace=False))
        drawn = draw_orders(n_positions=count, n_nights=regime.n_nights, rng=rng)
        orders[row, :, :count] = chosen[np.asarray(drawn)]
    return orders


def simulate_cohort(
    regime: Regime, *, n: int, rng: Rng
) -> tuple[SimulatedCourses, Hyperparameters, Array]:
    """Draw one cohort, its hyperparameters, and what the last night's rating is shifted by."""
    truth = replace(DEFAULT, **(regime.vary(rng) if regime.vary else regime.truth))
    nights = regime.n_nights
    ease, shift = draw_ease(n, nights + 1, hyperparameters=truth, rng=rng), np.zeros((n, nights))
    if regime.wrong == "jump":
        for row in np.flatnonzero(rng.random(n) < 0.5):
            fresh = truth.spread_sd * rng.standard_normal(5)
            ease[row, rng.integers(3, nights - 1) :] += fresh - fresh.mean()
    if regime.wrong == "heavy tails":
        own = truth.spread_sd * (rng.standard_t(3, (n, 1, 5)) / np.sqrt(3.0))
        level = truth.level_sd * (rng.standard_t(3, (n, 1, 1)) / np.sqrt(3.0))
        still = replace(truth, spread_sd=0.0, level_sd=0.0)
        ease = draw_ease(n, nights + 1, hyperparameters=still, rng=rng) + own + level
    if regime.wrong == "rating drift":
        shift = rng.normal(0.0, 0.8, (n, 1)) * np.linspace(0.0, 1.0, nights)
    drawn = simulate_courses(
        draw_plans(regime, n=n, rng=rng),
        hyperparameters=truth,
        rng=rng,
        scale=rng.choice(regime.scales, n),
        conduct=regime.conduct,
        ease=ease,
        rating_shift=shift,
    )
    if regime.wrong == "coarse":
        drawn.courses.rating[::2] = np.array([0, 1, 1, 3, 5, 5])[drawn.courses.rating[::2]]
    return drawn, truth, shift[:, -1]


@dataclass(eq=False)
class Tally:
    """One number per trainee, collected over cohorts."""

    values: dict[str, list[Array]] = field(default_factory=dict)

    def add(self, name: str, values: Array) -> None:
        self.values.setdefault(name, []).append(np.asarray(values, dtype=float))

    def every(self, name: str) -> Array:
        return np.concatenate(self.values[name])


def simple_rules(courses: Courses, *, rng: Rng) -> dict[str, NDArray[np.intp]]:
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


def collect(
    tally: Tally,
    found: PreferenceEstimates,
    *,
    drawn: SimulatedCourses,
    known: Array,
    name: str,
) -> None:
    """Score one way of answering, trainee by trainee."""
    allowed = drawn.courses.allowed
    top = np.where(allowed, drawn.next_ease, -np.inf).max(axis=1)
    rows = np.arange(allowed.shape[0])
    answer = found.p_best.argmax(axis=1)
    tally.add(f"right_{name}", answer == drawn.best)
    tally.add(f"regret_{name}", top - drawn.next_ease[rows, answer])
    tally.add(f"brier_{name}", ((found.p_best - np.eye(5)[drawn.best]) ** 2).sum(axis=1))
    inside = (found.lower <= known) & (known <= found.upper)
    tally.add(f"covered_{name}", inside[allowed])
    tally.add(f"chance_{name}", found.p_best[allowed])
    tally.add(f"hit_{name}", (np.arange(5) == drawn.best[:, None])[allowed])


def run_cohort(regime: Regime, tally: Tally, *, size: int, drawn_from: Rng, whole: Any) -> float:
    """Fit and answer one cohort; give the CPU seconds of both."""
    drawn, truth, shift = whole
    slots = np.array(
        [np.mean(truth.slot_effects[: int(row.sum())]) for row in drawn.courses.allowed]
    )
    known = expected_rating(
        drawn.next_ease + (slots + shift)[:, None],
        scale=drawn.courses.scale,
        hyperparameters=truth,
    )
    start = time.process_time()
    fit = fit_cohort(drawn.courses)
    found = estimate_preferences(drawn.courses, hyperparameters=fit.mixture)
    seconds = time.process_time() - start
    ideal = estimate_preferences(drawn.courses, hyperparameters=truth)
    top = np.where(drawn.courses.allowed, drawn.next_ease, -np.inf).max(axis=1)
    for name, answer in simple_rules(drawn.courses, rng=drawn_from).items():
        tally.add(f"right_{name}", answer == drawn.best)
        tally.add(f"regret_{name}", top - drawn.next_ease[np.arange(size), answer])
    collect(tally, found, drawn=drawn, known=known, name="fit")
    collect(tally, ideal, drawn=drawn, known=known, name="truth")
    words = np.array([each.word for each in give_verdicts(found)])
    for word in ("clear", "likely"):
        tally.add(f"said_{word}", words == word)
    tally.add("converged", np.full(size, fit.converged))
    return seconds


def calibration_error(chance: Array, hit: Array) -> float:
    """Mean distance of chance and share over ten equal bins, every allowed position counted."""
    place = np.clip(np.digitize(chance + 1e-12, BINS) - 1, 0, 9)
    gaps = [
        abs(chance[place == b].mean() - hit[place == b].mean()) * (place == b).sum()
        for b in range(10)
        if (place == b).any()
    ]
    return float(sum(gaps) / chance.size)


def paired_interval(difference: Array, *, rng: Rng) -> tuple[float, float]:
    """95 % bootstrap interval of a mean difference, trainees drawn with replacement."""
    draws = rng.integers(0, difference.size, (RESAMPLES, difference.size))
    low, high = np.quantile(difference[draws].mean(axis=1), [0.025, 0.975])
    return float(low), float(high)


def measure(regime: Regime, *, size: int, trainees: int, seed: int) -> dict[str, Any]:
    """Answer one regime in cohorts of one size."""
    place = [each.name for each in REGIMES].index(regime.name)
    rng = np.random.default_rng([seed, place, size])
    tally, seconds = Tally(), 0.0
    for _ in range(max(1, trainees // size)):
        whole = simulate_cohort(regime, n=size, rng=rng)
        seconds += run_cohort(regime, tally, size=size, drawn_from=rng, whole=whole)
    row: dict[str, Any] = {"regime": regime.name, "model": "wrong" if regime.wrong else "right"}
    row |= {"cohort": size, "trainees": tally.every("brier_fit").size}
    for kind in ("brier", "regret"):
        fit, truth = tally.every(f"{kind}_fit"), tally.every(f"{kind}_truth")
        low, high = paired_interval(fit - truth, rng=np.random.default_rng(seed))
        row |= {f"{kind}_fit": fit.mean(), f"{kind}_truth": truth.mean()}
        row |= {f"{kind}_worse": (fit - truth).mean(), f"{kind}_low": low, f"{kind}_high": high}
    for way in ("fit", "truth"):
        row[f"calibration_{way}"] = calibration_error(
            tally.every(f"chance_{way}"), tally.every(f"hit_{way}")
        )
        row[f"coverage_{way}"] = tally.every(f"covered_{way}").mean()
    for name in ("fit", "truth", "last_night", "most_frequent", "highest_mean"):
        row[f"right_{name}"] = tally.every(f"right_{name}").mean()
    for name in ("last_night", "most_frequent", "highest_mean"):
        row[f"regret_{name}"] = tally.every(f"regret_{name}").mean()
    row |= {f"said_{word}": tally.every(f"said_{word}").mean() for word in ("clear", "likely")}
    row |= {"converged": tally.every("converged").mean(), "cpu_s": seconds}
    return row | {"seed": seed, "version": __version__}


def show(row: dict[str, Any]) -> None:
    """Print the goals' figures of one row."""
    print(
        f"{row['regime']:30s}{row['model']:6s}{row['cohort']:5d}"
        f"  brier {row['brier_fit']:.3f} {row['brier_worse']:+.4f}"
        f" [{row['brier_low']:+.3f} {row['brier_high']:+.3f}]"
        f"  regret {row['regret_fit']:.3f} {row['regret_worse']:+.4f}"
        f"  calib {row['calibration_fit']:.3f} ({row['calibration_truth']:.3f})"
        f"  cover {row['coverage_fit']:.3f} ({row['coverage_truth']:.3f})"
        f"  right {row['right_fit']:.2f} ({row['right_truth']:.2f}) rules"
        f" {row['right_last_night']:.2f} {row['right_most_frequent']:.2f}"
        f" {row['right_highest_mean']:.2f}"
        f"  clear {row['said_clear']:.2f} likely {row['said_likely']:.2f}"
        f"  conv {row['converged']:.2f} {row['cpu_s']:.0f} s",
        flush=True,
    )


def store(rows: list[dict[str, Any]], path: Path) -> None:
    """Write one row per regime and cohort size."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        for row in rows:
            writer.writerow({k: f"{v:.4f}" if isinstance(v, float) else v for k, v in row.items()})


def main() -> None:
    """Run every regime in every size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=600, help="per regime and size")
    parser.add_argument("--sizes", type=int, nargs="+", default=[10, 60, 600])
    parser.add_argument("--regimes", nargs="*", default=[], help="names, or all")
    parser.add_argument("--seed", type=int, default=20240601)
    parser.add_argument("--out", type=Path, default=RESULTS)
    options = parser.parse_args()
    rows = []
    for regime in REGIMES:
        if options.regimes and regime.name not in options.regimes:
            continue
        for size in options.sizes:
            rows.append(measure(regime, size=size, trainees=options.trainees, seed=options.seed))
            show(rows[-1])
            store(rows, options.out)


if __name__ == "__main__":
    main()
