"""Spreads on a grid: how probable each is, everything else moved to its own top there.

A spread near 0 cannot be told from a smaller one, so the posterior of its logarithm is far from
normal in a small cohort. At every node of the grid the log posterior is evaluated, with gradient
and the information on the positions' means; the means are integrated in closed form, the rest is
moved to its top in a few steps. A move that promises more than was ever seen to come true is not
believed: it is tried first.
"""

from dataclasses import dataclass, fields
from itertools import product

import numpy as np

from sidelong.preferences.climb import climb
from sidelong.preferences.coordinates import N_COORDINATES, PARTS, SMALLEST
from sidelong.preferences.courses import BoolArray, FloatArray, IntArray
from sidelong.preferences.hyperparameters import CENTRE, N_POSITIONS, REFERENCE_NIGHTS
from sidelong.preferences.landscape import CHOICE, Landscape, invert

NO_DIFFERENCES = 0.15
"""Prior chance that trainees do not differ in which position suits them."""

NO_MEANS = 0.5
"""Prior chance that positions do not differ on average."""

SMALL = 150
"""Trainees up to which the spreads are laid out on a grid; beyond they are nearly normal."""

DOUBT = 6.0
"""SDs from 0 of a spread, as variance, beyond which nobody asks whether it is 0."""

_STEPS = np.arange(-4.0, 2.1) * 1.2  # Of the grid, in SDs around the top.
_NARROW = 0.25  # SD of a logarithm up to which its posterior is nearly even-sided.
_LEFT_OUT = 9.0  # Nodes this far below the highest are not looked at twice.
_CLOSE = 1.5  # Farthest that others follow a spread in a straight line, on the logarithm.
_FARTHEST = 3.0  # Longest move of one coordinate in one round, in its own SD at the top.
_ROUNDS = 2
_TRUSTED_GAIN = 1.0  # Most that a move which nobody has tried yet is believed to promise.
_BARE_TOLERANCE = 0.02
_LAST_NIGHT = np.array([1.0, 0.5 * REFERENCE_NIGHTS])  # Drift counts by half of all nights.

SPREADS = [PARTS["spread_sd"].start, PARTS["drift_sd"].start]
MEANS = list(range(PARTS["position_means"].start, PARTS["position_means"].stop))
_FREE_POSITIONS = [place for place in range(N_POSITIONS) if place != CENTRE]


@dataclass(frozen=True, eq=False)
class Nodes:
    """Spreads laid out, and the rest around its own top at each; m of them.

    Parameters
    ----------
    vector : ndarray of float, shape (m, 37)
        Top at each node.
    log_chance : ndarray of float, shape (m, 2)
        Weight of each node without and with means that differ, constant left out.
    root : ndarray of float, shape (m, 4, 4)
        Root of the covariance of the means.
    is_bare : ndarray of bool, shape (m,)
        Where trainees do not differ.
    """

    vector: FloatArray
    log_chance: FloatArray
    root: FloatArray
    is_bare: BoolArray


@dataclass(frozen=True, eq=False)
class _Surveyed:
    """Nodes on their way: where each stands, and the move to its top with what that promises."""

    vector: FloatArray
    log_chance: FloatArray
    root: FloatArray
    move: FloatArray
    gain: FloatArray

    def improve(self, rows: IntArray, tried: "_Surveyed") -> None:
        """Take over what was tried where it is higher; elsewhere a shorter move is next."""
        higher = tried.log_chance.max(axis=1) > self.log_chance[rows].max(axis=1) - 0.1
        taken = rows[higher]
        for each in fields(self):
            getattr(self, each.name)[taken] = getattr(tried, each.name)[higher]
        self.move[rows[~higher]] *= 0.3


def weigh_nodes(landscape: Landscape, vector: FloatArray, covariance: FloatArray) -> Nodes:
    """Lay out the spreads, move everything else to its top there, and weigh.

    Parameters
    ----------
    landscape : Landscape
        Of the cohort.
    vector : ndarray of float, shape (37,)
        The top of the general description.
    covariance : ndarray of float, shape (37, 37)
        Posterior covariance of the coordinates around it.

    Returns
    -------
    Nodes
        The last one without differences between trainees, where that is worth asking.
    """
    places, log_prior = _lay_out(landscape, vector, covariance)
    is_bare = np.arange(len(places)) == len(places) - 1
    vectors = _follow(places, vector, covariance)
    if _may_be_bare(landscape, covariance):
        _start_from_bare(landscape, vectors, vector)
    else:
        vectors, log_prior, is_bare = vectors[:-1], log_prior[:-1], is_bare[:-1]
    rest = np.setdiff1d(np.arange(N_COORDINATES), [*SPREADS, *MEANS, *CHOICE])
    metric = invert(invert(covariance)[np.ix_(rest, rest)])
    found = _complete(landscape, vectors, rest=rest, metric=metric)
    for _ in range(_ROUNDS):
        height = (found.log_chance + log_prior[:, None]).max(axis=1)
        high = np.flatnonzero(height > height.max() - _LEFT_OUT)
        tried = _complete(
            landscape, found.vector[high] + found.move[high], rest=rest, metric=metric
        )
        found.improve(high, tried)
    settled = np.where(found.gain[:, None] < _TRUSTED_GAIN, found.move, 0.0)
    settled[:, MEANS] = found.move[:, MEANS]
    return Nodes(found.vector + settled, found.log_chance + log_prior[:, None], found.root, is_bare)


