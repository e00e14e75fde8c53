"""What a cohort leaves open: several hyperparameters, each with its weight.

How much trainees differ decides how far their own nights are trusted, and a small cohort hardly
knows it. Around the top the posterior is far from normal there: a spread near 0 cannot be told
from a smaller one. Two numbers are therefore laid out on a grid, the logarithms of ``spread_sd``
and ``drift_sd``; at every node the others are taken as normal around their own top there, as
nested approximations do [1]_. Two plain descriptions stand beside the general one, because a
continuous prior never believes in them however long it looks:

- trainees do not differ in which position suits them (both spreads are 0),
- positions do not differ on average (all means are 0).

Each has a prior chance of its own and is weighed by how well it explains the answers; a
description that needs fewer numbers gains where they are not needed [2]_.

References
----------
.. [1] Rue, H., Martino, S., Chopin, N. (2009). Approximate Bayesian inference for latent Gaussian
   models by using integrated nested Laplace approximations. J. R. Stat. Soc. B 71, 319-392.
   (cited from memory)
.. [2] Kass, R. E., Raftery, A. E. (1995). Bayes factors. J. Am. Stat. Assoc. 90, 773-795. (cited
   from memory)
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.linalg import hadamard
from scipy.special import logsumexp

from sidelong.preferences.coordinates import N_COORDINATES, PARTS, SMALLEST, from_coordinates
from sidelong.preferences.courses import BoolArray, FloatArray, IntArray
from sidelong.preferences.hyperparameters import (
    CENTRE,
    N_POSITIONS,
    HyperparameterMixture,
    Hyperparameters,
)
from sidelong.preferences.landscape import CHOICE, Landscape, Survey, invert

NO_DIFFERENCES = 0.1
"""Prior chance that trainees do not differ in which position suits them."""

NO_MEANS = 0.5
"""Prior chance that positions do not differ on average."""

SMALL = 150
"""Trainees up to which the spreads are laid out on a grid; beyond they are nearly normal."""

DOUBT = 6.0
"""SDs from 0 of a spread, as variance, beyond which nobody asks whether it is 0."""

_STEPS = np.arange(-5.0, 3.1) * 0.9  # Of the grid, in SDs around the top.
_NARROW = 0.25  # SD of a logarithm up to which its posterior is nearly even-sided.
_LEFT_OUT = 9.0  # Nodes this far below the highest are not looked at twice.
_CLOSE = 1.5  # Farthest that others follow a spread in a straight line, on the logarithm.
_FARTHEST = 3.0  # Longest move of one coordinate in one round, in its own SD at the top.
_ROUNDS = 2

_SPREADS = [PARTS["spread_sd"].start, PARTS["drift_sd"].start]
_MEANS = list(range(PARTS["position_means"].start, PARTS["position_means"].stop))
_FREE_POSITIONS = [place for place in range(N_POSITIONS) if place != CENTRE]


@dataclass(frozen=True, eq=False)
class _Nodes:
    """Spreads laid out, and the rest around its own top at each; m of them.

    ``vector`` (m, 37) is the top at the node, ``log_chance`` (m, 2) the weight of the node
    without and with means, ``root`` (m, 4, 4) how far the means may lie, ``is_bare`` (m,) where
    trainees do not differ.
    """

    vector: FloatArray
    log_chance: FloatArray
    root: FloatArray
    is_bare: BoolArray


@dataclass(frozen=True, eq=False)
class OpenQuestions:
    """What a cohort leaves possible.

    Parameters
    ----------
    likeliest : Hyperparameters
        Top of the most probable description.
    mixture : HyperparameterMixture
        Points of equal weight over all of them.
    no_differences : float
        Posterior chance that trainees do not differ in which position suits them.
    no_means : float
        Posterior chance that positions do not differ on average.
    """

    likeliest: Hyperparameters
    mixture: HyperparameterMixture
    no_differences: float
    no_means: float


def leave_open(
    landscape: Landscape, vector: FloatArray, *, covariance: FloatArray, number: int
) -> OpenQuestions:
    """Spread points over what a cohort leaves possible.

    Parameters
    ----------
    landscape : Landscape
        Of the cohort.
    vector : ndarray of float, shape (37,)
        The top.
    covariance : ndarray of float, shape (37, 37)
        Posterior covariance of the coordinates around it.
    number : int
        Of points, a power of 2; 1 gives the top of the most probable description alone.

    Returns
    -------
    OpenQuestions
        Points, and what is thought of both plain descriptions.
    """
    nodes = _weigh_nodes(landscape, vector, covariance)
    weight = np.exp(nodes.log_chance - logsumexp(nodes.log_chance))
    best = np.unravel_index(int(weight.argmax()), weight.shape)
    likeliest = _place(nodes, int(best[0]), with_means=bool(best[1]))
    points: tuple[Hyperparameters, ...] = (from_coordinates(likeliest),)
    if number > 1:
        single = landscape.n_trainees > SMALL
        points = _spread_over(nodes, weight, _half(covariance, single=single), number=number)
    return OpenQuestions(
        likeliest=from_coordinates(likeliest),
        mixture=HyperparameterMixture(points, (1.0 / number,) * number),
        no_differences=float(weight[nodes.is_bare].sum()),
        no_means=float(weight[:, 0].sum()),
    )


def _weigh_nodes(landscape: Landscape, vector: FloatArray, covariance: FloatArray) -> _Nodes:
    """Lay out the spreads, move everything else to its top there, and weigh."""
    places, log_prior = _lay_out(landscape, vector, covariance)
    is_bare = np.arange(len(places)) == len(places) - 1
    if not _may_be_bare(landscape, covariance):
        places, log_prior, is_bare = places[:-1], log_prior[:-1], is_bare[:-1]
    tied = covariance[:, _SPREADS] @ invert(covariance[np.ix_(_SPREADS, _SPREADS)])
    tied[[*_SPREADS, *_MEANS, *CHOICE]] = 0.0
    away = np.clip(places - vector[_SPREADS], -_CLOSE, _CLOSE)
    vectors = vector + away @ tied.T
    vectors[:, _SPREADS] = places
    rest = np.setdiff1d(np.arange(N_COORDINATES), [*_SPREADS, *_MEANS, *CHOICE])
    metric = invert(invert(covariance)[np.ix_(rest, rest)])
    survey = landscape.survey(vectors)
    log_chance, roots, moves = _complete(landscape, vectors, survey, rest=rest, metric=metric)
    for _ in range(_ROUNDS):
        high = np.flatnonzero(
            (log_chance + log_prior[:, None]).max(axis=1)
            > (log_chance + log_prior[:, None]).max() - _LEFT_OUT
        )
        tried = vectors[high] + moves[high]
        found = _complete(landscape, tried, landscape.survey(tried), rest=rest, metric=metric)
        vectors[high], log_chance[high], roots[high], moves[high] = tried, *found
    return _Nodes(vectors + moves, log_chance + log_prior[:, None], roots, is_bare)


def _lay_out(
    landscape: Landscape, vector: FloatArray, covariance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Give the nodes' spreads, both 0 last, and their log prior without the landscape's part."""
    inner = covariance[np.ix_(_SPREADS, _SPREADS)]
    deviation = np.sqrt(np.diag(inner))
    precision = np.diag(landscape.precision)[_SPREADS]
    if landscape.n_trainees > SMALL:
        grid = vector[None, _SPREADS]
        log_area = np.log(2.0 * np.pi) + 0.5 * np.linalg.slogdet(inner)[1]
    else:
        steps = [_STEPS[np.abs(_STEPS) < (9.0 if sd > _NARROW else 3.0)] * sd for sd in deviation]
        grid = vector[_SPREADS] + np.array(list(product(*steps)))
        log_area = np.log((_STEPS[1] - _STEPS[0]) ** 2 * deviation.prod())
    bare = np.full((1, 2), np.log(SMALLEST))
    density = 0.5 * np.log(precision / (2.0 * np.pi)).sum()
    log_prior = np.full(len(grid) + 1, np.log1p(-NO_DIFFERENCES) + density + log_area)
    # Both spreads being 0 has a chance, not a density: the landscape's part is taken out again.
    beyond = bare[0] - landscape.mean[_SPREADS]
    log_prior[-1] = np.log(NO_DIFFERENCES) + 0.5 * (precision * beyond**2).sum()
    return np.concatenate([grid, bare]), log_prior


