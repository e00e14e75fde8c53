"""Hyperparameters from a clinic's own trainees.

The sum of all trainees' log evidence (Laplace) plus the log prior is climbed by a quasi-Newton
search (BFGS) whose first metric is the information in the trainees' own scores, so that some ten
evaluations are enough. Large cohorts are climbed in stages: on some trainees spread evenly over
the order of enrolment, then on more, from where the first stage arrived.

The two parameters of the choice have a likelihood of their own, see
:mod:`sidelong.preferences.choice`; both searches take turns until neither moves.

What a cohort leaves open is kept: around the top the posterior of the hyperparameters is taken as
normal, and estimates average over points of it (:class:`CohortFit.mixture`).
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import hadamard

from sidelong.preferences.choice import fit_choice, join_namings, leave_namings_out
from sidelong.preferences.coordinates import N_COORDINATES, PARTS, from_coordinates, pull_back
from sidelong.preferences.courses import Courses, FloatArray, IntArray
from sidelong.preferences.hyperparameters import HyperparameterMixture, Hyperparameters
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.prior import DEFAULT_PRIOR, FitPrior
from sidelong.preferences.score import Covariates, gather_covariates, score_hyperparameters

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

SETTLED = 0.04
"""Move of the choice's parameters, in one turn, at which they count as settled."""

MAX_STEPS = 60
MAX_TURNS = 25
_CHUNK = 512
_FARTHEST = 1.0  # Longest move of one coordinate in one step.
_SEARCH_TOLERANCE = 1e-4
_DIFFERENCE = 1e-3
_CHOICE = [PARTS["choice_slope"].start, PARTS["choice_again"].start]


@dataclass(frozen=True, eq=False)
class CohortFit:
    """What a cohort says about the hyperparameters.

    Parameters
    ----------
    hyperparameters : Hyperparameters
        The most probable ones.
    mixture : HyperparameterMixture
        What the cohort leaves possible; one point where it hardly leaves anything open.
    coordinates : ndarray of float, shape (37,)
        The most probable ones as a vector.
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
    converged : bool
        Whether the climb arrived.
    """

    hyperparameters: Hyperparameters
    mixture: HyperparameterMixture
    coordinates: FloatArray
    covariance: FloatArray
    log_evidence: float
    log_prior: float
    n_trainees: int
    n_used: int
    evaluations: int
    converged: bool


@dataclass(eq=False)
class _Part:
    """Some trainees, and where their search for the mode last arrived."""

    courses: Courses
    covariates: Covariates
    dual: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class _Height:
    """Log posterior at one point."""

    value: float
    gradient: FloatArray
    scores: FloatArray  # of every trainee, shape (37, n)


