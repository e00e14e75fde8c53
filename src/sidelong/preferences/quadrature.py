"""Log evidence with the trainee's overall level integrated by adaptive quadrature.

Where a trainee has few answers and trainees differ much, Laplace's approximation of the level is
the weakest link. Here the level that all positions of a trainee share is taken out of the model,
put in at Gauss-Hermite points around its own posterior, and the rest is left to Laplace given each
point. Where nothing but the level is random (no spread, no drift, no noise) the result is exact
but for the number of points: the cumulative link mixed model with one random intercept, as other
programs fit it [1]_.

References
----------
.. [1] Liu, Q., Pierce, D. A. (1994). A note on Gauss-Hermite quadrature. Biometrika 81, 624-629.
   (cited from memory)
"""

from dataclasses import replace

import numpy as np
from scipy.special import logsumexp

from sidelong.preferences.courses import Courses, FloatArray
from sidelong.preferences.hyperparameters import Hyperparameters
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.smoother import smooth_covariances, smooth_means


def integrate_level(
    courses: Courses, *, hyperparameters: Hyperparameters, points: int = 10
) -> FloatArray:
    """Give every trainee's log evidence, the level by quadrature.

    Parameters
    ----------
    courses : Courses
        Nights of n trainees.
    hyperparameters : Hyperparameters
        Held fixed; ``level_sd`` above 0.
    points : int
        Gauss-Hermite points.

    Returns
    -------
    ndarray of float, shape (n_trainees,)
        Log chance of all answers.

    Raises
    ------
    ValueError
        If there is no level to integrate.
    """
    if not hyperparameters.level_sd > 0:
        raise ValueError("level_sd is 0: there is no level to integrate")
    centre, width = _level_posterior(courses, hyperparameters)
    rest = prepare_evidence(courses, replace(hyperparameters, level_sd=0.0))
    nodes, weights = np.polynomial.hermite_e.hermegauss(points)
    level = centre + width * nodes[:, None]
    every = rest.repeat(points)
    given = find_mode(replace(every, offset=every.offset + level.ravel()), tolerance=1e-10)
    prior = -0.5 * (level / hyperparameters.level_sd) ** 2 - np.log(hyperparameters.level_sd)
    density = given.log_evidence.reshape(level.shape) + prior + 0.5 * nodes[:, None] ** 2
    weight = weights[:, None] * width / np.sqrt(2.0 * np.pi)
    total: FloatArray = logsumexp(density, axis=0, b=weight)
    return total


def _level_posterior(
    courses: Courses, hyperparameters: Hyperparameters
) -> tuple[FloatArray, FloatArray]:
    """Find where each trainee's level lies and how surely, all by Laplace."""
    posterior = find_mode(prepare_evidence(courses, hyperparameters), tolerance=1e-10)
    means, _ = smooth_means(posterior.filtered, posterior.information)
    covariances, _ = smooth_covariances(posterior.filtered, posterior.information)
    # Given ease on night 1 the level is a regression on its mean over positions.
    k = means.shape[1]
    level, spread = hyperparameters.level_sd**2, hyperparameters.spread_sd**2
    weight = level / (level + spread / k)
    centre: FloatArray = weight * means[0].mean(axis=0)
    variance = weight**2 * covariances[0].mean(axis=(0, 1)) + level * (1.0 - weight)
    return centre, np.sqrt(variance)
