"""Weights of importance sampling, and whether their tail lets them be trusted.

The largest weights are replaced by what a generalised Pareto distribution fitted to them would
give (Vehtari and others 2024). Its shape k says how many moments the weights have: from 0.7 on an
average over them does not settle in any practical number of draws.
"""

import numpy as np
from scipy.special import logsumexp

from sidelong.preferences.courses import FloatArray

_LEAST = 5  # Values that a tail needs.
_PRIOR_WEIGHT, _PRIOR_SHAPE = 10.0, 0.5  # Weakly informative, as Vehtari and others use it.


def smooth_tail(log_weight: FloatArray) -> tuple[FloatArray, float]:
    """Normalise importance weights, their largest ones smoothed.

    Parameters
    ----------
    log_weight : ndarray of float, shape (n_draws,)
        Without a constant.

    Returns
    -------
    weight : ndarray of float, shape (n_draws,)
        Sums to 1.
    shape : float
        Pareto shape k of the tail; -inf where all weights are equal.
    """
    shifted = log_weight - log_weight.max()
    number = shifted.size
    size = int(min(0.2 * number, 3.0 * np.sqrt(number)))
    order = np.argsort(shifted)
    tail, edge = order[number - size :], shifted[order[number - size - 1]]
    if size < _LEAST or shifted[tail[-1]] - edge < 1e-9:
        return np.exp(shifted - logsumexp(shifted)), -np.inf
    beyond = np.exp(shifted[tail]) - np.exp(edge)
    scale, shape = fit_pareto(beyond)
    places = (np.arange(size) + 0.5) / size
    smoothed = np.exp(edge) + scale * np.expm1(-shape * np.log1p(-places)) / shape
    shifted[tail] = np.minimum(np.log(smoothed), 0.0)
    weight: FloatArray = np.exp(shifted - logsumexp(shifted))
    return weight, shape


def fit_pareto(beyond: FloatArray) -> tuple[float, float]:
    """Fit a generalised Pareto distribution to what lies beyond a threshold.

    Zhang and Stephens (2009): the mean of a profile posterior over a grid, no search.

    Parameters
    ----------
    beyond : ndarray of float, shape (n,)
        Ascending, >= 0.

    Returns
    -------
    scale, shape : float
        Of ``(1 + shape x / scale) ** (-1 / shape)``, the chance to lie beyond x; shape 0 excluded.
    """
    number = beyond.size
    grid = 30 + int(np.sqrt(number))
    quartile = max(beyond[int(number / 4.0 + 0.5) - 1], 1e-300)
    places = np.arange(1, grid + 1) - 0.5
    rate = 1.0 / beyond[-1] + (1.0 - np.sqrt(grid / places)) / (3.0 * quartile)
    shapes = np.log1p(-rate[:, None] * beyond).mean(axis=1)
    height = number * (np.log(-rate / shapes) - shapes - 1.0)
    chance = np.exp(height - logsumexp(height))
    best = float(chance @ rate)
    shape = float(np.log1p(-best * beyond).mean())
    scale = -shape / best
    shape = (number * shape + _PRIOR_WEIGHT * _PRIOR_SHAPE) / (number + _PRIOR_WEIGHT)
    return scale, shape if abs(shape) > 1e-9 else 1e-9
