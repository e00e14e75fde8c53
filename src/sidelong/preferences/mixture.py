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

import numpy as np
from scipy.linalg import hadamard
from scipy.special import logsumexp

from sidelong.preferences.coordinates import N_COORDINATES, from_coordinates
from sidelong.preferences.courses import FloatArray
from sidelong.preferences.hyperparameters import HyperparameterMixture, Hyperparameters
from sidelong.preferences.landscape import Landscape, invert
from sidelong.preferences.nodes import MEANS, SMALL, SPREADS, Nodes, weigh_nodes


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
    nodes = weigh_nodes(landscape, vector, covariance)
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


def _place(nodes: Nodes, node: int, *, with_means: bool) -> FloatArray:
    vector: FloatArray = nodes.vector[node].copy()
    if not with_means:
        vector[MEANS] = 0.0
    return vector


def _half(covariance: FloatArray, *, single: bool) -> FloatArray:
    """Give a root of the covariance of all but the means, given them; and, on a grid, spreads."""
    held = MEANS if single else [*MEANS, *SPREADS]
    free = np.setdiff1d(np.arange(N_COORDINATES), held)
    values, axes = np.linalg.eigh(invert(invert(covariance)[np.ix_(free, free)]))
    half = np.zeros((N_COORDINATES, free.size))
    half[free] = axes * np.sqrt(values)
    return half


def _spread_over(
    nodes: Nodes, weight: FloatArray, half: FloatArray, *, number: int
) -> tuple[Hyperparameters, ...]:
    """Give every node points by its weight, each one SD to one side in every direction."""
    reached = np.cumsum(weight.T.ravel())
    taken = np.searchsorted(reached, (np.arange(number) + 0.5) / number * reached[-1])
    with_means, node = np.divmod(taken, len(nodes.vector))
    # Neighbours must not share their sides: the rows of the sign table are shuffled, always alike.
    shuffled = np.argsort(np.arange(number) * 0.6180339887498949 % 1.0)
    width = half.shape[1] + len(MEANS)
    signs = hadamard(number)[shuffled][:, 1 + np.arange(width) % (number - 1)]
    points = []
    for k in range(number):
        vector = _place(nodes, int(node[k]), with_means=bool(with_means[k]))
        moved = half @ signs[k, len(MEANS) :]
        if nodes.is_bare[node[k]]:
            moved[SPREADS] = 0.0
        vector += moved
        if with_means[k]:
            vector[MEANS] += nodes.root[node[k]] @ signs[k, : len(MEANS)]
        points.append(from_coordinates(vector))
    return tuple(points)
