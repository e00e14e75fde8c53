"""Hyperparameters as one vector without bounds, for fitting.

Spreads, slopes and rates enter by their logarithm, ascending cut points as the lowest and the
logarithms of the gaps, and effects without their zero points: ``centre`` and slot 1 are left out,
and the five carryover effects, which sum to 0, are four numbers on orthonormal contrasts, so that
no position is special.
"""

from collections.abc import Iterator

import numpy as np

from sidelong.preferences.courses import FloatArray
from sidelong.preferences.hyperparameters import (
    CENTRE,
    N_POSITIONS,
    RATINGS_OF_SCALE,
    Hyperparameters,
)

LOGS = (
    "level_sd",
    "spread_sd",
    "drift_sd",
    "level_drift_sd",
    "night_sd",
    "piece_sd",
    "learning_rate",
    "went_slope",
    "choice_slope",
)
"""Numbers above 0 that enter by their logarithm."""

PLAIN = ("learning_gain", "carryover_failed", "size_effect", "choice_again")
"""Numbers that enter as they are."""

FORMS = tuple(sorted(RATINGS_OF_SCALE, reverse=True))
SMALLEST = 1e-4
"""A spread or slope of 0 has no logarithm; this stands for it and cannot be told from it."""

_FREE_POSITIONS = tuple(place for place in range(N_POSITIONS) if place != CENTRE)


def _contrasts() -> FloatArray:
    """Give orthonormal columns that each sum to 0, shape (5, 4)."""
    basis = np.zeros((N_POSITIONS, N_POSITIONS - 1))
    for column in range(N_POSITIONS - 1):
        length = column + 1
        basis[:length, column] = 1.0
        basis[length, column] = -length
        basis[:, column] /= np.sqrt(length * (length + 1.0))
    return basis


CONTRASTS = _contrasts()


def _layout() -> Iterator[tuple[str, int]]:
    """Name the parts of the vector and their lengths, in order."""
    for name in (*LOGS, *PLAIN):
        yield name, 1
    for name in ("position_means", "slot_effects", "carryover_effects"):
        yield name, N_POSITIONS - 1
    for form in FORMS:
        yield f"thresholds_{form}", len(RATINGS_OF_SCALE[form]) - 1
    yield "went_cuts", 2


def _parts() -> dict[str, slice]:
    parts, start = {}, 0
    for name, length in _layout():
        parts[name] = slice(start, start + length)
        start += length
    return parts


PARTS = _parts()
"""Where each hyperparameter stands in the vector."""

N_COORDINATES = sum(length for _, length in _layout())


def to_coordinates(hyperparameters: Hyperparameters) -> FloatArray:
    """Write hyperparameters as a vector.

    Parameters
    ----------
    hyperparameters : Hyperparameters
        Values; a 0 where only numbers above 0 have a logarithm becomes 1e-4.

    Returns
    -------
    ndarray of float, shape (37,)
        Any numbers are allowed.
    """
    vector = np.empty(N_COORDINATES)
    for name in LOGS:
        vector[PARTS[name]] = np.log(max(getattr(hyperparameters, name), SMALLEST))
    for name in PLAIN:
        vector[PARTS[name]] = getattr(hyperparameters, name)
    means = np.array(hyperparameters.position_means)
    vector[PARTS["position_means"]] = means[list(_FREE_POSITIONS)]
    vector[PARTS["slot_effects"]] = hyperparameters.slot_effects[1:]
    vector[PARTS["carryover_effects"]] = CONTRASTS.T @ np.array(hyperparameters.carryover_effects)
    for form in FORMS:
        vector[PARTS[f"thresholds_{form}"]] = _spread_out(hyperparameters.thresholds[form])
    vector[PARTS["went_cuts"]] = _spread_out(hyperparameters.went_cuts)
    return vector


def from_coordinates(vector: FloatArray) -> Hyperparameters:
    """Read a vector as hyperparameters.

    Parameters
    ----------
    vector : ndarray of float, shape (37,)
        As :func:`to_coordinates` gives it.

    Returns
    -------
    Hyperparameters
        Valid whatever the numbers are.
    """
    scalars = {name: float(np.exp(vector[PARTS[name]][0])) for name in LOGS}
    scalars |= {name: float(vector[PARTS[name]][0]) for name in PLAIN}
    means = np.zeros(N_POSITIONS)
    means[list(_FREE_POSITIONS)] = vector[PARTS["position_means"]]
    carried = CONTRASTS @ vector[PARTS["carryover_effects"]]
    below, above = _draw_in(vector[PARTS["went_cuts"]])
    return Hyperparameters(
        position_means=tuple(means.tolist()),
        slot_effects=(0.0, *vector[PARTS["slot_effects"]].tolist()),
        carryover_effects=tuple(carried.tolist()),
        thresholds={form: _draw_in(vector[PARTS[f"thresholds_{form}"]]) for form in FORMS},
        went_cuts=(below, above),
        **scalars,
    )


def pull_back(gradient: dict[str, FloatArray], vector: FloatArray) -> FloatArray:
    """Turn derivatives in the hyperparameters into derivatives in the coordinates.

    Parameters
    ----------
    gradient : dict of str to ndarray of float, shape (k, n)
        By part: k derivatives of n values; k is the full length, zero points included. Thresholds
        by form as ``thresholds_5``.
    vector : ndarray of float, shape (37,)
        Where the derivatives were taken.

    Returns
    -------
    ndarray of float, shape (37, n)
        Derivatives in the coordinates.
    """
    n = gradient["level_sd"].shape[-1]
    result = np.empty((N_COORDINATES, n))
    for name in LOGS:
        result[PARTS[name]] = np.exp(vector[PARTS[name]]) * gradient[name]
    for name in PLAIN:
        result[PARTS[name]] = gradient[name]
    result[PARTS["position_means"]] = gradient["position_means"][list(_FREE_POSITIONS)]
    result[PARTS["slot_effects"]] = gradient["slot_effects"][1:]
    result[PARTS["carryover_effects"]] = CONTRASTS.T @ gradient["carryover_effects"]
    for name in (*(f"thresholds_{form}" for form in FORMS), "went_cuts"):
        # Every cut moves with the lowest; with a gap move the cuts above it.
        above = np.cumsum(gradient[name][::-1], axis=0)[::-1]
        above[1:] *= np.exp(vector[PARTS[name]][1:, None])
        result[PARTS[name]] = above
    return result


def _spread_out(cuts: tuple[float, ...]) -> FloatArray:
    return np.array([cuts[0], *np.log(np.diff(cuts))])


def _draw_in(vector: FloatArray) -> tuple[float, ...]:
    cuts = vector[0] + np.concatenate([[0.0], np.cumsum(np.exp(vector[1:]))])
    return tuple(cuts.tolist())
