"""Promises kept on simulated trainees: does the plot show what is there, and how often?

Run from the repository's root::

    python benchmarks/accuracy/promises.py

Every simulated trainee practises 14 nights, the estimate is locked, and a first dose is drawn with
the trainee's true chance in one position. Clinics of 40 and of 200 doses that staff saw are then
formed again and again: how often does the test reject, how often does the slope's interval hold 1?
One row per regime goes to ``benchmarks/results/accuracy_promises.csv``. Simulated figures say how
the method does on trainees who follow the model. They are no clinical accuracy and are never shown
as such.
"""

import argparse
import csv
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

import sidelong
from sidelong.exchange.estimates import as_written
from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.exchange.promises import mark_fit
from sidelong.pathway.enrolling import simulate_enrolment
from sidelong.pathway.estimates import estimate_courses, gather_courses
from sidelong.pathway.invented_doses import invent_first_dose, true_chances
from sidelong.pathway.invention import draw_practice
from sidelong.pathway.planning import draw_plans
from sidelong.pathway.promises import Calibration, Promise, lock_figures, reckon
from sidelong.training.position import Position
from sidelong.training.promise import LockedEstimate, SeenBy

RESULTS = Path(__file__).parents[1] / "results" / "accuracy_promises.csv"
NOW = datetime(2026, 11, 25, 10, tzinfo=UTC)
CLINICS = (40, 200)
LISTED = list(Position)


@dataclass(frozen=True)
class Regime:
    """How doses come about.

    Parameters
    ----------
    name : str
        In the table.
    harder : float
        Latent ease that a real dose is harder than the practice piece.
    suggested_only : bool
        Whether only trainees with a suggested position take a dose.
    """

    name: str
    harder: float = 0.0
    suggested_only: bool = False


REGIMES = (
    Regime("as assumed, position that is ahead"),
    Regime("as assumed, only where one is suggested", suggested_only=True),
    Regime("real doses half a unit harder", harder=0.5),
    Regime("real doses one unit harder", harder=1.0),
)


def lock_cohort(n: int, *, seed: int) -> list[tuple[LockedEstimate, Any]]:
    """Simulate trainees, lock their estimates, and keep the true ease beside."""
    rng = np.random.default_rng(seed)
    enrolled = simulate_enrolment(
        n, positions=tuple(Position), sites=["harbour"], bands=["older"], rng=rng
    )
    plans = draw_plans(enrolled, seed=str(seed), n_nights=14)
    drawn = draw_practice(plans, scales={}, rng=rng)
    estimates = estimate_courses(gather_courses(drawn.entries, plans=plans))
    locks = [
        lock_figures(
            as_written(each),
            course=1,
            version=1,
            follow_up=1,
            number=1,
            locked_at=NOW,
            locked_by="",
            program=sidelong.__version__,
            fit=mark_fit(SHIPPED_FIT),
            evidence="0" * 64,
        )
        for each in estimates
    ]
    return list(zip(locks, drawn.next_ease, strict=True))


def take_doses(
    cohort: Sequence[tuple[LockedEstimate, Any]], regime: Regime, *, rng: np.random.Generator
) -> list[Promise]:
    """Let every trainee take a first dose."""
    promises = []
    for lock, ease in cohort:
        if regime.suggested_only and lock.suggested is None:
            continue
        ahead = max(lock.positions, key=lambda each: each.chance_ahead).position
        used = lock.suggested or ahead
        chances = true_chances(float(ease[LISTED.index(used)]) - regime.harder, rng=rng)
        dose = invent_first_dose(
            lock.trainee,
            course=1,
            position=used,
            chances=chances,
            given_on=NOW.date(),
            rng=rng,
            seen_by=SeenBy.STAFF,
        )
        promises.append(Promise(lock, dose))
    return promises


def measure(promises: Sequence[Promise], regime: Regime, *, rng: np.random.Generator) -> Any:
    """Reckon all doses at once, then in clinics of either size."""
    whole = reckon(promises)
    drawn = whole.calibration
    order = rng.permutation(len(promises))
    return {
        "regime": regime.name,
        "doses": whole.seen.n,
        "share_first_try": whole.seen.n_first / whole.seen.n,
        "stated": whole.seen.expected / whole.seen.n,
        "slope": drawn.line.slope,
        "slope_se": drawn.line.slope_se,
        "shift": drawn.line.shift,
        "largest_gap": largest_gap(drawn),
        "brier": drawn.brier.score,
        "p_value": drawn.test.p_value,
    } | {key: value for size in CLINICS for key, value in of_clinics(promises, order, size).items()}


def of_clinics(promises: Sequence[Promise], order: Any, size: int) -> dict[str, Any]:
    """Form clinics of one size, and see what each of them would be told."""
    starts = range(0, len(promises) - size + 1, size)
    told = [reckon([promises[i] for i in order[at : at + size]]).calibration for at in starts]
    lines = [each.line for each in told if each.line is not None]
    holds = [holds_1(each.slope_interval) for each in lines]
    return {
        f"clinics_of_{size}": len(told),
        f"rejected_{size}": float(np.mean([each.test.p_value < 0.05 for each in told])),
        f"with_slope_{size}": len(lines) / len(told),
        f"slope_holds_1_{size}": float(np.mean(holds)) if holds else "",
    }


def largest_gap(drawn: Calibration) -> float:
    """Largest distance between what was said and what happened in a group."""
    return float(np.abs(drawn.table.stated - drawn.table.share).max())


def holds_1(interval: tuple[float, float]) -> bool:
    """Tell whether an interval holds 1."""
    return interval[0] <= 1 <= interval[1]


def main() -> None:
    """Print every figure and store it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trainees", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=20240601)
    chosen = parser.parse_args()
    cohort = lock_cohort(chosen.trainees, seed=chosen.seed)
    rows = []
    for number, regime in enumerate(REGIMES):
        rng = np.random.default_rng([chosen.seed, number])
        row = measure(take_doses(cohort, regime, rng=rng), regime, rng=rng)
        row |= {"seed": chosen.seed, "version": sidelong.__version__}
        rows.append(row)
        shown = [f"{k} {v:.4g}" if isinstance(v, float) else f"{k} {v}" for k, v in row.items()]
        print("; ".join(shown))
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        table.writeheader()
        table.writerows(
            {k: f"{v:.4f}" if isinstance(v, float) else v for k, v in row.items()} for row in rows
        )


if __name__ == "__main__":
    main()