def _may_be_bare(landscape: Landscape, covariance: FloatArray) -> bool:
    """Tell whether it is worth asking if trainees do not differ at all."""
    deviation = float(np.sqrt(covariance[_SPREADS[0], _SPREADS[0]]))
    return landscape.n_trainees <= SMALL or 0.5 / deviation < DOUBT


def _complete(
    landscape: Landscape,
    vectors: FloatArray,
    survey: Survey,
    *,
    rest: IntArray,
    metric: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Integrate over all but the spreads; give log chances, roots and moves to each top."""
    prior = landscape.precision[np.ix_(_MEANS, _MEANS)]
    shared = survey.positions.sum(axis=2)
    total = np.maximum(shared.sum(axis=1), 1e-12)
    # What all positions share is no difference between them: the cut points follow it.
    known = survey.positions - shared[:, :, None] * shared[:, None, :] / total[:, None, None]
    known = known[:, _FREE_POSITIONS][:, :, _FREE_POSITIONS]
    precision = known + prior
    slope, means = survey.gradient[:, _MEANS], vectors[:, _MEANS]
    step = np.linalg.solve(precision, slope[:, :, None])[:, :, 0]
    pull = survey.gradient[:, rest] @ metric
    # Far from the top the metric of the top is no guide: nobody moves further than it can tell.
    reach = np.abs(pull / np.sqrt(np.diag(metric))).max(axis=1)
    share = np.minimum(1.0, _FARTHEST / np.maximum(reach, _FARTHEST))
    gain = (share - 0.5 * share**2) * (pull * survey.gradient[:, rest]).sum(axis=1)
    base, pull = survey.value + gain, share[:, None] * pull
    free = 0.5 * (slope * step).sum(axis=1)
    free += 0.5 * (np.linalg.slogdet(prior)[1] - np.linalg.slogdet(precision)[1])
    bound = -np.einsum("mi,mi->m", means, slope)
    bound -= 0.5 * np.einsum("mi,mij,mj->m", means, precision, means)
    # At means of 0 the value is that of the answers alone: the prior of the means is 0 there.
    log_chance = np.stack([base + bound + np.log(NO_MEANS), base + free + np.log1p(-NO_MEANS)], 1)
    moves = np.zeros_like(vectors)
    moves[:, _MEANS], moves[:, rest] = step, pull
    root = np.asarray(np.linalg.cholesky(np.linalg.inv(precision)), dtype=np.float64)
    return log_chance, root, moves


def _place(nodes: _Nodes, node: int, *, with_means: bool) -> FloatArray:
    vector: FloatArray = nodes.vector[node].copy()
    if not with_means:
        vector[_MEANS] = 0.0
    return vector


def _half(covariance: FloatArray, *, single: bool) -> FloatArray:
    """Give a root of the covariance of all but the means, given them; and, on a grid, spreads."""
    held = _MEANS if single else [*_MEANS, *_SPREADS]
    free = np.setdiff1d(np.arange(N_COORDINATES), held)
    values, axes = np.linalg.eigh(invert(invert(covariance)[np.ix_(free, free)]))
    half = np.zeros((N_COORDINATES, free.size))
    half[free] = axes * np.sqrt(values)
    return half


def _spread_over(
    nodes: _Nodes, weight: FloatArray, half: FloatArray, *, number: int
) -> tuple[Hyperparameters, ...]:
    """Give every node points by its weight, each one SD to one side in every direction."""
    reached = np.cumsum(weight.T.ravel())
    taken = np.searchsorted(reached, (np.arange(number) + 0.5) / number * reached[-1])
    with_means, node = np.divmod(taken, len(nodes.vector))
    # Neighbours must not share their sides: the rows of the sign table are shuffled, always alike.
    shuffled = np.argsort(np.arange(number) * 0.6180339887498949 % 1.0)
    width = half.shape[1] + len(_MEANS)
    signs = hadamard(number)[shuffled][:, 1 + np.arange(width) % (number - 1)]
    points = []
    for k in range(number):
        vector = _place(nodes, int(node[k]), with_means=bool(with_means[k]))
        moved = half @ signs[k, len(_MEANS) :]
        if nodes.is_bare[node[k]]:
            moved[_SPREADS] = 0.0
        vector += moved
        if with_means[k]:
            vector[_MEANS] += nodes.root[node[k]] @ signs[k, : len(_MEANS)]
        points.append(from_coordinates(vector))
    return tuple(points)
