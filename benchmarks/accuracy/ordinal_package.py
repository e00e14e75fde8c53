"""The estimate's special case beside R's package `ordinal`: how high, and how long.

Run from the repository's root::

    python benchmarks/accuracy/ordinal_package.py

Fits the same 60 and 200 simulated trainees twice: with R's ``clmm`` and with this package's engine,
its gradient and the same Laplace approximation. Without drift, favourites, went-down answers,
night and piece noise the model is a cumulative probit with a random level per trainee and a random
effect per trainee and position. Both results are then judged by a third computation, written here
for this one case: adaptive Gauss-Hermite quadrature of the level, and within it of each position.

Prints a table and stores it in ``benchmarks/results/accuracy_ordinal_package.csv``. Needs R with
its package ``ordinal`` (Debian: ``apt-get install r-cran-ordinal``).
"""

import argparse
import csv
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import log_ndtr, logsumexp

from sidelong import __version__
from sidelong.designs import draw_orders
from sidelong.preferences import DEFAULT, Conduct, Courses, Hyperparameters, simulate_courses
from sidelong.preferences.coordinates import PARTS, from_coordinates, pull_back, to_coordinates
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.score import gather_covariates, score_hyperparameters
from sidelong.training.position import Position

HERE = Path(__file__).parent
RESULTS = HERE.parent / "results" / "accuracy_ordinal_package.csv"
GOAL_HEIGHT, GOAL_RATIO = -0.01, 0.01
NODES_LEVEL, NODES_POSITION = 21, 11
Array = NDArray[np.float64]

NOTHING_ELSE = {
    "drift_sd": 0.0,
    "level_drift_sd": 0.0,
    "night_sd": 0.0,
    "piece_sd": 0.0,
    "learning_rate": 0.0,
    "carryover_failed": 0.0,
    "size_effect": 0.0,
}
"""What the special case leaves out; learning is a straight line over the nights."""

TRUTH = replace(DEFAULT, **NOTHING_ELSE, position_means=(0.2, -0.1, 0.0, 0.1, -0.3))
FREE = (
    "level_sd",
    "spread_sd",
    "learning_gain",
    "position_means",
    "slot_effects",
    "thresholds_5",
)
PLACES = np.concatenate([np.arange(PARTS[name].start, PARTS[name].stop) for name in FREE])


@dataclass(frozen=True)
class Fit:
    """One program's answer."""

    point: Hyperparameters
    height: float  # Laplace log-likelihood as the program tells it
    cpu_s: float
    versions: str


def draw_ratings(n: int, *, seed: int) -> Courses:
    """Draw ratings alone, of 14 nights of five positions, with gaps."""
    rng = np.random.default_rng([seed, n])
    orders = np.array([draw_orders(n_positions=5, n_nights=14, rng=rng) for _ in range(n)])
    drawn = simulate_courses(
        orders, hyperparameters=TRUTH, rng=rng, conduct=Conduct(missing_night=0.05)
    ).courses
    blank = np.zeros_like(drawn.went_down)
    return replace(
        drawn,
        went_down=blank,
        felt_best=np.full_like(drawn.felt_best, -1),
        previous_failed=np.zeros_like(drawn.previous_failed),
        piece_mm=np.full_like(drawn.piece_mm, np.nan),
    )


def point_at(free: Array) -> Hyperparameters:
    """Read the free coordinates; all others stand still."""
    vector = to_coordinates(TRUTH)
    vector[PLACES] = free
    return replace(from_coordinates(vector), **NOTHING_ELSE)