def _follow(places: FloatArray, vector: FloatArray, covariance: FloatArray) -> FloatArray:
    """Start every node where the others go with its spreads in a straight line."""
    tied = covariance[:, SPREADS] @ invert(covariance[np.ix_(SPREADS, SPREADS)])
    tied[[*SPREADS, *MEANS, *CHOICE]] = 0.0
    away = np.clip(places - vector[SPREADS], -_CLOSE, _CLOSE)
    vectors: FloatArray = vector + away @ tied.T
    vectors[:, SPREADS] = places
    return vectors


def _start_from_bare(landscape: Landscape, vectors: FloatArray, vector: FloatArray) -> None:
    """Find the top without differences, and start nodes below the top between the two."""
    bare = vector.copy()
    bare[SPREADS], bare[MEANS] = np.log(SMALLEST), 0.0
    held = [*SPREADS, *MEANS]
    bare = climb(landscape, bare, tolerance=_BARE_TOLERANCE, settle=False, held=held).vector
    # Differences on the last night, as variance: noise that is left over takes their place.
    apart = np.exp(2.0 * vectors[:, SPREADS]) @ _LAST_NIGHT
    share = apart / (np.exp(2.0 * vector[SPREADS]) @ _LAST_NIGHT)
    below = np.flatnonzero(share < 1.0)
    between = bare + share[below, None] * (vector - bare)
    between[:, SPREADS] = vectors[below][:, SPREADS]
    vectors[below] = between


def _lay_out(
    landscape: Landscape, vector: FloatArray, covariance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give the nodes' spreads, both 0 last, and their log prior without the landscape's part."""
    inner = covariance[np.ix_(SPREADS, SPREADS)]
    deviation = np.sqrt(np.diag(inner))
    precision = np.diag(landscape.precision)[SPREADS]
    if landscape.n_trainees > SMALL:
        grid = vector[None, SPREADS]
        log_area = np.log(2.0 * np.pi) + 0.5 * np.linalg.slogdet(inner)[1]
    else:
        steps = [_STEPS[np.abs(_STEPS) < (9.0 if sd > _NARROW else 3.0)] * sd for sd in deviation]
        grid = vector[SPREADS] + np.array(list(product(*steps)))
        log_area = np.log((_STEPS[1] - _STEPS[0]) ** 2 * deviation.prod())
    bare = np.full((1, 2), np.log(SMALLEST))
    density = 0.5 * np.log(precision / (2.0 * np.pi)).sum()
    log_prior = np.full(len(grid) + 1, np.log1p(-NO_DIFFERENCES) + density + log_area)
    # Both spreads being 0 has a chance, not a density: the landscape's part is taken out again.
    beyond = bare[0] - landscape.mean[SPREADS]
    log_prior[-1] = np.log(NO_DIFFERENCES) + 0.5 * (precision * beyond**2).sum()
    return np.concatenate([grid, bare]), log_prior


def _may_be_bare(landscape: Landscape, covariance: FloatArray) -> bool:
    """Tell whether it is worth asking if trainees do not differ at all."""
    deviation = float(np.sqrt(covariance[SPREADS[0], SPREADS[0]]))
    return landscape.n_trainees <= SMALL or 0.5 / deviation < DOUBT


def _complete(
    landscape: Landscape, vectors: FloatArray, *, rest: IntArray, metric: FloatArray
) -> _Surveyed:
    """Integrate over all but the spreads."""
    survey = landscape.survey(vectors)
    prior = landscape.precision[np.ix_(MEANS, MEANS)]
    precision = _information_on_means(survey.positions) + prior
    slope, means = survey.gradient[:, MEANS], vectors[:, MEANS]
    step = np.linalg.solve(precision, slope[:, :, None])[:, :, 0]
    pull, gain = _pull_to_top(survey.gradient[:, rest], metric)
    base = survey.value + np.minimum(gain, _TRUSTED_GAIN)
    free = 0.5 * (slope * step).sum(axis=1)
    free += 0.5 * (np.linalg.slogdet(prior)[1] - np.linalg.slogdet(precision)[1])
    bound = -np.einsum("mi,mi->m", means, slope)
    bound -= 0.5 * np.einsum("mi,mij,mj->m", means, precision, means)
    # At means of 0 the value is that of the answers alone: the prior of the means is 0 there.
    log_chance = np.stack([base + bound + np.log(NO_MEANS), base + free + np.log1p(-NO_MEANS)], 1)
    move = np.zeros_like(vectors)
    move[:, MEANS], move[:, rest] = step, pull
    root = np.asarray(np.linalg.cholesky(np.linalg.inv(precision)), dtype=np.float64)
    return _Surveyed(vectors.copy(), log_chance, root, move, gain)


def _information_on_means(positions: FloatArray) -> FloatArray:
    """Leave out what all positions share: it is no difference, and the cut points follow it."""
    shared = positions.sum(axis=2)
    total = np.maximum(shared.sum(axis=1), 1e-12)
    known = positions - shared[:, :, None] * shared[:, None, :] / total[:, None, None]
    free: FloatArray = known[:, _FREE_POSITIONS][:, :, _FREE_POSITIONS]
    return free


def _pull_to_top(gradient: FloatArray, metric: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the step of everything else towards its top at each node, and what it promises."""
    pull = gradient @ metric
    # Far from the top the metric of the top is no guide: nobody moves further than it can tell.
    reach = np.abs(pull / np.sqrt(np.diag(metric))).max(axis=1)
    share = np.minimum(1.0, _FARTHEST / np.maximum(reach, _FARTHEST))
    gain: FloatArray = (share - 0.5 * share**2) * (pull * gradient).sum(axis=1)
    return share[:, None] * pull, gain
