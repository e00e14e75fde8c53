"""Nights that stop early: what it does to the estimate that stopping is not modelled.

Run from the repository's root::

    python benchmarks/accuracy/stopped_nights.py

Two failed positions end a night. That rule looks only at answers which the model has, so its
chance cancels and nothing is lost (what is missing is missing at random). Where a night ends for a
reason that nobody wrote down, it is not so. Trainees who find pieces hard are drawn, and their
nights are stopped in five ways; they are answered with the hyperparameters that they were drawn
from. One row per way goes to ``benchmarks/results/accuracy_stopped_nights.csv``: how far the ease
of all positions together, and of the positions against each other, is off on average, in units of
the noise of one rating. The last two ways bound what unrecorded stops can do: how hard a piece
felt decides alone. How often families stop so is not known.
"""

import argparse
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from regimes import Regime, Rng, draw_plans
from scipy.special import expit
from scoring import Tally, calibration_error, store, tally_answer, true_rating

from sidelong import __version__
from sidelong.preferences import DEFAULT, Conduct, Courses, estimate_preferences, simulate_courses
from sidelong.preferences.simulate import draw_ease

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_stopped_nights.csv"
GOAL_BIAS = 0.05
HARD = replace(
    DEFAULT,
    thresholds={**DEFAULT.thresholds, 5: (-0.4, 0.6, 1.6, 2.7)},
    went_cuts=(-0.9, 0.3),
)


@dataclass(frozen=True)
class Stop:
    """One way of ending nights; ``distress`` is how strongly ease alone decides, 0 not at all."""

    name: str
    after_failed: int = 2
    blank: float = 0.0
    distress: float = 0.0


STOPS = (
    Stop("never", after_failed=9),
    Stop("after two failed positions"),
    Stop("after two, every tenth failure left blank", blank=0.1),
    Stop("at distress that nobody recorded", distress=1.0),
    Stop("at strong distress that nobody recorded", distress=2.5),
)


def stop_unrecorded(courses: Courses, ease: Any, *, distress: float, rng: Rng) -> None:
    """Take out what would have come after a piece at whose ease the trainee gave up."""
    chance = expit(-2.0 - distress * ease[:, : courses.n_nights])
    gave_up = (rng.random(chance.shape) < chance) & (courses.slot > 0)
    place = np.where(gave_up, courses.slot, 9).min(axis=2, keepdims=True)
    later = courses.slot > place
    for values, blank in ((courses.slot, 0), (courses.rating, 0), (courses.went_down, 0)):
        values[later] = blank
    courses.piece_mm[later] = np.nan
    named = courses.felt_best[:, :, None] == np.arange(5)
    courses.felt_best[(named & later).any(axis=2)] = -1


def measure(stop: Stop, *, n: int, seed: int) -> dict[str, Any]:
    """Stop nights in one way and answer; all ways share their trainees."""
    rng = np.random.default_rng(seed)
    plans = draw_plans(Regime(stop.name), n=n, rng=rng)
    drawn = simulate_courses(
        plans,
        hyperparameters=HARD,
        rng=rng,
        conduct=Conduct(
            cut_night=0.0, blank_went_down=stop.blank, stop_after_failed=stop.after_failed
        ),
        ease=draw_ease(n, 15, hyperparameters=HARD, rng=rng),
    )
    if stop.distress:
        stop_unrecorded(drawn.courses, drawn.ease, distress=stop.distress, rng=rng)
    found, tally = estimate_preferences(drawn.courses, hyperparameters=HARD), Tally()
    known = true_rating(drawn, HARD, shift=np.zeros(n))
    tally_answer(tally, found, drawn=drawn, known=known, name="estimate")
    tried = (drawn.courses.slot > 0).sum(axis=2)
    off = found.ease - drawn.next_ease
    apart = off - off.mean(axis=1, keepdims=True)
    true_apart = drawn.next_ease - drawn.next_ease.mean(axis=1, keepdims=True)
    said_apart = found.ease - found.ease.mean(axis=1, keepdims=True)
    bias = float(off.mean())
    return {
        "stopped": stop.name,
        "trainees": n,
        "nights_stopped": float(((tried > 0) & (tried < 5)).sum() / (tried > 0).sum()),
        "bias_of_all": bias,
        "bias_error": float(off.mean(axis=1).std() / np.sqrt(n)),
        "goal_bias": GOAL_BIAS,
        # 1 where differences are neither shrunk nor blown up, as a posterior mean should be.
        "slope_of_differences": float((true_apart * said_apart).sum() / (said_apart**2).sum()),
        "error_of_differences": float(np.sqrt((apart**2).mean())),
        "brier": tally.mean("brier_estimate"),
        "calibration": calibration_error(tally, "estimate"),
        "coverage": tally.mean("covered_estimate"),
        "met": "yes" if abs(bias) <= GOAL_BIAS else "missed",
        "seed": seed,
        "version": __version__,
    }


def main() -> None:
    """Stop in every way, print and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trainees", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=20240601)
    options = parser.parse_args()
    rows = [measure(stop, n=options.trainees, seed=options.seed) for stop in STOPS]
    for row in rows:
        figures = (f"{k} {v:.3f}" for k, v in row.items() if isinstance(v, float))
        print(f"{row['stopped']:44s}", ", ".join(figures), row["met"])
    store(rows, RESULTS)


if __name__ == "__main__":
    main()