def fit_here(courses: Courses) -> Fit:
    """Climb the Laplace log-likelihood with the engine and its gradient; no prior."""
    begun = time.process_time()
    covariates = gather_covariates(courses)
    dual: Array | None = None

    def fall(free: Array) -> tuple[float, Array]:
        nonlocal dual
        point = point_at(free)
        evidence = prepare_evidence(courses, point)
        posterior = find_mode(evidence, tolerance=1e-8, start=dual)
        dual = posterior.dual
        natural = score_hyperparameters(posterior, evidence, covariates, points=(point,))
        vector = to_coordinates(TRUTH)
        vector[PLACES] = free
        scores = pull_back(natural, vector)[PLACES]
        fall.scores = scores  # type: ignore[attr-defined]
        return -float(posterior.log_evidence.sum()), -scores.sum(axis=1)

    start = to_coordinates(DEFAULT)[PLACES]
    fall(start)
    scores = fall.scores  # type: ignore[attr-defined]
    away = scores - scores.mean(axis=1, keepdims=True)
    metric = np.linalg.inv(away @ away.T + np.eye(PLACES.size))
    metric = 0.5 * (metric + metric.T)
    found = minimize(
        fall, start, jac=True, method="BFGS", options={"gtol": 0.05, "hess_inv0": metric}
    )
    spent = time.process_time() - begun
    versions = f"sidelong {__version__}, NumPy {np.__version__}"
    return Fit(point_at(found.x), -float(found.fun), spent, versions)


def fit_in_r(courses: Courses) -> Fit:
    """Let R fit the same rows; its time is that of the fit alone."""
    with tempfile.TemporaryDirectory() as folder:
        table = Path(folder) / "ratings.csv"
        write_ratings(table, courses)
        answer = subprocess.run(
            [shutil.which("Rscript") or "Rscript", str(HERE / "ordinal_package.R"), str(table)],
            check=True,
            capture_output=True,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
        ).stdout
    said = dict(line.split(maxsplit=1) for line in answer.splitlines())
    names = [position.value for position in Position]
    point = replace(
        TRUTH,
        position_means=tuple(float(said.get(f"effect:position{name}", 0)) for name in names),
        slot_effects=(0.0, *(float(said[f"effect:slot{slot}"]) for slot in range(2, 6))),
        learning_gain=float(said["effect:elapsed"]),
        thresholds={
            **DEFAULT.thresholds,
            5: tuple(float(said[f"cut:{k}|{k + 1}"]) for k in range(1, 5)),
        },
        level_sd=float(said["sd:trainee"]),
        spread_sd=float(said["sd:own"]),
    )
    return Fit(point, float(said["log_likelihood"]), float(said["cpu_s"]), said["versions"].strip())


def write_ratings(path: Path, courses: Courses) -> None:
    """Write one row per rating."""
    names = [position.value for position in Position]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(("trainee", "position", "slot", "elapsed", "rating"))
        for who, night, place in zip(*np.nonzero(courses.rating), strict=True):
            slot, rating = courses.slot[who, night, place], courses.rating[who, night, place]
            writer.writerow((f"t{who}", names[place], slot, night / 13.0, rating))


def judge(courses: Courses, point: Hyperparameters) -> float:
    """Integrate level and positions by adaptive quadrature; written for this case alone."""
    cuts = np.array((-np.inf, *point.thresholds[5], np.inf))
    nights = np.arange(courses.n_nights) / 13.0
    effect = np.array((0.0, *point.slot_effects))[courses.slot] + np.array(point.position_means)
    effect = effect + point.learning_gain * nights[:, None]
    # Highest and lowest finite numbers do for infinity: their normal chances are 0 and 1.
    edges = np.nan_to_num(cuts, neginf=-60.0, posinf=60.0)
    low = np.where(courses.rating > 0, edges[courses.rating - 1] - effect, -60.0)
    high = np.where(courses.rating > 0, edges[courses.rating] - effect, 60.0)
    low, high = (np.moveaxis(each, 1, 2) for each in (low, high))  # (n, 5, nights)
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES_LEVEL)
    centre, width = np.zeros(low.shape[0]), np.full(low.shape[0], point.level_sd)
    for _ in range(3):
        level = centre[:, None] + width[:, None] * nodes
        heights = np.stack(
            [position_integrals(low, high, each, sd=point.spread_sd) for each in level.T], axis=1
        )
        log_prior = -0.5 * (level / point.level_sd) ** 2 - np.log(point.level_sd)
        density = heights + log_prior + 0.5 * nodes**2 + np.log(weights * width[:, None])
        total = logsumexp(density, axis=1) - 0.5 * np.log(2 * np.pi)
        share = np.exp(density - logsumexp(density, axis=1, keepdims=True))
        centre = (share * level).sum(axis=1)
        width = np.sqrt((share * (level - centre[:, None]) ** 2).sum(axis=1))
    return float(total.sum())