class _Landscape:
    """The log posterior of the hyperparameters; remembers modes, so that nearby is cheap."""

    def __init__(self, courses: Courses, prior: FitPrior) -> None:
        self.mean = prior.mean
        self.precision = _invert(prior.covariance)
        self.tolerance = TOLERANCE
        self.evaluations = 0
        self.choice_information = np.zeros((2, 2))
        self._parts = []
        for start in range(0, courses.n_trainees, _CHUNK):
            some = courses.take(slice(start, start + _CHUNK))
            self._parts.append(_Part(some, gather_covariates(some)))

    def log_prior(self, vector: FloatArray) -> float:
        """Give the log density of the prior without its constant."""
        away = vector - self.mean
        return float(-0.5 * away @ self.precision @ away)

    def height(self, vector: FloatArray, *, tolerance: float = _SEARCH_TOLERANCE) -> _Height:
        """Evaluate value, gradient and every trainee's score."""
        point = from_coordinates(vector)
        self.evaluations += 1
        value, scores = self.log_prior(vector), []
        for part in self._parts:
            evidence = prepare_evidence(part.courses, point)
            posterior = find_mode(evidence, tolerance=tolerance, start=part.dual)
            part.dual = posterior.dual
            value += float(posterior.log_evidence.sum())
            natural = score_hyperparameters(posterior, evidence, part.covariates, points=(point,))
            scores.append(pull_back(natural, vector))
        every = np.concatenate(scores, axis=1)
        gradient = every.sum(axis=1) - self.precision @ (vector - self.mean)
        return _Height(value, gradient, every)

    def settle_choice(self, vector: FloatArray) -> FloatArray:
        """Move the two parameters of the choice to where the namings put them."""
        point, parts = from_coordinates(vector), []
        for part in self._parts:
            evidence = prepare_evidence(part.courses, point)
            posterior = find_mode(evidence, tolerance=_SEARCH_TOLERANCE, start=part.dual)
            parts.append(leave_namings_out(posterior, evidence, part.covariates))
        found = fit_choice(
            join_namings(parts),
            vector[_CHOICE],
            mean=self.mean[_CHOICE],
            precision=self.precision[np.ix_(_CHOICE, _CHOICE)],
        )
        self.choice_information = found.information
        settled = vector.copy()
        settled[_CHOICE] = found.vector
        return settled

    def gradients(self, vectors: FloatArray) -> FloatArray:
        """Evaluate the gradient at many points near the last one, shape (m, 37)."""
        total = -(vectors - self.mean) @ self.precision
        for part in self._parts:
            at_once = max(1, _CHUNK // part.courses.n_trainees)
            for start in range(0, len(vectors), at_once):
                some = vectors[start : start + at_once]
                total[start : start + at_once] += _summed_scores(part, some)
        self.evaluations += len(vectors)
        return total


def _summed_scores(part: _Part, vectors: FloatArray) -> FloatArray:
    """Sum the scores of some trainees under each of m points, shape (m, 37)."""
    points, m = tuple(map(from_coordinates, vectors)), len(vectors)
    evidence = prepare_evidence(part.courses, points)
    start = None if part.dual is None else np.tile(part.dual, m)
    posterior = find_mode(evidence, start=start)
    natural = score_hyperparameters(posterior, evidence, part.covariates.repeat(m), points=points)
    n = part.courses.n_trainees
    return np.array(
        [
            pull_back(
                {name: each[:, k * n : (k + 1) * n] for name, each in natural.items()}, vector
            ).sum(axis=1)
            for k, vector in enumerate(vectors)
        ]
    )


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
        landscape = _Landscape(courses.take(spread_evenly(courses.n_trainees, size)), prior)
        landscape.tolerance = max(TOLERANCE, PER_TRAINEE * size)
        if stage < len(stages) - 1:
            landscape.tolerance = FIRST_TOLERANCE
        vector, height, converged = _climb(landscape, vector, settle=stage == 0)
        evaluations += landscape.evaluations
        choice = landscape.choice_information if stage == 0 else choice
    covariance = _posterior_covariance(landscape, vector, height, choice=choice)
    log_prior = landscape.log_prior(vector)
    return CohortFit(
        hyperparameters=from_coordinates(vector),
        mixture=spread_points(vector, covariance, number=_n_points(courses.n_trainees)),
        coordinates=vector,
        covariance=covariance,
        log_evidence=height.value - log_prior,
        log_prior=log_prior,
        n_trainees=courses.n_trainees,
        n_used=height.scores.shape[1],
        evaluations=evaluations,
        converged=converged,
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


def spread_points(
    vector: FloatArray, covariance: FloatArray, *, number: int
) -> HyperparameterMixture:
    """Choose points that together have the mean and the covariance of a normal distribution.

    Every point lies one SD to one side along each principal axis; sides are the signs of a
    Hadamard matrix, whose columns are orthogonal.

    Parameters
    ----------
    vector : ndarray of float, shape (37,)
        Mean of the coordinates.
    covariance : ndarray of float, shape (37, 37)
        Their covariance.
    number : int
        A power of 2. With 64 the covariance is exact, with fewer some axes share their signs;
        1 gives the mean alone.

    Returns
    -------
    HyperparameterMixture
        Points of equal weight.
    """
    if number == 1:
        return HyperparameterMixture((from_coordinates(vector),), (1.0,))
    values, axes = np.linalg.eigh(covariance)
    signs = hadamard(number)[:, 1 + np.arange(N_COORDINATES) % (number - 1)]
    moves = signs * np.sqrt(values) @ axes.T
    points = tuple(from_coordinates(vector + move) for move in moves)
    return HyperparameterMixture(points, (1.0 / number,) * number)


def _stages(n_trainees: int) -> tuple[int, ...]:
    whole = min(n_trainees, MOST)
    return (FIRST_STAGE, whole) if whole > 2 * FIRST_STAGE else (whole,)


def _n_points(n_trainees: int) -> int:
    """More trainees leave less open, and make every point dearer."""
    for most, points in ((60, 64), (150, 32), (300, 16), (600, 8)):
        if n_trainees <= most:
            return points
    return 1


def _climb(
    landscape: _Landscape, vector: FloatArray, *, settle: bool
) -> tuple[FloatArray, _Height, bool]:
    """Go up and settle the choice in turn, until neither moves."""
    height = landscape.height(vector)
    free = np.ones(N_COORDINATES, dtype=bool)
    free[_CHOICE] = False
    metric = np.zeros((N_COORDINATES, N_COORDINATES))
    metric[np.ix_(free, free)] = _invert(
        (landscape.precision + _information(height.scores))[np.ix_(free, free)]
    )
    if not settle:
        return _ascend(landscape, vector, height, metric=metric, most=MAX_STEPS)[:3]
    for turn in range(MAX_TURNS):
        vector, height, arrived, metric = _ascend(
            landscape, vector, height, metric=metric, most=3 * (turn + 1)
        )
        moved = landscape.settle_choice(vector) - vector
        if arrived and float(np.abs(moved).max()) < SETTLED:
            return vector, height, True
        vector = vector + moved
        height = landscape.height(vector)
    return vector, height, False


def _ascend(
    landscape: _Landscape,
    vector: FloatArray,
    height: _Height,
    *,
    metric: FloatArray,
    most: int,
) -> tuple[FloatArray, _Height, bool, FloatArray]:
    """Go up, the choice held still, until a step promises next to nothing."""
    for _ in range(most):
        step = metric @ height.gradient
        promise = float(step @ height.gradient)
        if 0.5 * promise < landscape.tolerance:
            return vector, height, True, metric
        length = min(1.0, _FARTHEST / float(np.abs(step).max()))
        found = landscape.height(vector + length * step)
        while not found.value > height.value + 1e-4 * length * promise:
            length *= 0.3
            if length < 1e-6:
                return vector, height, False, metric
            found = landscape.height(vector + length * step)
        moved: FloatArray = length * step
        metric = _learn_curvature(metric, moved, bent=height.gradient - found.gradient)
        vector, height = vector + moved, found
    return vector, height, False, metric


def _information(scores: FloatArray) -> FloatArray:
    """Estimate the information from how much the trainees' scores scatter."""
    away = scores - scores.mean(axis=1, keepdims=True)
    information: FloatArray = away @ away.T
    return information


def _invert(matrix: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _learn_curvature(inverse: FloatArray, moved: FloatArray, *, bent: FloatArray) -> FloatArray:
    """Update the inverse curvature from one step (BFGS)."""
    gain = float(moved @ bent)
    if gain <= 1e-10:
        return inverse
    bent = np.where(np.diag(inverse) > 0, bent, 0.0)
    keep = np.eye(moved.size) - np.outer(moved, bent) / gain
    updated: FloatArray = keep @ inverse @ keep.T + np.outer(moved, moved) / gain
    return updated


def _posterior_covariance(
    landscape: _Landscape, vector: FloatArray, height: _Height, *, choice: FloatArray
) -> FloatArray:
    """Describe how far the hyperparameters may lie from the most probable ones."""
    if height.scores.shape[1] > FEW:
        curvature = _information(height.scores)
    else:
        curvature = _measured_curvature(landscape, vector)
    curvature[_CHOICE, :] = curvature[:, _CHOICE] = 0.0
    curvature[np.ix_(_CHOICE, _CHOICE)] = choice
    # Seen from the prior, a cohort adds information or none; differences of a flat top may not
    # say so to the last digit.
    root = np.linalg.cholesky(_invert(landscape.precision))
    values, axes = np.linalg.eigh(np.eye(N_COORDINATES) + root.T @ curvature @ root)
    half = root @ axes / np.sqrt(np.maximum(values, 0.5))
    covariance: FloatArray = half @ half.T
    return covariance


def _measured_curvature(landscape: _Landscape, vector: FloatArray) -> FloatArray:
    """Differentiate the gradient of the summed log evidence; the prior is left out."""
    steps = _DIFFERENCE * np.sqrt(np.diag(_invert(landscape.precision)))
    slopes = landscape.gradients(np.concatenate([vector + np.diag(steps), vector - np.diag(steps)]))
    rows = (slopes[N_COORDINATES:] - slopes[:N_COORDINATES]) / (2.0 * steps[:, None])
    curvature: FloatArray = 0.5 * (rows + rows.T) - landscape.precision
    return curvature
