"""Derivative of the log evidence in every hyperparameter, trainee by trainee.

The Laplace approximation of a trainee's log evidence is

    L = log p(y | z) - a'(z - offset) / 2 - log det(I + K H) / 2      at the mode z,

with ``z - offset = K a`` and H the curvature of the answers. A hyperparameter moves L directly,
and by moving the mode. Only the determinant feels the second way, by the gradient
``s = -tr(S dH/dz) / 2``, S the posterior covariance, which :mod:`sidelong.preferences.skewness`
has; the implicit-function theorem carries it back with one further pass over the nights::

    u = S s,    v = s - H u,    b = a + v
    dL = d log p + u' d(gradient) - tr(S dH) / 2                      answers' own parameters
       + b' d offset                                                  effects
       + (b' dK b - v' dK v - tr(M dK)) / 2,    M = H - H S H         spreads and noises

The random walk needs no derivative of its recursions: a change of ease on one night carries on to
all later ones, so b, v and M are summed from that night on. This is the disturbance smoother [1]_.

References
----------
.. [1] Koopman, S. J. (1993). Disturbance smoother for state space models. Biometrika 80, 117-126.
   (cited from memory)
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Self, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfcx, expit

from sidelong.preferences.courses import FIRST, LATER, NO, Courses, FloatArray
from sidelong.preferences.hyperparameters import (
    N_POSITIONS,
    RATINGS_OF_SCALE,
    REFERENCE_NIGHTS,
    Hyperparameters,
)
from sidelong.preferences.likelihood import (
    LOWEST,
    MILLS,
    ROOT_HALF,
    Likelihood,
    answer_likelihood,
    choice_likelihood,
)
from sidelong.preferences.mode import Posterior
from sidelong.preferences.model import (
    Evidence,
    learning_curve,
    named_again,
    piece_sizes,
    rating_places,
)
from sidelong.preferences.skewness import piece_covariances, skewness_pull
from sidelong.preferences.smoother import (
    filter_means,
    multiply,
    noise_times,
    smooth_covariances,
    smooth_means,
)

Scores = dict[str, FloatArray]
_Number = TypeVar("_Number", bound=np.generic)


@dataclass(frozen=True, eq=False)
class Covariates:
    """What each effect and cut point is multiplied with; trainee axis last.

    Parameters
    ----------
    slot, previous, place, went : ndarray of int, shape (n_nights, 5, n_trainees)
        As in :class:`Courses`; ``place`` numbers the answers of the trainee's form, -1 if blank.
    failed, size, again : ndarray of float, shape (n_nights, 5, n_trainees)
        Failure just before, mm beyond 5 mm, named the last time.
    scale : ndarray of int, shape (n_trainees,)
        Form of the rating.
    """

    slot: NDArray[np.integer]
    previous: NDArray[np.integer]
    place: NDArray[np.integer]
    went: NDArray[np.integer]
    failed: FloatArray
    size: FloatArray
    again: FloatArray
    scale: NDArray[np.integer]

    def repeat(self, times: int) -> Self:
        """Put the same trainees side by side, once for every point."""
        return type(self)(**{f.name: np.tile(getattr(self, f.name), times) for f in fields(self)})


@dataclass(frozen=True, eq=False)
class _Sensitivity:
    """The mode's surroundings that every derivative needs."""

    ease: FloatArray
    shift: FloatArray  # u
    carried: FloatArray  # v
    total: FloatArray  # b
    spread: FloatArray  # S within each night
    later: FloatArray  # M summed from each night on


def gather_covariates(courses: Courses) -> Covariates:
    """Lay out once what all derivatives use.

    Parameters
    ----------
    courses : Courses
        Nights of n trainees.

    Returns
    -------
    Covariates
        Trainee axis last.
    """

    def last(values: NDArray[_Number]) -> NDArray[_Number]:
        return np.ascontiguousarray(np.moveaxis(values, 0, -1))

    places = rating_places()[courses.scale[:, None, None], courses.rating]
    return Covariates(
        slot=last(courses.slot),
        previous=last(courses.previous),
        place=last(places),
        went=last(courses.went_down),
        failed=last(courses.previous_failed.astype(float)),
        size=last(piece_sizes(courses)),
        again=last(named_again(courses).astype(float)),
        scale=courses.scale,
    )


def score_hyperparameters(
    posterior: Posterior,
    evidence: Evidence,
    covariates: Covariates,
    *,
    points: Sequence[Hyperparameters],
) -> Scores:
    """Differentiate every trainee's log evidence.

    Parameters
    ----------
    posterior : Posterior
        At the mode.
    evidence : Evidence
        Answers of n trainees under each of m points.
    covariates : Covariates
        Of the same trainees, repeated m times.
    points : sequence of Hyperparameters
        The m points.

    Returns
    -------
    dict of str to ndarray of float, shape (k, m n)
        Derivatives by hyperparameter, in its own units and of its full length.
    """
    around = _sensitivity(posterior, evidence)
    likelihood = answer_likelihood(around.ease, evidence)
    return {
        **_effect_scores(around.total, covariates, points=points),
        **_spread_scores(around, likelihood, points=points),
        **_rating_scores(around, evidence, covariates=covariates),
        **_went_scores(around, evidence, covariates=covariates, points=points),
        **_choice_scores(around, evidence, covariates=covariates),
    }


