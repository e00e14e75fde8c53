"""One random plan on its own, without a place among other trainees."""

import numpy as np
from numpy.typing import NDArray

from sidelong.designs.base_plans import base_plans


def draw_orders(*, n_positions: int, n_nights: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Draw a plan: a base plan and a relabelling of its positions, all equally likely.

    Relabelling changes neither a spread nor the efficiency, so every plan keeps to
    :func:`~sidelong.designs.criteria.criteria_for`. Trainees who enrol one after another are
    better served by :func:`~sidelong.designs.allocation.allocate_orders`, which also keeps them
    even among each other.

    Parameters
    ----------
    n_positions : int
        1 to 5; with 1 every night is practice without comparison.
    n_nights : int
        7, 10, 14, 21 or 28.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    ndarray of int, shape (n_nights, n_positions)
        Position index in 0..n_positions-1 for every night and slot.

    Examples
    --------
    >>> draw_orders(n_positions=5, n_nights=14, rng=np.random.default_rng(1)).shape
    (14, 5)
    """
    plans = base_plans(n_positions, n_nights)
    labels = rng.permutation(n_positions)
    drawn: NDArray[np.intp] = labels[plans[rng.integers(len(plans))]]
    return drawn
