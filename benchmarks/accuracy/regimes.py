"""Regimes: kinds of simulated cohorts, some where the model holds and some where it does not.

Shared by the benchmarks of this folder. Every number is invented; none is a clinical finding.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sidelong.designs import draw_orders
from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Hyperparameters,
    SimulatedCourses,
    simulate_courses,
)
from sidelong.preferences.simulate import draw_ease

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
"""Those that a fit has to do well on."""

FURTHER = (
    Regime("noisy pieces and nights", {"piece_sd": 1.0, "night_sd": 0.8}),
    Regime("no favourite named", conduct=Conduct(no_best=1.0)),
    Regime("favourite named again out of habit", {"choice_again": 1.5}),
    Regime("strong carryover", {"carryover_effects": (0.4, 0.0, -0.4, 0.3, -0.3)}),
    Regime("three positions", positions=(0, 1, 2)),
    Regime("seven nights", n_nights=7),
)
"""More of them, for the shipped values."""


def draw_plans(regime: Regime, *, n: int, rng: Rng) -> NDArray[np.intp]:
    """Draw balanced orders; restricted trainees may use two to five positions."""
    orders = np.full((n, regime.n_nights, 5), -1)
    for row in range(n):
        chosen = np.array(regime.positions)
        if regime.restricted:
            chosen = np.sort(rng.choice(5, int(rng.integers(2, 6)), replace=False))
        count = chosen.size
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
    return break_ties(drawn, rng=rng), truth, shift[:, -1]


def break_ties(drawn: SimulatedCourses, *, rng: Rng) -> SimulatedCourses:
    """Let chance say which position is the best where none is ahead."""
    open_to = np.where(drawn.courses.allowed, drawn.next_ease, -np.inf)
    level = open_to >= open_to.max(axis=1, keepdims=True) - 1e-9
    return replace(drawn, best=np.where(level, rng.random(level.shape), -1.0).argmax(axis=1))