def _sensitivity(posterior: Posterior, evidence: Evidence) -> _Sensitivity:
    information, filtered = posterior.information, posterior.filtered
    noise = {"night_sd": evidence.night_sd, "piece_sd": evidence.piece_sd}
    ease = evidence.offset + posterior.centred
    covariances, later = smooth_covariances(filtered, information)
    spread = piece_covariances(covariances, information, **noise)
    pull = skewness_pull(ease, evidence, spread)
    vector = pull - information.apply(noise_times(pull, **noise))
    only = replace(information, vector=vector)
    states, carried = smooth_means(
        filter_means(filtered.covariance, only, log_det=filtered.log_det), only
    )
    return _Sensitivity(
        ease=ease,
        shift=states + noise_times(carried, **noise),
        carried=carried,
        total=posterior.dual + carried,
        spread=spread,
        later=later,
    )


def _effect_scores(
    total: FloatArray, covariates: Covariates, *, points: Sequence[Hyperparameters]
) -> Scores:
    """Differentiate in what is added to ease: each effect collects b where it applies."""

    def collect(codes: NDArray[np.integer], first: int) -> FloatArray:
        places = range(first, first + N_POSITIONS)
        return np.array([np.where(codes == k, total, 0.0).sum(axis=(0, 1)) for k in places])

    nightly = total.sum(axis=1)
    slopes = [_learning_slopes(total.shape[0], point) for point in points]
    share = nightly.shape[1] // len(points)
    rise, rate = (
        np.repeat(np.stack(each, axis=1), share, axis=1) for each in zip(*slopes, strict=True)
    )
    return {
        "position_means": total.sum(axis=0),
        "learning_gain": (rise * nightly).sum(axis=0)[None],
        "learning_rate": (rate * nightly).sum(axis=0)[None],
        "slot_effects": collect(covariates.slot, 1),
        "carryover_effects": collect(covariates.previous, 0),
        "carryover_failed": np.einsum("tpn,tpn->n", covariates.failed, total)[None],
        "size_effect": np.einsum("tpn,tpn->n", covariates.size, total)[None],
    }


def _learning_slopes(
    n_nights: int, hyperparameters: Hyperparameters
) -> tuple[FloatArray, FloatArray]:
    """Differentiate the learning curve in its gain and in its rate, each night."""
    nights = np.arange(1, n_nights + 1)
    unit = learning_curve(nights, replace(hyperparameters, learning_gain=1.0))
    elapsed, span = nights - 1.0, REFERENCE_NIGHTS - 1.0
    rate = max(hyperparameters.learning_rate, 1e-6)
    whole = -np.expm1(-rate * span)
    slope = elapsed * np.exp(-rate * elapsed) - unit * span * np.exp(-rate * span)
    return unit, hyperparameters.learning_gain * slope / whole


def _spread_scores(
    around: _Sensitivity, likelihood: Likelihood, *, points: Sequence[Hyperparameters]
) -> Scores:
    """Differentiate in the SDs: of ease on night 1, of its drift, and of both noises."""
    total = np.cumsum(around.total[::-1], axis=0)[::-1]
    carried = np.cumsum(around.carried[::-1], axis=0)[::-1]
    own = (total**2 - carried**2 - np.einsum("tiin->tin", around.later)).sum(axis=1)
    shared = total.sum(axis=1) ** 2 - carried.sum(axis=1) ** 2 - around.later.sum(axis=(1, 2))
    d, r = likelihood.curvature, likelihood.rank_one
    row = d - r * r.sum(axis=1, keepdims=True)
    along = multiply(around.spread, r)
    inner = np.einsum("tiin->tin", around.spread)
    # 1' M 1 and tr M of each night, with M = H - H S H and H = diag(d) - r r'.
    night = row.sum(axis=(0, 1)) - np.einsum("tin,tin->n", row, multiply(around.spread, row))
    piece = d - r**2 - d * (d * inner - along * r) + r * (along * d)
    piece -= r**2 * (r * along).sum(axis=1, keepdims=True)
    night = _squares(around.total.sum(axis=1), around.carried.sum(axis=1)) - night
    each = _squares(around.total, around.carried) - piece.sum(axis=(0, 1))
    variances = {
        "level_sd": shared[0],
        "spread_sd": own[0],
        "level_drift_sd": shared[1:].sum(axis=0),
        "drift_sd": own[1:].sum(axis=0),
        "night_sd": night,
        "piece_sd": each,
    }
    share = night.size // len(points)
    return {
        name: np.repeat([getattr(point, name) for point in points], share)[None] * values
        for name, values in variances.items()
    }


