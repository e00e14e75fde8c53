"""Draw whole courses of ease from the normal approximation, and weigh them by the exact answers.

Ease is drawn back from the last night (forward filtering, backward sampling), then the noise of
night and pieces given ease. The weight of a draw is the exact chance of the answers over their
quadratic approximation; the prior cancels.
"""

from dataclasses import dataclass

import numpy as np

from sidelong.preferences.courses import FloatArray
from sidelong.preferences.likelihood import answer_likelihood
from sidelong.preferences.mode import Posterior
from sidelong.preferences.model import Evidence

_JITTER = 1e-12


@dataclass(frozen=True, eq=False)
class Draws:
    """Courses drawn from the approximation.

    Parameters
    ----------
    ease : ndarray of float, shape (n_nights, 5, n_columns, n_draws)
        Latent ease minus what all share.
    log_weight : ndarray of float, shape (n_columns, n_draws)
        Log of exact over approximate density, constant left out.
    """

    ease: FloatArray
    log_weight: FloatArray


def draw_courses(posterior: Posterior, evidence: Evidence, *, normals: FloatArray) -> Draws:
    """Turn standard normals into courses of ease, each with its weight.

    Parameters
    ----------
    posterior : Posterior
        Around the mean or the mode, of n columns.
    evidence : Evidence
        The same columns' answers.
    normals : ndarray of float, shape (n_columns, 2, n_nights, 5, n_draws)
        For ease and for noise; the last night's ease comes first.

    Returns
    -------
    Draws
        Of every column.
    """
    ease = _draw_ease(posterior, evidence.drift, normals=normals[:, 0])
    pieces = ease + _draw_noise(posterior, evidence, ease=ease, normals=normals[:, 1])
    return Draws(ease, _weigh(posterior, evidence, pieces))


def _first(blocks: FloatArray) -> FloatArray:
    """Bring the trainee axis, the last one, to the front."""
    return np.moveaxis(blocks, -1, 0)


def _root(blocks: FloatArray) -> FloatArray:
    """Give roots of covariances (n, k, k) that may be singular."""
    values, axes = np.linalg.eigh(0.5 * (blocks + np.swapaxes(blocks, 1, 2)))
    root: FloatArray = axes * np.sqrt(np.maximum(values, 0.0))[:, None]
    return root


def _draw_ease(posterior: Posterior, drift: FloatArray, *, normals: FloatArray) -> FloatArray:
    means = np.moveaxis(posterior.filtered.mean, -1, 1)
    nights, columns, k = means.shape
    drawn = np.empty((nights, k, columns, normals.shape[-1]))
    step = _first(drift)
    later = None
    for night in range(nights - 1, -1, -1):
        covariance = _first(posterior.filtered.covariance[night])
        centre = np.broadcast_to(means[night][:, :, None], (columns, k, normals.shape[-1]))
        if later is not None:
            ahead = covariance + step + _JITTER * np.eye(k)
            gain = np.swapaxes(np.linalg.solve(ahead, covariance), 1, 2)
            centre = centre + gain @ (later - means[night][:, :, None])
            covariance = covariance - gain @ covariance
        later = centre + _root(covariance) @ normals[:, nights - 1 - night]
        drawn[night] = np.swapaxes(later, 0, 1)
    return drawn


def _draw_noise(
    posterior: Posterior, evidence: Evidence, *, ease: FloatArray, normals: FloatArray
) -> FloatArray:
    """Draw night and piece noise given ease."""
    information, k = posterior.information, ease.shape[1]
    prior = _first(evidence.night_sd**2 + evidence.piece_sd**2 * np.eye(k)[:, :, None])
    noise = np.empty_like(ease)
    for night in range(ease.shape[0]):
        told = _first(information.dense(night))
        pull = information.vector[night].T[:, :, None] - told @ np.swapaxes(ease[night], 0, 1)
        each = prior @ pull + _root(prior - prior @ told @ prior) @ normals[:, night]
        noise[night] = np.swapaxes(each, 0, 1)
    return noise


def _weigh(posterior: Posterior, evidence: Evidence, pieces: FloatArray) -> FloatArray:
    """Give the log of the exact chance of the answers over its quadratic approximation."""
    columns, draws = pieces.shape[2:]
    around = answer_likelihood(evidence.offset + posterior.centred, evidence)
    many = evidence.take(np.repeat(np.arange(columns), draws))
    flat = pieces.reshape(*pieces.shape[:2], -1)
    exact = answer_likelihood(many.offset + flat, many).value.reshape(columns, draws)
    curvature, rank_one = around.curvature, around.rank_one
    bent = curvature * posterior.centred
    bent -= rank_one * (rank_one * posterior.centred).sum(axis=1, keepdims=True)
    linear = np.einsum("tpn,tpnd->nd", posterior.dual + bent, pieces)
    square = np.einsum("tpn,tpnd->nd", curvature, pieces**2)
    square -= (np.einsum("tpn,tpnd->tnd", rank_one, pieces) ** 2).sum(axis=0)
    weight: FloatArray = exact - linear + 0.5 * square
    return weight
