"""Each trainee's answer held against the exact posterior, and corrected where it is off.

Courses are drawn from the normal approximation and weighed by the exact chance of the answers
(importance sampling). The same draws answer twice, with weights and without; the difference
corrects the approximation's own answer, so that what the draws have by chance cancels. How heavy
the tail of the weights is tells whether any of it can be trusted: the shape ``k`` of a generalised
Pareto distribution fitted to the largest weights [1]_ [2]_. Below 0.7 the corrected answer stands;
above, or where few effective draws are left, neither answer can be relied on, and the one of the
approximation is kept and flagged.

References
----------
.. [1] Vehtari, A., Simpson, D., Gelman, A., Yao, Y., Gabry, J. (2024). Pareto smoothed importance
   sampling. Journal of Machine Learning Research 25. (cited from memory)
.. [2] Zhang, J., Stephens, M. A. (2009). A new and efficient estimation method for the generalized
   Pareto distribution. Technometrics 51, 316-325. (cited from memory)
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from sidelong.preferences.courses import BoolArray, Courses, FloatArray
from sidelong.preferences.estimate import PreferenceEstimates
from sidelong.preferences.hyperparameters import DEFAULT, Shared, mix
from sidelong.preferences.ratings import COVERAGE
from sidelong.preferences.weighed import WeighedDraws, weigh_draws

N_DRAWS = 2048
"""Draws for each trainee, over all points of the mixture together."""

TRUSTED = 0.7
"""Tail shape of the weights from which nothing can be relied on [1]_."""

FEWEST = 100
"""Effective draws below which the correction would be chance."""

LOPSIDED = 0.75
"""Distance between mode and mean of what a piece felt like, from which an answer may be off: below,
three quarters of all draws stay effective (an observation on simulated trainees)."""

FELT = 0.02
"""Change of a chance below which the approximation's own answer is left: what 2,048 draws have by
chance is half of it."""


@dataclass(frozen=True, eq=False)
class CorrectedEstimates:
    """Estimates held against the exact posterior.

    Parameters
    ----------
    estimates : PreferenceEstimates
        Corrected where the approximation was off and the weights can be trusted.
    tail_shape : ndarray of float, shape (n_trainees,)
        Pareto shape k of the largest weights; below 0.5 good, from 0.7 on not to be trusted.
    effective_share : ndarray of float, shape (n_trainees,)
        Effective draws over draws, (0, 1]: 1 where the approximation is exact.
    moved : ndarray of float, shape (n_trainees,)
        Largest change of a chance, to be the best or to go down first try, that the weights ask
        for.
    is_corrected : ndarray of bool, shape (n_trainees,)
        Whether the estimates were changed.
    is_trusted : ndarray of bool, shape (n_trainees,)
        Whether the tail is light enough and enough effective draws are left.
    """

    estimates: PreferenceEstimates
    tail_shape: FloatArray
    effective_share: FloatArray
    moved: FloatArray
    is_corrected: BoolArray
    is_trusted: BoolArray


def correct_estimates(
    courses: Courses,
    estimates: PreferenceEstimates,
    *,
    hyperparameters: Shared = DEFAULT,
    draws: int = N_DRAWS,
) -> CorrectedEstimates:
    """Hold estimates against the exact posterior, trainee by trainee.

    Costs some 20 times as much as the estimates themselves; meant for the answer that a follow-up
    begins with, not for scoring many.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    estimates : PreferenceEstimates
        Made from it.
    hyperparameters : Hyperparameters or HyperparameterMixture
        That the estimates rest on.
    draws : int
        For each trainee; a power of 2, at least 256.

    Returns
    -------
    CorrectedEstimates
        One row per trainee.

    Raises
    ------
    ValueError
        If there are too few draws to know the tail.
    """
    if draws < 256:
        raise ValueError(f"{draws} draws cannot tell how heavy the tail is; take 256 or more")
    shared = mix(hyperparameters)
    pictures = [
        weigh_draws(
            courses.take(np.array([row])), shared, open_to=estimates.open_to[row], draws=draws
        )
        for row in range(courses.n_trainees)
    ]
    shape = np.array([picture.tail_shape for picture in pictures])
    share = np.array([1.0 / (p.weight**2).sum() / p.weight.size for p in pictures])
    changed = [_correct(estimates.take(np.array([row])), p) for row, p in enumerate(pictures)]
    moved = np.array(
        [_largest_change(estimates, after, row=row) for row, after in enumerate(changed)]
    )
    trusted = (shape < TRUSTED) & (share * draws >= FEWEST)
    corrected = trusted & (moved >= FELT)
    return CorrectedEstimates(
        estimates=_take_over(estimates, changed, corrected),
        tail_shape=shape,
        effective_share=share,
        moved=moved,
        is_corrected=corrected,
        is_trusted=trusted,
    )


def mend_estimates(
    courses: Courses, estimates: PreferenceEstimates, *, hyperparameters: Shared = DEFAULT
) -> CorrectedEstimates:
    """Hold only those estimates against the exact posterior that are likely to be off.

    Those whose posterior is lopsided: see ``LOPSIDED``. All others count as trusted without a
    look, with ``tail_shape`` nan. The rule looks at one trainee alone, so that nobody's answer
    depends on who else is answered.

    Parameters
    ----------
    courses : Courses
        What was recorded.
    estimates : PreferenceEstimates
        Made from it.
    hyperparameters : Hyperparameters or HyperparameterMixture
        That the estimates rest on.

    Returns
    -------
    CorrectedEstimates
        One row per trainee.
    """
    n = courses.n_trainees
    rows = np.flatnonzero(estimates.lopsided > LOPSIDED)
    whole = CorrectedEstimates(
        estimates=estimates,
        tail_shape=np.full(n, np.nan),
        effective_share=np.full(n, np.nan),
        moved=np.zeros(n),
        is_corrected=np.zeros(n, dtype=bool),
        is_trusted=np.ones(n, dtype=bool),
    )
    if not rows.size:
        return whole
    held = correct_estimates(
        courses.take(rows), estimates.take(rows), hyperparameters=hyperparameters
    )
    for name in ("tail_shape", "effective_share", "moved", "is_corrected", "is_trusted"):
        getattr(whole, name)[rows] = getattr(held, name)
    values = {f.name: getattr(estimates, f.name).copy() for f in fields(PreferenceEstimates)}
    for name, each in values.items():
        each[rows] = getattr(held.estimates, name)
    return replace(whole, estimates=PreferenceEstimates(**values))


def _correct(estimates: PreferenceEstimates, pictured: WeighedDraws) -> PreferenceEstimates:
    """Add what the weights change to one trainee's own answer."""
    new, old = pictured.weight, pictured.plain
    difference = new - old
    ratings = pictured.rating
    centre, before = new @ ratings, old @ ratings
    spread = new @ (ratings - centre) ** 2 - old @ (ratings - before) ** 2
    away, away_before = pictured.ease - new @ pictured.ease, pictured.ease - old @ pictured.ease
    covariance = (away.T * new) @ away - (away_before.T * old) @ away_before
    moved = np.tensordot(difference, pictured.easier, axes=1)
    tail = 0.5 * (1.0 - COVERAGE)
    low, high = (
        _quantiles(ratings, new, at=at) - _quantiles(ratings, old, at=at) for at in (tail, 1 - tail)
    )
    expected = estimates.expected_rating[0] + centre - before
    return replace(
        estimates,
        ease=estimates.ease + difference @ pictured.ease,
        covariance=estimates.covariance + covariance,
        p_best=_shift(estimates.p_best, difference @ pictured.best),
        p_ahead=_shift(estimates.p_ahead, difference @ pictured.ahead),
        p_easier=np.clip(estimates.p_easier + moved, 0.0, 1.0),
        p_first_try=np.clip(estimates.p_first_try + difference @ pictured.first, 0.0, 1.0),
        expected_rating=expected[None],
        sd=np.sqrt(np.maximum(estimates.sd**2 + spread, 0.25 * estimates.sd**2)),
        lower=np.minimum(estimates.lower + low, expected),
        upper=np.maximum(estimates.upper + high, expected),
    )