def _squares(total: FloatArray, carried: FloatArray) -> FloatArray:
    """Sum total^2 - carried^2 for each trainee."""
    difference: FloatArray = (total**2 - carried**2).reshape(-1, total.shape[-1]).sum(axis=0)
    return difference


def _rating_scores(around: _Sensitivity, evidence: Evidence, *, covariates: Covariates) -> Scores:
    """Differentiate in the cut points of each form of the rating."""
    low, high = evidence.rating_low - around.ease, evidence.rating_high - around.ease
    mirrored = low + high < 0.0
    near = np.maximum(np.where(mirrored, -high, low), LOWEST)
    far = np.where(mirrored, -low, high)
    ratio = np.exp(0.5 * (near - far) * (near + far))
    scaled = MILLS * (erfcx(ROOT_HALF * near) - ratio * erfcx(ROOT_HALF * far))
    nearer, farther = 1.0 / scaled, ratio / scaled
    at_low = np.where(mirrored, farther, nearer)
    at_high = np.where(mirrored, nearer, farther)
    slope = at_low - at_high
    bend = high * at_high - low * at_low
    own = np.einsum("tiin->tin", around.spread)
    upper = at_high * (
        1.0
        + around.shift * (high - slope)
        - 0.5 * own * (2.0 * slope * (high - slope) + 1.0 - high**2 - bend)
    )
    lower = at_low * (
        -1.0
        + around.shift * (slope - low)
        - 0.5 * own * (2.0 * slope * (slope - low) - 1.0 + low**2 + bend)
    )
    scores = {}
    for form, answers in RATINGS_OF_SCALE.items():
        own_form = covariates.scale == form
        scores[f"thresholds_{form}"] = np.array(
            [
                (
                    np.where(covariates.place == cut, upper, 0.0)
                    + np.where(covariates.place == cut + 1, lower, 0.0)
                ).sum(axis=(0, 1))
                * own_form
                for cut in range(len(answers) - 1)
            ]
        )
    return scores


def _went_scores(
    around: _Sensitivity,
    evidence: Evidence,
    *,
    covariates: Covariates,
    points: Sequence[Hyperparameters],
) -> Scores:
    """Differentiate in the cut points of going down and in the weight of ease."""
    weight = evidence.went_slope
    logit = weight * around.ease
    own = np.einsum("tiin->tin", around.spread)
    above, below = expit(evidence.went_high - logit), expit(logit - evidence.went_low)
    bend_above, bend_below = above * (1.0 - above), below * (1.0 - below)
    lean_above, lean_below = bend_above * (1.0 - 2.0 * above), bend_below * (1.0 - 2.0 * below)
    shift = weight * around.shift
    half = 0.5 * weight**2 * own
    upper = 1.0 - above + shift * bend_above - half * lean_above
    lower = below - 1.0 + shift * bend_below + half * lean_below
    later = covariates.went == LATER
    # Both cut points of "later" also move the part of its chance that does not depend on ease.
    gaps = [1.0 / np.expm1(point.went_cuts[1] - point.went_cuts[0]) for point in points]
    gap = np.repeat(gaps, weight.size // len(points))
    cut_no = np.where(covariates.went == NO, upper, 0.0) + np.where(later, lower - gap, 0.0)
    cut_first = np.where(later, upper + gap, 0.0)
    cut_first += np.where(covariates.went == FIRST, lower, 0.0)
    slope, bend = above - below, bend_above + bend_below
    steep = (
        around.ease * slope
        + around.shift * (slope - logit * bend)
        - 0.5 * own * (2.0 * weight * bend + weight * logit * (lean_below - lean_above))
    )
    return {
        "went_cuts": np.array([cut_no.sum(axis=(0, 1)), cut_first.sum(axis=(0, 1))]),
        "went_slope": steep.sum(axis=(0, 1))[None],
    }


def _choice_scores(around: _Sensitivity, evidence: Evidence, *, covariates: Covariates) -> Scores:
    """Differentiate in the weight of ease on being named and in the bonus for being named again."""
    weight = evidence.choice_slope
    _, chance = choice_likelihood(weight * around.ease, evidence)
    own = np.einsum("tiin->tin", around.spread)
    mixed = multiply(around.spread, chance)
    shape = own - 2.0 * mixed
    left = evidence.chosen - chance
    scores = {}
    for name, moved in (("choice_slope", around.ease), ("choice_again", covariates.again)):
        change = chance * (moved - (chance * moved).sum(axis=1, keepdims=True))
        score = moved * left - weight * around.shift * change - 0.5 * weight**2 * change * shape
        if name == "choice_slope":
            score += around.shift * left - weight * chance * (own - mixed)
        scores[name] = score.sum(axis=(0, 1))[None]
    return scores
