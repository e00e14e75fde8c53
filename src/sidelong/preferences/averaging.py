"""Averages over all hyperparameters that a cohort leaves possible."""

import numpy as np
from scipy.special import ndtr

from sidelong.preferences.best import POINTS, POINTS_OF_MANY, chance_best
from sidelong.preferences.courses import BoolArray, FloatArray

MANY = 8
"""Points from which an average of chances needs fewer nodes for each."""

UNFELT = 0.1
"""Lead that nobody feels: a tenth of the noise of one rating, less than 0.1 of a rating step.

Where positions do not differ by more, their order is left to chance: else a large cohort without
differences would name the one that is ahead by a hair.
"""


def mix_moments(
    ease: FloatArray, covariance: FloatArray, *, weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give mean and covariance over all points together.

    Parameters
    ----------
    ease : ndarray of float, shape (m, n_trainees, 5)
        Under each of m points.
    covariance : ndarray of float, shape (m, n_trainees, 5, 5)
        Under each of them.
    weights : ndarray of float, shape (m,)
        Sum to 1.

    Returns
    -------
    mean : ndarray of float, shape (n_trainees, 5)
        Of the mixture.
    covariance : ndarray of float, shape (n_trainees, 5, 5)
        Of the mixture.
    """
    mean = np.einsum("k,kn...->n...", weights, ease)
    away = ease - mean
    return mean, np.einsum("k,knij->nij", weights, covariance) + np.einsum(
        "k,kni,knj->nij", weights, away, away
    )


def mix_chances(
    ease: FloatArray, covariance: FloatArray, *, weights: FloatArray, allowed: BoolArray
) -> FloatArray:
    """Average the chance to be the best over the points; parameters as above."""
    m, n, k = ease.shape
    chances = chance_best(
        ease.reshape(m * n, k),
        blur(covariance.reshape(m * n, k, k)),
        allowed=np.tile(allowed, (m, 1)),
        nodes=POINTS if m < MANY else POINTS_OF_MANY,
    )
    mixed: FloatArray = np.einsum("k,kni->ni", weights, chances.reshape(m, n, k))
    return mixed


def mix_chances_ahead(
    ease: FloatArray,
    covariance: FloatArray,
    *,
    weights: FloatArray,
    open_to: BoolArray,
    p_best: FloatArray,
    allowed: BoolArray,
) -> FloatArray:
    """Average the chance to be the best of fewer positions.

    Parameters
    ----------
    ease, covariance, weights
        As above.
    open_to : ndarray of bool, shape (n_trainees, 5)
        Positions that count.
    p_best : ndarray of float, shape (n_trainees, 5)
        Chance to be the best of those allowed: given back where all of them count, or none.
    allowed : ndarray of bool, shape (n_trainees, 5)
        Positions that may be used.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5)
        0 where a position does not count; rows sum to 1.
    """
    ahead = p_best.copy()
    fewer = open_to.any(axis=1) & (open_to != allowed).any(axis=1)
    if fewer.any():
        ahead[fewer] = mix_chances(
            ease[:, fewer], covariance[:, fewer], weights=weights, allowed=open_to[fewer]
        )
    return ahead


def mix_chances_easier(
    ease: FloatArray, covariance: FloatArray, *, weights: FloatArray
) -> FloatArray:
    """Average the chance that one position is easier than another; parameters as above.

    Returns
    -------
    ndarray of float, shape (n_trainees, 5, 5)
        Of the position of the row against that of the column: of two positions it is the chance
        to be the best. A half against itself.
    """
    lead = ease[..., :, None] - ease[..., None, :]
    blurred = blur(covariance)
    own = np.einsum("...ii->...i", blurred)
    variance = own[..., :, None] + own[..., None, :] - 2.0 * blurred
    # Against itself there is neither lead nor variance: a half.
    height = lead / np.sqrt(np.maximum(variance, UNFELT**2))
    mixed: FloatArray = np.einsum("k,knij->nij", weights, ndtr(height))
    return mixed


def blur(covariance: FloatArray) -> FloatArray:
    """Leave leads that nobody feels to chance."""
    return covariance + UNFELT**2 * np.eye(covariance.shape[-1])
