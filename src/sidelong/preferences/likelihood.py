"""Chance of the answers given what each piece felt like: value, gradient and curvature.

- Rating: cumulative probit, ``P(rating <= k) = Phi(threshold_k - z)``.
- Went down: ordered logit, ``P(no) = F(cut_1 - b z)``, ``P(no or later) = F(cut_2 - b z)``.
- Felt best: ``P(p is named) = exp(c z_p + bonus_p) / sum of exp over the candidates``; candidates
  are the positions that were tried that night and did not fail.

All three are functions of the same z, so the noise of a piece is shared, and all three are
log-concave in z: the mode is unique. The curvature of one night is ``diag(d) - r r'``,
which the filter uses as it stands. Third derivatives, which say how lopsided the shape around the
mode is, are in :mod:`sidelong.preferences.skewness`.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import erfcx

from sidelong.preferences.courses import FloatArray
from sidelong.preferences.model import Evidence

ROOT_HALF = np.sqrt(0.5)
MILLS = np.sqrt(0.5 * np.pi)
_LOG_ROOT_TWO_PI = 0.5 * np.log(2.0 * np.pi)
_HIGHEST = 300.0  # Logit up to which exponentials neither overflow nor vanish.
LOWEST = -35.0  # Phi(35) is 1 to the last bit, and erfcx does not overflow yet.


@dataclass(frozen=True, eq=False)
class Likelihood:
    """Log chance of a trainee's answers and its derivatives in z.

    Parameters
    ----------
    value : ndarray of float, shape (n_trainees,)
        Log chance of all answers.
    gradient : ndarray of float, shape (n_nights, 5, n_trainees)
        First derivative.
    curvature : ndarray of float, shape (n_nights, 5, n_trainees)
        Diagonal part d of the negative second derivative ``diag(d) - r r'``, >= 0.
    rank_one : ndarray of float, shape (n_nights, 5, n_trainees)
        Vector r of that derivative; 0 where no best was named.
    """

    value: FloatArray
    gradient: FloatArray
    curvature: FloatArray
    rank_one: FloatArray


def answer_likelihood(ease: FloatArray, evidence: Evidence) -> Likelihood:
    """Evaluate all three kinds of answer.

    Parameters
    ----------
    ease : ndarray of float, shape (n_nights, 5, n_trainees)
        What each piece felt like: z.
    evidence : Evidence
        The answers, and the weights of ease on going down and on being named.

    Returns
    -------
    Likelihood
        Value, gradient and curvature.
    """
    rating = rating_likelihood(ease, evidence.rating_low, high=evidence.rating_high)
    slope, weight = evidence.went_slope, evidence.choice_slope
    went = went_likelihood(slope * ease, evidence.went_low, high=evidence.went_high)
    choice = choice_likelihood(weight * ease, evidence)
    return Likelihood(
        value=rating[0].sum(axis=(0, 1)) + went[0].sum(axis=(0, 1)) + evidence.went_gap + choice[0],
        gradient=rating[1] + slope * went[1] + weight * (evidence.chosen - choice[1]),
        curvature=rating[2] + slope**2 * went[2] + weight**2 * choice[1],
        rank_one=weight * choice[1],
    )


def rating_likelihood(
    ease: FloatArray, low: FloatArray, *, high: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Evaluate the cumulative probit of each rating.

    Written with scaled complementary error functions around the nearer cut point, so that it is
    exact however far z lies from the answer.

    Parameters
    ----------
    ease : ndarray of float
        z.
    low, high : ndarray of float, same shape
        Cut points around each answer, ``low < high``.

    Returns
    -------
    value, gradient, curvature : ndarray of float, same shape
        Log chance, its derivative in z, and minus its second derivative.
    """
    mirrored = low + high < 2.0 * ease
    near = np.where(mirrored, ease - high, low - ease)
    far = np.where(mirrored, ease - low, high - ease)
    np.maximum(near, LOWEST, out=near)
    ratio = np.exp(0.5 * (near - far) * (near + far))
    scaled = MILLS * (erfcx(ROOT_HALF * near) - ratio * erfcx(ROOT_HALF * far))
    value = np.log(scaled) - 0.5 * near * near - _LOG_ROOT_TWO_PI
    slope = (1.0 - ratio) / scaled
    curvature = slope * slope + (far * ratio - near) / scaled
    np.maximum(curvature, 0.0, out=curvature)
    return value, np.where(mirrored, -slope, slope), curvature


def went_likelihood(
    logit: FloatArray, low: FloatArray, *, high: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Evaluate the ordered logit of each went-down answer.

    Uses ``F(h) - F(l) = F(h) F(-l) (1 - exp(l - h))``; the last factor does not depend on z and
    is kept with the evidence.

    Parameters
    ----------
    logit : ndarray of float
        Weight times z.
    low, high : ndarray of float, same shape
        Cut points around each answer.

    Returns
    -------
    value, gradient, curvature : ndarray of float, same shape
        Log chance without the constant, its derivative in the logit, and minus the second one.
    """
    over, under = logit - high, low - logit
    beyond = np.maximum(np.maximum(over, under) - _HIGHEST, 0.0)
    above = 1.0 + np.exp(np.minimum(over, _HIGHEST))
    below = 1.0 + np.exp(np.minimum(under, _HIGHEST))
    # Beyond the highest logit the log chance falls in a straight line.
    value = -np.log(above * below) - beyond
    above, below = 1.0 / above, 1.0 / below
    return value, above - below, above * (1.0 - above) + below * (1.0 - below)


def choice_likelihood(utility: FloatArray, evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Evaluate the choice of the night's best.

    Parameters
    ----------
    utility : ndarray of float, shape (n_nights, 5, n_trainees)
        Weight times z.
    evidence : Evidence
        Who was named among whom.

    Returns
    -------
    value : ndarray of float, shape (n_trainees,)
        Log chance of the choices.
    chance : ndarray of float, shape (n_nights, 5, n_trainees)
        Chance of being named; 0 in nights without a choice. The derivative in the utility is
        ``chosen - chance``.
    """
    total = utility + evidence.bonus
    total -= total.max(axis=1, keepdims=True)
    weight = np.exp(total)
    scale = weight.sum(axis=1, keepdims=True)
    named = (evidence.chosen * total).sum(axis=1) - evidence.has_choice * np.log(scale[:, 0])
    return named.sum(axis=0), weight / scale * evidence.has_choice[:, None]
