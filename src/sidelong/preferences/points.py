"""Fixed points instead of random draws: the same question always has the same answer."""

import numpy as np
from scipy.special import ndtri

from sidelong.preferences.courses import FloatArray


def normal_points(number: int, dimensions: int) -> FloatArray:
    """Spread points evenly over independent standard normals.

    A lattice by the generalised golden ratio, the root of ``x^(d+1) = x + 1``, and its mirror
    image, so that means are exact; scaled so that variances are.

    Parameters
    ----------
    number : int
        Even.
    dimensions : int
        d, >= 1.

    Returns
    -------
    ndarray of float, shape (number, dimensions)
        Points of equal weight.
    """
    ratio = 1.5
    for _ in range(40):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1)
    half = (0.5 + np.outer(np.arange(1, number // 2 + 1), steps)) % 1.0
    points = ndtri(np.concatenate([half, 1.0 - half]))
    scaled: FloatArray = points / np.sqrt((points**2).mean(axis=0))
    return scaled
