"""Scores of answers against the truth they were drawn from, trainee by trainee."""

import csv
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from regimes import Array, Rng

from sidelong.preferences import (
    Courses,
    Hyperparameters,
    PreferenceEstimates,
    SimulatedCourses,
    expected_rating,
)

BINS = np.linspace(0.0, 1.0, 11)
RESAMPLES = 2000
RULES = ("last_night", "most_frequent", "highest_mean")


@dataclass(eq=False)
class Tally:
    """One number per trainee, or per trainee and position, collected over cohorts."""

    values: dict[str, list[Array]] = field(default_factory=dict)

    def add(self, name: str, values: Any) -> None:
        self.values.setdefault(name, []).append(np.asarray(values, dtype=float))

    def every(self, name: str) -> Array:
        return np.concatenate(self.values[name])

    def mean(self, name: str) -> float:
        return float(self.every(name).mean())


def simple_rules(courses: Courses, *, rng: Rng) -> dict[str, NDArray[np.intp]]:
    """Answer as a glance down a column would; ties and blanks are broken at random."""
    n = courses.n_trainees
    named = courses.felt_best[:, :, None] == np.arange(5)
    last = np.zeros((n, 5))
    for night in range(courses.n_nights):
        last = np.where(named[:, night].any(axis=1, keepdims=True), named[:, night], last)
    n_rated = (courses.rating > 0).sum(axis=1)
    mean = courses.rating.sum(axis=1) / np.maximum(n_rated, 1)
    answers = {}
    for name, score in zip(RULES, (last, named.sum(axis=1), mean), strict=True):
        broken = score + 1e-6 * rng.random((n, 5))
        answers[name] = np.where(courses.allowed, broken, -1.0).argmax(axis=1)
    return answers


def true_rating(drawn: SimulatedCourses, truth: Hyperparameters, *, shift: Array) -> Array:
    """Give the expected rating of the next night as it really is, averaged over slots."""
    allowed = drawn.courses.allowed
    slots = np.array([np.mean(truth.slot_effects[: int(row.sum())]) for row in allowed])
    return expected_rating(
        drawn.next_ease + (slots + shift)[:, None],
        scale=drawn.courses.scale,
        hyperparameters=truth,
    )


def tally_choice(
    tally: Tally, chosen: NDArray[np.intp], *, drawn: SimulatedCourses, name: str
) -> None:
    """Note whether a choice was right, and what ease it gave away."""
    top = np.where(drawn.courses.allowed, drawn.next_ease, -np.inf).max(axis=1)
    tally.add(f"right_{name}", chosen == drawn.best)
    tally.add(f"regret_{name}", top - drawn.next_ease[np.arange(top.size), chosen])


def tally_answer(
    tally: Tally, found: PreferenceEstimates, *, drawn: SimulatedCourses, known: Array, name: str
) -> None:
    """Score one way of answering."""
    allowed = drawn.courses.allowed
    tally_choice(tally, found.p_best.argmax(axis=1), drawn=drawn, name=name)
    tally.add(f"brier_{name}", ((found.p_best - np.eye(5)[drawn.best]) ** 2).sum(axis=1))
    inside = (found.lower <= known) & (known <= found.upper)
    tally.add(f"covered_{name}", inside[allowed])
    tally.add(f"chance_{name}", found.p_best[allowed])
    tally.add(f"hit_{name}", (np.arange(5) == drawn.best[:, None])[allowed])


def calibration_error(tally: Tally, name: str) -> float:
    """Mean distance of chance and share over ten equal bins, every allowed position counted."""
    chance, hit = tally.every(f"chance_{name}"), tally.every(f"hit_{name}")
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


def store(rows: Iterable[dict[str, Any]], path: Path) -> None:
    """Write one line per row; what does not apply stays empty."""
    rows = list(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows({name: _plain(value) for name, value in row.items()} for row in rows)


def _plain(value: object) -> object:
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value:.4f}"
    return value
