"""Were stated chances kept? Calibration of chances against what happened, yes or no.

Of all the times that 70 % was said, about 70 % should come true. The table puts outcomes with
similar chances together; the Brier score and its parts, Spiegelhalter's test and the logistic
recalibration need no groups or say how they use them. ``docs/method/calibration.md`` has the
symbols, and when each of them misleads.
"""

from dataclasses import dataclass
from math import erfc, sqrt

import numpy as np
from numpy.typing import NDArray

from sidelong.outcomes.proportions import Z_95, wilson_interval

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int_]

NEAREST = 5e-5
"""Chances nearer to 0 or 1 than half of the fourth decimal are taken as that far away."""

MOST_STEPS = 50


@dataclass(frozen=True, eq=False)
class CalibrationTable:
    """Outcomes with similar stated chances, side by side.

    Parameters
    ----------
    n, happened : ndarray of int, shape (n_groups,)
        Outcomes in each group, >= 1, and how many of them happened.
    stated : ndarray of float, shape (n_groups,)
        Mean stated chance, ascending, in [0, 1].
    least, most : ndarray of float, shape (n_groups,)
        Smallest and largest stated chance of the group.
    share, lower, upper : ndarray of float, shape (n_groups,)
        Share that happened with its 95 % Wilson interval, in [0, 1].
    """

    n: IntArray
    happened: IntArray
    stated: FloatArray
    least: FloatArray
    most: FloatArray
    share: FloatArray
    lower: FloatArray
    upper: FloatArray

    @property
    def agrees(self) -> NDArray[np.bool_]:
        """Whether each group's interval holds its mean stated chance, shape (n_groups,)."""
        return (self.lower <= self.stated) & (self.stated <= self.upper)


@dataclass(frozen=True)
class BrierParts:
    """The Brier score and what it is made of.

    ``score = reliability - resolution + uncertainty + within``.

    Parameters
    ----------
    score : float
        Mean squared distance of chance and outcome, [0, 1]; smaller is better.
    reliability : float
        Mean squared distance of the groups' stated chance and share; 0 where calibrated.
    resolution : float
        How far the groups' shares differ from the overall share; larger is better.
    uncertainty : float
        Share times one minus share: what nobody could say beforehand.
    within : float
        What grouping hides: spread of chances within groups, less what it told of the outcome.
    """

    score: float
    reliability: float
    resolution: float
    uncertainty: float
    within: float


@dataclass(frozen=True)
class CalibrationTest:
    """Spiegelhalter's test: a distance in standard deviations, and how often chance goes as far.

    Parameters
    ----------
    z : float
        About standard normal if every stated chance is right.
    p_value : float
        Two-sided, in [0, 1].
    """

    z: float
    p_value: float


@dataclass(frozen=True)
class Recalibration:
    """Logistic recalibration: ``logit(share) = intercept + slope * logit(chance)``.

    Parameters
    ----------
    shift, shift_se : float
        Intercept with the slope held at 1, and its standard error; below 0 where chances were
        stated too high.
    intercept, slope : float
        Both free; 0 and 1 where calibrated. A slope below 1 says that chances were too extreme.
    intercept_se, slope_se : float
        Standard errors.
    """

    shift: float
    shift_se: float
    intercept: float
    slope: float
    intercept_se: float
    slope_se: float

    @property
    def slope_interval(self) -> tuple[float, float]:
        """95 % interval of the slope, by the normal approximation."""
        return self.slope - Z_95 * self.slope_se, self.slope + Z_95 * self.slope_se

    @property
    def shift_interval(self) -> tuple[float, float]:
        """95 % interval of the intercept at slope 1, by the normal approximation."""
        return self.shift - Z_95 * self.shift_se, self.shift + Z_95 * self.shift_se


def group_chances(chances: FloatArray, *, n_groups: int) -> IntArray:
    """Put similar chances together, about as many in each group; equal ones are never parted.

    Parameters
    ----------
    chances : ndarray of float, shape (n,)
        In [0, 1]; n >= 1.
    n_groups : int
        Groups wished for, >= 1; there are fewer where many chances are equal.

    Returns
    -------
    ndarray of int, shape (n,)
        Group of each, from 0, by ascending chance; it does not depend on the order given.
    """
    values, place, counts = np.unique(chances, return_inverse=True, return_counts=True)
    # A value goes where the middle of its ranks falls.
    middle = np.cumsum(counts) - counts / 2
    wished = np.minimum((middle * n_groups / chances.size).astype(int), n_groups - 1)
    _, dense = np.unique(wished, return_inverse=True)
    groups: IntArray = dense[place].reshape(values[place].shape)
    return groups


