"""Shares of few: the interval that fits a count out of a number, however small."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

Z_95 = 1.959963984540054
"""Standard normal quantile of a two-sided 95 % interval."""


def wilson_interval(
    happened: NDArray[np.int_], n: NDArray[np.int_], *, z: float = Z_95
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the score interval of a share; it never leaves [0, 1] and has width at 0 of n.

    Wilson's interval without continuity correction [1]_, recommended for small numbers [2]_.

    Parameters
    ----------
    happened : ndarray of int, shape (n_groups,)
        How often it happened, 0..n.
    n : ndarray of int, shape (n_groups,)
        Out of how many, >= 1.
    z : float
        Standard normal quantile, > 0.

    Returns
    -------
    lower, upper : ndarray of float, shape (n_groups,)
        Ends of the interval, in [0, 1].

    Raises
    ------
    ValueError
        If a count is not within 0..n, or n is below 1.

    References
    ----------
    .. [1] Wilson, E. B. (1927). JASA 22, 209-212 (cited from memory).
    .. [2] Newcombe, R. G. (1998). Stat. Med. 17, 857-872 (cited from memory).

    Examples
    --------
    >>> lower, upper = wilson_interval(np.array([81]), np.array([263]))
    >>> lower.round(4), upper.round(4)
    (array([0.2553]), array([0.3662]))
    """
    k, m = np.asarray(happened, dtype=float), np.asarray(n, dtype=float)
    if (m < 1).any() or (k < 0).any() or (k > m).any():
        raise ValueError("counts must lie within 0..n, and n must be at least 1")
    share, square = k / m, z * z / m
    middle = (share + square / 2) / (1 + square)
    half = z / (1 + square) * np.sqrt(share * (1 - share) / m + square / (4 * m))
    # At the ends the interval reaches 0 or 1 exactly, which rounding would miss by a hair.
    lower = np.where(k == 0, 0.0, middle - half)
    upper = np.where(k == m, 1.0, middle + half)
    return lower, upper


def total_interval(chances: NDArray[np.float64], *, z: float = Z_95) -> tuple[float, float, float]:
    """Say how often something should happen, if the stated chances hold.

    Parameters
    ----------
    chances : ndarray of float, shape (n,)
        Stated chances of independent outcomes, in [0, 1].
    z : float
        Standard normal quantile, > 0.

    Returns
    -------
    expected, lower, upper : float
        Expected count and, by the normal approximation, the range that holds the count that often;
        cut off at 0 and n.
    """
    p = np.asarray(chances, dtype=float)
    expected = float(p.sum())
    half = z * sqrt(float((p * (1 - p)).sum()))
    return expected, max(0.0, expected - half), min(float(p.size), expected + half)
