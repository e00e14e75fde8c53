"""The way to the top: a quasi-Newton climb that takes turns with the choice's own search."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sidelong.preferences.coordinates import N_COORDINATES
from sidelong.preferences.courses import FloatArray
from sidelong.preferences.landscape import CHOICE, Height, Landscape, invert, scatter_information

SETTLED = 0.04
"""Move of the choice's parameters, in one turn, at which they count as settled."""

MAX_STEPS = 60
MAX_TURNS = 25
_FARTHEST = 1.0  # Longest move of one coordinate in one step.


@dataclass(frozen=True, eq=False)
class Climb:
    """Where a climb ended.

    Parameters
    ----------
    vector : ndarray of float, shape (37,)
        Coordinates reached.
    height : Height
        There.
    converged : bool
        Whether nothing more was promised.
    """

    vector: FloatArray
    height: Height
    converged: bool


def climb(
    landscape: Landscape,
    vector: FloatArray,
    *,
    tolerance: float,
    settle: bool,
    held: Sequence[int] = (),
) -> Climb:
    """Go up and settle the choice in turn, until neither moves.

    Parameters
    ----------
    landscape : Landscape
        What to climb.
    vector : ndarray of float, shape (37,)
        Where to start.
    tolerance : float
        Rise of the log posterior, promised by the next step, at which the climb ends.
    settle : bool
        Whether the choice's parameters move too.
    held : sequence of int
        Coordinates that stay as they are.

    Returns
    -------
    Climb
        The top, or as far as it went.
    """
    height = landscape.height(vector)
    free = np.ones(N_COORDINATES, dtype=bool)
    free[[*CHOICE, *held]] = False
    metric = np.zeros((N_COORDINATES, N_COORDINATES))
    metric[np.ix_(free, free)] = invert(
        (landscape.precision + scatter_information(height.scores))[np.ix_(free, free)]
    )
    reached = Climb(vector, height, converged=False)
    if not settle:
        return _ascend(landscape, reached, metric=metric, tolerance=tolerance, most=MAX_STEPS)[0]
    for turn in range(MAX_TURNS):
        reached, metric = _ascend(
            landscape, reached, metric=metric, tolerance=tolerance, most=3 * (turn + 1)
        )
        moved = landscape.settle_choice(reached.vector) - reached.vector
        if reached.converged and float(np.abs(moved).max()) < SETTLED:
            return reached
        vector = reached.vector + moved
        reached = Climb(vector, landscape.height(vector), converged=False)
    return reached


def _ascend(
    landscape: Landscape, start: Climb, *, metric: FloatArray, tolerance: float, most: int
) -> tuple[Climb, FloatArray]:
    """Go up, the choice held still, until a step promises next to nothing."""
    vector, height = start.vector, start.height
    for _ in range(most):
        step = metric @ height.gradient
        promise = float(step @ height.gradient)
        if 0.5 * promise < tolerance:
            return Climb(vector, height, converged=True), metric
        length = min(1.0, _FARTHEST / float(np.abs(step).max()))
        found = landscape.height(vector + length * step)
        while not found.value > height.value + 1e-4 * length * promise:
            length *= 0.3
            if length < 1e-6:
                return Climb(vector, height, converged=False), metric
            found = landscape.height(vector + length * step)
        moved: FloatArray = length * step
        metric = _learn_curvature(metric, moved, bent=height.gradient - found.gradient)
        vector, height = vector + moved, found
    return Climb(vector, height, converged=False), metric


def _learn_curvature(inverse: FloatArray, moved: FloatArray, *, bent: FloatArray) -> FloatArray:
    """Update the inverse curvature from one step (BFGS)."""
    gain = float(moved @ bent)
    if gain <= 1e-10:
        return inverse
    bent = np.where(np.diag(inverse) > 0, bent, 0.0)
    keep = np.eye(moved.size) - np.outer(moved, bent) / gain
    updated: FloatArray = keep @ inverse @ keep.T + np.outer(moved, moved) / gain
    return updated