def position_integrals(low: Array, high: Array, level: Array, *, sd: float) -> Array:
    """Integrate each position's own effect given the level, shape (n,)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES_POSITION)
    centre, width = np.zeros(low.shape[:2]), np.full(low.shape[:2], sd)
    for _ in range(3):
        own = centre[..., None] + width[..., None] * nodes
        ease = (level[:, None, None] + own)[:, :, None]
        upper, lower = high[..., None] - ease, low[..., None] - ease
        flip = upper + lower > 0
        a, b = np.where(flip, -upper, lower), np.where(flip, -lower, upper)
        chance = log_ndtr(b) + np.log1p(-np.exp(log_ndtr(a) - log_ndtr(b)))
        density = chance.sum(axis=2) - 0.5 * (own / sd) ** 2 - np.log(sd) + 0.5 * nodes**2
        density += np.log(weights * width[..., None])
        total = logsumexp(density, axis=2) - 0.5 * np.log(2 * np.pi)
        share = np.exp(density - logsumexp(density, axis=2, keepdims=True))
        centre = (share * own).sum(axis=2)
        width = np.sqrt((share * (own - centre[..., None]) ** 2).sum(axis=2))
    return np.asarray(total.sum(axis=1))


def compare(n: int, *, seed: int) -> dict[str, Any]:
    """Fit one cohort with both programs, and judge both by quadrature."""
    courses = draw_ratings(n, seed=seed)
    ours, theirs = fit_here(courses), fit_in_r(courses)
    heights = [judge(courses, each.point) for each in (ours, theirs)]
    return {
        "trainees": n,
        "ratings": int((courses.rating > 0).sum()),
        "laplace_here": f"{ours.height:.4f}",
        "laplace_clmm": f"{theirs.height:.4f}",
        "quadrature_here": f"{heights[0]:.4f}",
        "quadrature_clmm": f"{heights[1]:.4f}",
        "higher_by_laplace": f"{ours.height - theirs.height:.5f}",
        "higher_by_quadrature": f"{heights[0] - heights[1]:.5f}",
        "goal_higher": GOAL_HEIGHT,
        "cpu_s_here": f"{ours.cpu_s:.3f}",
        "cpu_s_clmm": f"{theirs.cpu_s:.3f}",
        "time_ratio": f"{ours.cpu_s / theirs.cpu_s:.5f}",
        "goal_time_ratio": GOAL_RATIO,
        "seed": seed,
        "version": ours.versions,
        "compared_with": theirs.versions,
    }


def main() -> None:
    """Compare and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, nargs="+", default=[60, 200])
    parser.add_argument("--seed", type=int, default=20240601)
    parser.add_argument("--here-only", action="store_true", help="without R; stores nothing")
    options = parser.parse_args()
    if options.here_only:
        for n in options.trainees:
            print(n, fit_here(draw_ratings(n, seed=options.seed)))
        return
    if not has_ordinal():
        sys.exit("R with its package ordinal is not here: apt-get install r-cran-ordinal")
    rows = [compare(n, seed=options.seed) for n in options.trainees]
    for row in rows:
        print()
        for name, value in row.items():
            print(f"  {name:24s}{value}")
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def has_ordinal() -> bool:
    """Tell whether R and the package are installed."""
    program = shutil.which("Rscript")
    if program is None:
        return False
    asked = [program, "-e", "library(ordinal)"]
    return subprocess.run(asked, capture_output=True, check=False).returncode == 0


if __name__ == "__main__":
    main()