def tabulate_calibration(
    chances: FloatArray, outcomes: NDArray[np.bool_], *, n_groups: int
) -> CalibrationTable:
    """Lay shares that happened beside stated chances, in groups of about equal numbers.

    Parameters
    ----------
    chances : ndarray of float, shape (n,)
        Stated chances, in [0, 1]; n >= 1.
    outcomes : ndarray of bool, shape (n,)
        Whether it happened.
    n_groups : int
        Groups wished for, >= 1; fixed beforehand, since what is seen depends on it.

    Returns
    -------
    CalibrationTable
        A row for each group.
    """
    p, y = _checked(chances, outcomes)
    groups = group_chances(p, n_groups=n_groups)
    n = np.bincount(groups)
    happened = np.bincount(groups, weights=y).round().astype(int)
    lower, upper = wilson_interval(happened, n)
    rows = range(n.size)
    return CalibrationTable(
        n=n,
        happened=happened,
        stated=np.bincount(groups, weights=p) / n,
        least=np.array([p[groups == row].min() for row in rows]),
        most=np.array([p[groups == row].max() for row in rows]),
        share=happened / n,
        lower=lower,
        upper=upper,
    )


def split_brier(
    chances: FloatArray, outcomes: NDArray[np.bool_], *, groups: IntArray | None = None
) -> BrierParts:
    """Give the Brier score [1]_ and its parts.

    Over distinct chances the parts are Murphy's [2]_ and ``within`` is 0. Over groups of unlike
    chances two more terms make the sum exact [3]_; ``within`` is their difference.

    Parameters
    ----------
    chances : ndarray of float, shape (n,)
        Stated chances, in [0, 1]; n >= 1.
    outcomes : ndarray of bool, shape (n,)
        Whether it happened.
    groups : ndarray of int, shape (n,), optional
        Group of each, from 0 without gaps; distinct chances where it is not given.

    Returns
    -------
    BrierParts
        They add up to the score.

    References
    ----------
    .. [1] Brier, G. W. (1950). Mon. Weather Rev. 78, 1-3 (cited from memory).
    .. [2] Murphy, A. H. (1973). J. Appl. Meteorol. 12, 595-600 (cited from memory).
    .. [3] Stephenson, D. B., Coelho, C. A. S., Jolliffe, I. T. (2008). Weather Forecast. 23,
       752-757 (cited from memory).

    Examples
    --------
    >>> round(split_brier(np.array([0.2, 0.2, 0.6]), np.array([False, True, True])).score, 4)
    0.28
    """
    p, y = _checked(chances, outcomes)
    own = np.unique(p, return_inverse=True)[1] if groups is None else groups
    n = np.bincount(own)
    stated = (np.bincount(own, weights=p) / n)[own]
    share = (np.bincount(own, weights=y) / n)[own]
    overall = y.mean()
    spread, told = p - stated, y - share
    return BrierParts(
        score=float(((p - y) ** 2).mean()),
        reliability=float(((stated - share) ** 2).mean()),
        resolution=float(((share - overall) ** 2).mean()),
        uncertainty=float(overall * (1 - overall)),
        within=float((spread**2 - 2 * spread * told).mean()),
    )


def check_calibration(chances: FloatArray, outcomes: NDArray[np.bool_]) -> CalibrationTest | None:
    """Test whether outcomes agree with stated chances, without groups (Spiegelhalter's z [1]_).

    It is the Brier score less its expectation under the stated chances, in standard deviations.

    Parameters
    ----------
    chances : ndarray of float, shape (n,)
        Stated chances, in [0, 1].
    outcomes : ndarray of bool, shape (n,)
        Whether it happened.

    Returns
    -------
    CalibrationTest or None
        None where it cannot speak: with every chance at 0, 0.5 or 1 the score does not vary.

    References
    ----------
    .. [1] Spiegelhalter, D. J. (1986). Stat. Med. 5, 421-433 (cited from memory); a worked example
       is in Rufibach, K. (2010). J. Clin. Epidemiol. 63, 938-939 (read).

    Examples
    --------
    >>> round(check_calibration(np.array([0.2, 0.2]), np.array([True, False])).z, 2)
    1.06
    """
    p, y = _checked(chances, outcomes)
    spread = float((((1 - 2 * p) ** 2) * p * (1 - p)).sum())
    if spread <= 0:
        return None
    z = float(((y - p) * (1 - 2 * p)).sum()) / sqrt(spread)
    return CalibrationTest(z=z, p_value=erfc(abs(z) / sqrt(2)))


