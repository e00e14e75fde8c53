"""How strongly ease decides which position is named, from chances that leave the naming out.

Laplace's approximation cannot tell this. Where the favourite is the one that the mode has ahead
anyway, it takes the naming for certain once the weight of ease is large, however little is known
about the night: the evidence then grows with the weight without end. The two parameters of the
choice are therefore found by another likelihood, which cannot be deceived so: every naming is
predicted from all other answers, those of the same night included, and the chance that it gets is
averaged over what these leave open [1]_. All other hyperparameters stay with the evidence.

References
----------
.. [1] Besag, J. (1975). Statistical analysis of non-lattice data. The Statistician 24, 179-195:
   the product of such conditional chances, called pseudolikelihood. (cited from memory)
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from scipy.optimize import minimize

from sidelong.preferences.courses import BoolArray, FloatArray, IntArray
from sidelong.preferences.likelihood import choice_likelihood
from sidelong.preferences.mode import Posterior
from sidelong.preferences.model import FAR, Evidence
from sidelong.preferences.points import normal_points
from sidelong.preferences.score import Covariates
from sidelong.preferences.skewness import piece_covariances
from sidelong.preferences.smoother import smooth_covariances

N_POINTS = 32
"""Points of the average over what the other answers leave open."""

_JITTER = 1e-9
_DIFFERENCE = 1e-4


@dataclass(frozen=True, eq=False)
class Namings:
    """Nights on which a best was named, as all other answers see them.

    Parameters
    ----------
    mean : ndarray of float, shape (n_namings, 5)
        What the pieces of the night felt like, the naming left out.
    root : ndarray of float, shape (n_namings, 5, 5)
        Cholesky factor of its covariance.
    named : ndarray of int, shape (n_namings,)
        Who was named.
    candidates : ndarray of bool, shape (n_namings, 5)
        Who could have been.
    again : ndarray of float, shape (n_namings, 5)
        1 on the position named the last time.
    """

    mean: FloatArray
    root: FloatArray
    named: IntArray
    candidates: BoolArray
    again: FloatArray


@dataclass(frozen=True, eq=False)
class ChoiceFit:
    """The two parameters of the choice.

    Parameters
    ----------
    vector : ndarray of float, shape (2,)
        Logarithm of ``choice_slope``, and ``choice_again``.
    information : ndarray of float, shape (2, 2)
        Curvature of the log chance there, without the prior.
    """

    vector: FloatArray
    information: FloatArray


def leave_namings_out(posterior: Posterior, evidence: Evidence, covariates: Covariates) -> Namings:
    """Take each naming out of the posterior of its night.

    Parameters
    ----------
    posterior : Posterior
        At the mode, all answers used.
    evidence : Evidence
        Answers of n trainees.
    covariates : Covariates
        Of the same trainees.

    Returns
    -------
    Namings
        One row per night with a naming.
    """
    covariances, _ = smooth_covariances(posterior.filtered, posterior.information)
    spread = piece_covariances(
        covariances,
        posterior.information,
        night_sd=evidence.night_sd,
        piece_sd=evidence.piece_sd,
    )
    ease = evidence.offset + posterior.centred
    weight = evidence.choice_slope
    _, chance = choice_likelihood(weight * ease, evidence)
    who, night = np.nonzero(evidence.has_choice.T)
    share, slope = chance[night, :, who], weight[who, None]
    chosen = evidence.chosen[night, :, who]
    curvature = slope[:, :, None] ** 2 * (
        share[:, :, None] * np.eye(share.shape[1]) - share[:, :, None] * share[:, None, :]
    )
    within = spread[night, :, :, who]
    without = np.linalg.solve(np.eye(share.shape[1]) - within @ curvature, within)
    without = 0.5 * (without + np.swapaxes(without, 1, 2)) + _JITTER * np.eye(share.shape[1])
    pull = slope * (chosen - share)
    return Namings(
        mean=ease[night, :, who] - np.einsum("nij,nj->ni", without, pull),
        root=np.asarray(np.linalg.cholesky(without), dtype=np.float64),
        named=chosen.argmax(axis=1),
        candidates=evidence.bonus[night, :, who] > -0.5 * FAR,
        again=covariates.again[night, :, who],
    )


def join_namings(parts: Sequence[Namings]) -> Namings:
    """Put the namings of several groups of trainees together."""
    return Namings(
        **{
            f.name: np.concatenate([getattr(each, f.name) for each in parts])
            for f in fields(Namings)
        }
    )


def fit_choice(
    namings: Namings, start: FloatArray, *, mean: FloatArray, precision: FloatArray
) -> ChoiceFit:
    """Find the weight of ease and the bonus for having been named.

    Parameters
    ----------
    namings : Namings
        Where there are none, the prior decides.
    start : ndarray of float, shape (2,)
        Where to begin.
    mean : ndarray of float, shape (2,)
        Of the normal prior.
    precision : ndarray of float, shape (2, 2)
        Of the normal prior.

    Returns
    -------
    ChoiceFit
        The most probable two.
    """
    felt = _spread_out(namings)

    def fall(vector: FloatArray) -> tuple[float, FloatArray]:
        value, gradient = log_chance(vector, namings, felt=felt)
        away = vector - mean
        return 0.5 * float(away @ precision @ away) - value, precision @ away - gradient

    found = np.asarray(minimize(fall, start, jac=True, method="BFGS", options={"gtol": 0.05}).x)
    columns = [
        (
            log_chance(found - step, namings, felt=felt)[1]
            - log_chance(found + step, namings, felt=felt)[1]
        )
        / (2.0 * _DIFFERENCE)
        for step in _DIFFERENCE * np.eye(2)
    ]
    information = np.array(columns)
    return ChoiceFit(found, 0.5 * (information + information.T))


def log_chance(
    vector: FloatArray, namings: Namings, *, felt: FloatArray
) -> tuple[float, FloatArray]:
    """Sum the log chances of all namings, with the gradient.

    Parameters
    ----------
    vector : ndarray of float, shape (2,)
        Logarithm of ``choice_slope``, and ``choice_again``.
    namings : Namings
        What was named.
    felt : ndarray of float, shape (5, n_points, n_namings)
        What the pieces may have felt like.

    Returns
    -------
    value : float
        Sum of log chances, each averaged over the points.
    gradient : ndarray of float, shape (2,)
        Its derivative.
    """
    slope, bonus = np.exp(vector[0]), vector[1]
    again = namings.again.T[:, None]
    share = slope * felt
    share += np.where(namings.candidates, bonus * namings.again, -FAR).T[:, None]
    share -= share.max(axis=0)
    np.exp(share, out=share)
    share /= share.sum(axis=0)
    rows = np.arange(namings.named.size)
    each = share[namings.named, :, rows].T
    mean = each.mean(axis=0)
    weight = each / (mean * N_POINTS)
    by_slope = felt[namings.named, :, rows].T - (share * felt).sum(axis=0)
    by_bonus = namings.again[rows, namings.named] - (share * again).sum(axis=0)
    gradient = np.array([slope * (weight * by_slope).sum(), (weight * by_bonus).sum()])
    return float(np.log(mean).sum()), gradient


def _spread_out(namings: Namings) -> FloatArray:
    """Give points of what each night may have felt like, shape (5, n_points, n_namings)."""
    points = normal_points(N_POINTS, namings.mean.shape[1])
    felt = namings.mean[:, :, None] + namings.root @ points.T
    return np.ascontiguousarray(np.moveaxis(felt, 0, -1))
