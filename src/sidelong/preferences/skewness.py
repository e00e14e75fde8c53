"""From the mode to the mean: the first correction to the Laplace approximation.

The posterior of ease is lopsided where answers are extreme: its mean lies beyond its mode, and
differences between positions read off the mode are too small (by some 7 % in simulated courses).
To first order the mean is the mode plus the posterior covariance times

    s = 1/2 * (third derivative of the log chance, contracted with the covariance of z),

see Tierney and Kadane [1]_ for the expansion. Since ``s`` enters like a gradient, one more pass
over the nights gives the corrected means of all nights at once. The covariance is then read from
the curvature at the mean instead of at the mode. On probit trials, where the exact answer is
known, this brings the mean from within 0.23 to within 0.005 posterior SD and the SD from 6 % to
1.2 % too small.

References
----------
.. [1] Tierney, L., Kadane, J. B. (1986). Accurate approximations for posterior moments and
   marginal densities. Journal of the American Statistical Association 81, 82-86.
"""

from dataclasses import replace

import numpy as np
from scipy.special import erfcx, expit

from sidelong.preferences.courses import FloatArray
from sidelong.preferences.likelihood import (
    LOWEST,
    MILLS,
    ROOT_HALF,
    answer_likelihood,
    choice_likelihood,
)
from sidelong.preferences.mode import Posterior
from sidelong.preferences.model import Evidence
from sidelong.preferences.smoother import (
    Information,
    filter_forward,
    filter_means,
    integrate_noise,
    multiply,
    multiply_blocks,
    noise_times,
    smooth_covariances,
    smooth_means,
)


def centre_on_mean(posterior: Posterior, evidence: Evidence) -> Posterior:
    """Move the approximation from the mode to the mean.

    Parameters
    ----------
    posterior : Posterior
        As found around the mode.
    evidence : Evidence
        The answers.

    Returns
    -------
    Posterior
        Corrected means, covariances from the curvature there, the same evidence.
    """
    noise = {"night_sd": evidence.night_sd, "piece_sd": evidence.piece_sd}
    means, dual = _corrected_means(posterior, evidence)
    centred = means + noise_times(dual, **noise)
    likelihood = answer_likelihood(evidence.offset + centred, evidence)
    information = integrate_noise(likelihood, centred, **noise)
    # This vector makes the corrected means the solution: they are the prior covariance times dual.
    information = replace(information, vector=dual + information.apply(means))
    filtered = filter_forward(information, first=evidence.first, drift=evidence.drift)
    return replace(
        posterior,
        information=information,
        filtered=filtered,
        centred=centred,
        dual=dual,
        lopsided=np.abs(centred - posterior.centred).max(axis=(0, 1)),
    )


def _corrected_means(posterior: Posterior, evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Give mean ease on all nights and its dual."""
    information, filtered = posterior.information, posterior.filtered
    noise = {"night_sd": evidence.night_sd, "piece_sd": evidence.piece_sd}
    covariances, _ = smooth_covariances(filtered, information)
    spread = piece_covariances(covariances, information, **noise)
    pull = skewness_pull(evidence.offset + posterior.centred, evidence, spread)
    shift = pull - information.apply(noise_times(pull, **noise))
    moved = replace(information, vector=information.vector + shift)
    refiltered = filter_means(filtered.covariance, moved, log_det=filtered.log_det)
    return smooth_means(refiltered, moved)


def piece_covariances(
    covariances: FloatArray, information: Information, *, night_sd: FloatArray, piece_sd: FloatArray
) -> FloatArray:
    """Give the posterior covariance of what the pieces of each night felt like.

    Parameters
    ----------
    covariances : ndarray of float, shape (n_nights, 5, 5, n_trainees)
        Of ease, given all nights.
    information : Information
        What the answers say about ease.
    night_sd, piece_sd : ndarray of float, shape (n_trainees,)
        SD of both noises.

    Returns
    -------
    ndarray of float, shape (n_nights, 5, 5, n_trainees)
        Of z: ease with night and piece noise.
    """
    nights, k = covariances.shape[:2]
    noise = night_sd**2 + piece_sd**2 * np.eye(k)[:, :, None]
    result = np.empty_like(covariances)
    for night in range(nights):
        keep = np.eye(k)[:, :, None] - multiply_blocks(noise, information.dense(night))
        inner = multiply_blocks(keep, covariances[night])
        result[night] = multiply_blocks(inner, np.swapaxes(keep, 0, 1))
        result[night] += multiply_blocks(keep, noise)
    return result


def skewness_pull(ease: FloatArray, evidence: Evidence, spread: FloatArray) -> FloatArray:
    """Contract the third derivative of the log chance of the answers with a covariance.

    Parameters
    ----------
    ease : ndarray of float, shape (n_nights, 5, n_trainees)
        z.
    evidence : Evidence
        The answers.
    spread : ndarray of float, shape (n_nights, 5, 5, n_trainees)
        Covariance of z within each night.

    Returns
    -------
    ndarray of float, shape (n_nights, 5, n_trainees)
        Minus half the derivative in z of the trace of curvature times covariance.
    """
    own = np.einsum("tiin->tin", spread)
    slope, weight = evidence.went_slope, evidence.choice_slope
    third = _rating_third(ease, evidence) + slope**3 * _went_third(slope * ease, evidence)
    _, chance = choice_likelihood(weight * ease, evidence)
    mixed = multiply(spread, chance)
    centre = (chance * (own - 2.0 * mixed)).sum(axis=1, keepdims=True)
    # Derivative of sum_j chance_j own_j - chance' spread chance, where the chances sum to 1.
    lean = chance * (own - 2.0 * mixed - centre)
    pull: FloatArray = 0.5 * (third * own - weight**3 * lean)
    return pull


def _rating_third(ease: FloatArray, evidence: Evidence) -> FloatArray:
    """Third derivative of the cumulative probit, scaled as in the likelihood."""
    low, high = evidence.rating_low, evidence.rating_high
    mirrored = low + high < 2.0 * ease
    near = np.maximum(np.where(mirrored, ease - high, low - ease), LOWEST)
    far = np.where(mirrored, ease - low, high - ease)
    ratio = np.exp(0.5 * (near - far) * (near + far))
    scaled = MILLS * (erfcx(ROOT_HALF * near) - ratio * erfcx(ROOT_HALF * far))
    one = (1.0 - ratio) / scaled
    two = (near - far * ratio) / scaled
    three = (near * near - 1.0 - (far * far - 1.0) * ratio) / scaled
    third = three - 3.0 * one * two + 2.0 * one**3
    signed: FloatArray = np.where(mirrored, -third, third)
    return signed


def _went_third(logit: FloatArray, evidence: Evidence) -> FloatArray:
    """Third derivative of the ordered logit in the logit."""
    above = expit(evidence.went_high - logit)
    below = expit(logit - evidence.went_low)
    third: FloatArray = above * (1.0 - above) * (1.0 - 2.0 * above)
    third -= below * (1.0 - below) * (1.0 - 2.0 * below)
    return third