def recalibrate(chances: FloatArray, outcomes: NDArray[np.bool_]) -> Recalibration | None:
    """Fit intercept and slope of what happened on the stated log odds [1]_.

    Parameters
    ----------
    chances : ndarray of float, shape (n,)
        Stated chances, in [0, 1]; those nearer to an end than :data:`NEAREST` are moved there.
    outcomes : ndarray of bool, shape (n,)
        Whether it happened.

    Returns
    -------
    Recalibration or None
        None where there is no answer: all outcomes alike, all chances alike, or outcomes that a
        limit of the chance parts without error, so that the slope has no bound.

    References
    ----------
    .. [1] Cox, D. R. (1958). Biometrika 45, 562-565 (cited from memory).
    """
    p, y = _checked(chances, outcomes)
    held = np.clip(p, NEAREST, 1 - NEAREST)
    odds = np.log(held / (1 - held))
    if not 0 < y.sum() < y.size or np.ptp(odds) == 0 or _is_parted(odds, y):
        return None
    one = np.ones((y.size, 1))
    both = np.column_stack([np.ones(y.size), odds])
    shifted = _fit_logistic(one, y, offset=odds)
    free = _fit_logistic(both, y, offset=np.zeros(y.size))
    if shifted is None or free is None:
        return None
    (shift,), ((shift_variance,),) = shifted
    (intercept, slope), covariance = free
    return Recalibration(
        shift=float(shift),
        shift_se=sqrt(float(shift_variance)),
        intercept=float(intercept),
        slope=float(slope),
        intercept_se=sqrt(float(covariance[0, 0])),
        slope_se=sqrt(float(covariance[1, 1])),
    )


def _checked(chances: FloatArray, outcomes: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Give both as numbers, or refuse what cannot be laid side by side."""
    p, y = np.asarray(chances, dtype=float), np.asarray(outcomes, dtype=float)
    if p.ndim != 1 or p.shape != y.shape or not p.size:
        raise ValueError("chances and outcomes must be two rows of equal, positive length")
    if not ((p >= 0) & (p <= 1)).all():
        raise ValueError("a stated chance is not within 0..1")
    if not np.isin(y, (0.0, 1.0)).all():
        raise ValueError("an outcome is neither 0 nor 1")
    return p, y


def _is_parted(odds: FloatArray, y: FloatArray) -> bool:
    """Tell whether one limit parts what happened from what did not; the slope then runs away."""
    yes, no = odds[y == 1], odds[y == 0]
    return bool(yes.min() >= no.max() or no.min() >= yes.max())


def _fit_logistic(
    design: FloatArray, y: FloatArray, *, offset: FloatArray
) -> tuple[FloatArray, FloatArray] | None:
    """Maximise the logistic likelihood by Newton's method, steps halved until it rises."""
    weights = np.zeros(design.shape[1])

    def log_likelihood(at: FloatArray) -> float:
        eta = design @ at + offset
        return float((y * eta - np.logaddexp(0.0, eta)).sum())

    value = log_likelihood(weights)
    for _ in range(MOST_STEPS):
        eta = design @ weights + offset
        fitted = np.exp(-np.logaddexp(0.0, -eta))
        curvature = design.T @ (design * (fitted * (1 - fitted))[:, None])
        step = np.linalg.solve(curvature, design.T @ (y - fitted))
        size = 1.0
        while size > 1e-8 and log_likelihood(weights + size * step) < value - 1e-12:
            size /= 2
        weights = weights + size * step
        value = log_likelihood(weights)
        if np.abs(step).max() < 1e-10:
            return weights, np.linalg.inv(curvature)
    return None