def _shift(chances: FloatArray, by: FloatArray) -> FloatArray:
    """Move chances that sum to 1 so that they still do, shape (1, 5)."""
    shifted = np.clip(chances + by, 0.0, 1.0)
    whole: FloatArray = shifted / shifted.sum()
    return whole


def _largest_change(
    estimates: PreferenceEstimates, after: PreferenceEstimates, *, row: int
) -> float:
    """Tell how far the chances of one trainee move."""
    names = ("p_best", "p_ahead", "p_first_try")
    changes = (np.abs(getattr(after, name)[0] - getattr(estimates, name)[row]) for name in names)
    return float(max(np.nanmax(change) for change in changes))


def _quantiles(values: FloatArray, weight: FloatArray, *, at: float) -> FloatArray:
    """Read weighted quantiles off draws, shape (5,)."""
    order = values.argsort(axis=0)
    reached = np.cumsum(weight[order], axis=0)
    place = np.minimum((reached < at).sum(axis=0), len(values) - 1)
    columns = np.arange(values.shape[1])
    found: FloatArray = values[order[place, columns], columns]
    return found


def _take_over(
    estimates: PreferenceEstimates, changed: list[PreferenceEstimates], corrected: BoolArray
) -> PreferenceEstimates:
    """Put corrected rows in the place of the approximation's."""
    rows = {
        f.name: np.concatenate(
            [
                getattr(each if corrected[k] else estimates.take(np.array([k])), f.name)
                for k, each in enumerate(changed)
            ]
        )
        for f in fields(PreferenceEstimates)
    }
    return PreferenceEstimates(**rows)
