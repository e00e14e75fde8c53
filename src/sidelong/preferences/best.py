"""Chance that each position has the highest ease, from a Gaussian posterior.

Position p is the best where all differences ``x_p - x_j`` are above 0: an orthant probability of
at most four correlated normals. They are taken one after the other, each given those before
(Genz 1992 [1]_), hardest first; what remains is an integral over a cube of at most three smooth
dimensions, done with fixed Gauss-Legendre points. Nothing is drawn, and the order of the
differences depends on their values alone, so relabelling the positions relabels the answer.

References
----------
.. [1] Genz, A. (1992). Numerical computation of multivariate normal probabilities. Journal of
   Computational and Graphical Statistics 1, 141-149.
"""

from functools import cache

import numpy as np
from scipy.special import ndtr, ndtri

from sidelong.preferences.courses import BoolArray, FloatArray, IntArray

POINTS = 6
"""Gauss-Legendre points per dimension: an error of at most 3e-4 on posteriors that occur, 1e-3 on
far more entangled ones."""

POINTS_OF_MANY = 4
"""The same where chances are averaged over many hyperparameters: an error of at most 3e-4."""

_CHUNK = 256
_SMALLEST = 1e-12
_BEYOND = 40.0  # A position that may not be used is surely beaten.


def chance_best(
    mean: FloatArray, covariance: FloatArray, *, allowed: BoolArray, nodes: int = POINTS
) -> FloatArray:
    """Give the chance of each position to be the best of those allowed.

    Parameters
    ----------
    mean : ndarray of float, shape (n_trainees, 5)
        Posterior mean of ease.
    covariance : ndarray of float, shape (n_trainees, 5, 5)
        Posterior covariance of ease; may be singular.
    allowed : ndarray of bool, shape (n_trainees, 5)
        Positions to compare; at least one each.
    nodes : int
        Gauss-Legendre points per dimension.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5)
        Chances, 0 where not allowed; each row sums to 1.
    """
    chances = np.empty(mean.shape)
    for start in range(0, mean.shape[0], _CHUNK):
        rows = slice(start, start + _CHUNK)
        chances[rows] = _chance_best(mean[rows], covariance[rows], allowed[rows], nodes)
    return chances


def _chance_best(
    mean: FloatArray, covariance: FloatArray, allowed: BoolArray, nodes: int
) -> FloatArray:
    k = mean.shape[1]
    chances = np.zeros(mean.shape)
    for place in range(k):
        others = np.delete(np.arange(k), place)
        difference, spread = _differences(mean, covariance, place=place, others=others)
        barred = ~allowed[:, others]
        difference = np.where(barred, _BEYOND, difference)
        spread = np.where(barred[:, :, None] | barred[:, None, :], np.eye(k - 1), spread)
        chances[:, place] = orthant_probability(difference, spread, nodes=nodes) * allowed[:, place]
    chances /= chances.sum(axis=1, keepdims=True)
    return chances


def _differences(
    mean: FloatArray, covariance: FloatArray, *, place: int, others: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Give mean and covariance of one position's ease minus each other's."""
    with_own = covariance[:, others, place]
    spread = covariance[:, others[:, None], others] + covariance[:, place, place][:, None, None]
    spread = spread - with_own[:, :, None] - with_own[:, None, :]
    # Two positions that cannot differ are level: a breath of noise makes that one half each.
    spread = spread + _SMALLEST * (1.0 + np.eye(others.size))
    return mean[:, place, None] - mean[:, others], spread


def orthant_probability(
    mean: FloatArray, covariance: FloatArray, *, nodes: int = POINTS
) -> FloatArray:
    """Give the chance that four correlated normals are all above 0.

    Parameters
    ----------
    mean : ndarray of float, shape (n, 4)
        Means.
    covariance : ndarray of float, shape (n, 4, 4)
        Covariances with positive diagonals.
    nodes : int
        Gauss-Legendre points per dimension.

    Returns
    -------
    ndarray of float, shape (n,)
        Probabilities in [0, 1].
    """
    deviation = np.sqrt(np.einsum("nii->ni", covariance))
    height = mean / deviation
    order = np.argsort(height, axis=1, kind="stable")
    rows = np.arange(order.shape[0])[:, None]
    correlation = covariance / deviation[:, :, None] / deviation[:, None, :]
    correlation = correlation[rows[:, None], order[:, :, None], order[:, None, :]]
    return _nested_integral(height[rows, order], _cholesky(correlation), nodes)


def _cholesky(matrix: FloatArray) -> FloatArray:
    """Factorise correlation matrices (n, k, k) that may be singular within rounding."""
    factor = np.zeros_like(matrix)
    for column in range(matrix.shape[1]):
        known = factor[:, column:, :column]
        rest = matrix[:, column:, column] - (known * factor[:, column, None, :column]).sum(axis=2)
        pivot = np.sqrt(np.maximum(rest[:, 0], _SMALLEST))
        factor[:, column:, column] = rest / pivot[:, None]
        factor[:, column, column] = pivot
    return factor


@cache
def _points(number: int) -> tuple[FloatArray, FloatArray]:
    """Give Gauss-Legendre points and weights on [0, 1]."""
    nodes, weights = np.polynomial.legendre.leggauss(number)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def _nested_integral(height: FloatArray, factor: FloatArray, number: int) -> FloatArray:
    """Take the normals one after the other; each but the last adds a dimension of points."""
    last = height.shape[1] - 1
    total = np.ones((height.shape[0], 1))
    shift = [height[:, row, None] for row in range(last + 1)]
    nodes, weights = _points(number)
    for column in range(last):
        pivot = factor[:, column, column, None]
        reach = ndtr(shift[column] / pivot)
        total = (total * reach)[:, :, None] * weights
        # y is above -shift/pivot; by symmetry minus a quantile of the part below +shift/pivot.
        draw = -ndtri(np.maximum(reach[:, :, None] * nodes, 1e-300))
        total = total.reshape(total.shape[0], -1)
        for row in range(column + 1, last + 1):
            moved = shift[row][:, :, None] + factor[:, row, column, None, None] * draw
            shift[row] = moved.reshape(moved.shape[0], -1)
    total *= ndtr(shift[last] / factor[:, last, last, None])
    probability: FloatArray = total.sum(axis=1)
    return probability
