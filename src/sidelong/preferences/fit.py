"""Hyperparameters from a clinic's own trainees.

The sum of all trainees' log evidence (Laplace) plus the log prior is climbed by a quasi-Newton
search (BFGS) whose first metric is the information in the trainees' own scores, so that some ten
evaluations are enough. Large cohorts are climbed in stages: on some trainees spread evenly over
the order of enrolment, then on more, from where the first stage arrived.

The two parameters of the choice have a likelihood of their own, see
:mod:`sidelong.preferences.choice`; both searches take turns until neither moves.

What a cohort leaves open is kept, see :mod:`sidelong.preferences.mixture`: estimates average over
it (:class:`CohortFit.mixture`).
"""

from dataclasses import dataclass

import numpy as np

from sidelong.preferences.climb import climb
from sidelong.preferences.coordinates import N_COORDINATES
from sidelong.preferences.courses import Courses, FloatArray, IntArray
from sidelong.preferences.hyperparameters import HyperparameterMixture, Hyperparameters
from sidelong.preferences.landscape import (
    CHOICE,
    Height,
    Landscape,
    invert,
    scatter_information,
)
from sidelong.preferences.mixture import leave_open
from sidelong.preferences.prior import DEFAULT_PRIOR, FitPrior

FIRST_STAGE = 200
"""Trainees of the first stage, where there are more than twice as many."""

MOST = 2000
"""Trainees that a fit uses at most: then every answer has an error far below its own spread."""

FEW = 300
"""Up to here the curvature at the top is measured; beyond, the scores' own information stands."""

TOLERANCE = 2e-2
"""Rise of the log posterior, promised by the next step, at which the climb ends."""

PER_TRAINEE = 1e-4
"""The same for each trainee, where there are many: far below what chance makes of a cohort."""

FIRST_TOLERANCE = 0.3
"""The same for a first stage that another one follows."""


@dataclass(frozen=True, eq=False)
class CohortFit:
    """What a cohort says about the hyperparameters.

    Parameters
    ----------
    hyperparameters : Hyperparameters
        The most probable ones of the most probable description.
    mixture : HyperparameterMixture
        What the cohort leaves possible; one point where it hardly leaves anything open.
    coordinates : ndarray of float, shape (37,)
        Top of the general description, in which trainees differ and positions may.
    covariance : ndarray of float, shape (37, 37)
        Posterior covariance of the coordinates.
    log_evidence : float
        Sum over the trainees used, at the most probable point.
    log_prior : float
        Log density of the prior there, without its constant.
    n_trainees, n_used : int
        In the cohort, and those that the fit used.
    evaluations : int
        Of the summed log evidence with its gradient, all stages.
    no_differences : float
        Posterior chance that trainees do not differ in which position suits them.
    no_means : float
        Posterior chance that positions do not differ on average.
    converged : bool
        Whether the climb arrived.
    """

    hyperparameters: Hyperparameters
    mixture: HyperparameterMixture
    coordinates: FloatArray
    covariance: FloatArray
    log_evidence: float
    log_prior: float
    no_differences: float
    no_means: float
    n_trainees: int
    n_used: int
    evaluations: int
    converged: bool


def fit_cohort(courses: Courses, *, prior: FitPrior = DEFAULT_PRIOR) -> CohortFit:
    """Find the hyperparameters that a cohort makes most probable, and how surely.

    Parameters
    ----------
    courses : Courses
        Nights of the trainees whose consent allows it; one course each.
    prior : FitPrior
        What is assumed before.

    Returns
    -------
    CohortFit
        Deterministic: the same cohort gives the same fit.

    Raises
    ------
    ValueError
        If there is no trainee.
    """
    if courses.n_trainees == 0:
        raise ValueError("a cohort without trainees cannot be fitted")
    vector, evaluations, choice = prior.mean, 0, np.zeros((2, 2))
    stages = _stages(courses.n_trainees)
    for stage, size in enumerate(stages):
        landscape = Landscape(courses.take(spread_evenly(courses.n_trainees, size)), prior)
        is_last = stage == len(stages) - 1
        enough = max(TOLERANCE, PER_TRAINEE * size) if is_last else FIRST_TOLERANCE
        top = climb(landscape, vector, tolerance=enough, settle=stage == 0)
        vector = top.vector
        choice = landscape.choice_information if stage == 0 else choice
        evaluations += 0 if is_last else landscape.evaluations
    covariance = _posterior_covariance(landscape, vector, top.height, choice=choice)
    left = leave_open(
        landscape, vector, covariance=covariance, number=_n_points(courses.n_trainees)
    )
    log_prior = landscape.log_prior(vector)
    return CohortFit(
        hyperparameters=left.likeliest,
        mixture=left.mixture,
        coordinates=vector,
        covariance=covariance,
        log_evidence=top.height.value - log_prior,
        log_prior=log_prior,
        no_differences=left.no_differences,
        no_means=left.no_means,
        n_trainees=courses.n_trainees,
        n_used=landscape.n_trainees,
        evaluations=evaluations + landscape.evaluations,
        converged=top.converged,
    )


def spread_evenly(n_trainees: int, n_used: int) -> IntArray:
    """Choose trainees evenly over the order in which they stand.

    Parameters
    ----------
    n_trainees : int
        In the cohort.
    n_used : int
        To choose.

    Returns
    -------
    ndarray of int
        Rows, ascending; all of them where there are no more than asked for.
    """
    if n_used >= n_trainees:
        return np.arange(n_trainees)
    return np.floor((np.arange(n_used) + 0.5) * n_trainees / n_used).astype(int)


def _stages(n_trainees: int) -> tuple[int, ...]:
    whole = min(n_trainees, MOST)
    return (FIRST_STAGE, whole) if whole > 2 * FIRST_STAGE else (whole,)


def _n_points(n_trainees: int) -> int:
    """More trainees leave less open, and make every point dearer."""
    for most, points in ((150, 32), (300, 16), (600, 8)):
        if n_trainees <= most:
            return points
    return 1


def _posterior_covariance(
    landscape: Landscape, vector: FloatArray, height: Height, *, choice: FloatArray
) -> FloatArray:
    """Describe how far the hyperparameters may lie from the most probable ones."""
    if height.scores.shape[1] > FEW:
        curvature = scatter_information(height.scores)
    else:
        curvature = landscape.measure_curvature(vector)
    curvature[CHOICE, :] = curvature[:, CHOICE] = 0.0
    curvature[np.ix_(CHOICE, CHOICE)] = choice
    # Seen from the prior, a cohort adds information or none; differences of a flat top may not
    # say so to the last digit.
    root = np.linalg.cholesky(invert(landscape.precision))
    values, axes = np.linalg.eigh(np.eye(N_COORDINATES) + root.T @ curvature @ root)
    half = root @ axes / np.sqrt(np.maximum(values, 0.5))
    covariance: FloatArray = half @ half.T
    return covariance
