"""The height that a fit climbs: summed log evidence of a cohort plus the log prior.

Modes are remembered from one point to the next, so that evaluating nearby is cheap; many points
are evaluated side by side.
"""

from dataclasses import dataclass

import numpy as np

from sidelong.preferences.choice import fit_choice, join_namings, leave_namings_out
from sidelong.preferences.coordinates import N_COORDINATES, PARTS, from_coordinates, pull_back
from sidelong.preferences.courses import Courses, FloatArray
from sidelong.preferences.hyperparameters import N_POSITIONS
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.prior import FitPrior
from sidelong.preferences.score import Covariates, gather_covariates, score_hyperparameters
from sidelong.preferences.smoother import smooth_covariances

CHOICE = [PARTS["choice_slope"].start, PARTS["choice_again"].start]
"""Coordinates that have a likelihood of their own."""

_CHUNK = 512
_SEARCH_TOLERANCE = 1e-4
_DIFFERENCE = 1e-3


@dataclass(eq=False)
class _Part:
    """Some trainees, and where their search for the mode last arrived."""

    courses: Courses
    covariates: Covariates
    dual: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Height:
    """Log posterior at one point.

    Parameters
    ----------
    value : float
        Without the prior's constant.
    gradient : ndarray of float, shape (37,)
        Its derivative.
    scores : ndarray of float, shape (37, n_trainees)
        Derivative of every trainee's log evidence.
    """

    value: float
    gradient: FloatArray
    scores: FloatArray


@dataclass(frozen=True, eq=False)
class Survey:
    """Log posterior at many points, all trainees summed.

    Parameters
    ----------
    value : ndarray of float, shape (m,)
        Without the prior's constant.
    gradient : ndarray of float, shape (m, 37)
        Its derivative.
    positions : ndarray of float, shape (m, 5, 5)
        Information of the answers about what all trainees' ease of each position is shifted by.
    """

    value: FloatArray
    gradient: FloatArray
    positions: FloatArray


class Landscape:
    """The log posterior of the hyperparameters of one cohort.

    Parameters
    ----------
    courses : Courses
        The trainees.
    prior : FitPrior
        What is assumed before.
    """

    def __init__(self, courses: Courses, prior: FitPrior) -> None:
        self.mean = prior.mean
        self.precision = invert(prior.covariance)
        self.n_trainees = courses.n_trainees
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

    def height(self, vector: FloatArray, *, tolerance: float = _SEARCH_TOLERANCE) -> Height:
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
        return Height(value, gradient, every)

    def settle_choice(self, vector: FloatArray) -> FloatArray:
        """Move the two parameters of the choice to where the namings put them."""
        point, parts = from_coordinates(vector), []
        for part in self._parts:
            evidence = prepare_evidence(part.courses, point)
            posterior = find_mode(evidence, tolerance=_SEARCH_TOLERANCE, start=part.dual)
            parts.append(leave_namings_out(posterior, evidence, part.covariates))
        found = fit_choice(
            join_namings(parts),
            vector[CHOICE],
            mean=self.mean[CHOICE],
            precision=self.precision[np.ix_(CHOICE, CHOICE)],
        )
        self.choice_information = found.information
        settled = vector.copy()
        settled[CHOICE] = found.vector
        return settled

    def gradients(self, vectors: FloatArray) -> FloatArray:
        """Evaluate the gradient at many points near the last one, shape (m, 37)."""
        total = -(vectors - self.mean) @ self.precision
        for part in self._parts:
            at_once = max(1, _CHUNK // part.courses.n_trainees)
            for start in range(0, len(vectors), at_once):
                rows = slice(start, start + at_once)
                total[rows] += _survey_part(part, vectors[rows]).gradient
        self.evaluations += len(vectors)
        return total

    def survey(self, vectors: FloatArray) -> Survey:
        """Evaluate value, gradient and the information about positions at many points."""
        m, k = len(vectors), N_POSITIONS
        value = np.array([self.log_prior(vector) for vector in vectors])
        gradient = -(vectors - self.mean) @ self.precision
        information = np.zeros((m, k, k))
        for part in self._parts:
            at_once = max(1, _CHUNK // part.courses.n_trainees)
            for start in range(0, m, at_once):
                rows = slice(start, min(start + at_once, m))
                found = _survey_part(part, vectors[rows])
                value[rows] += found.value
                gradient[rows] += found.gradient
                information[rows] += found.positions
        self.evaluations += m
        return Survey(value, gradient, information)

    def measure_curvature(self, vector: FloatArray) -> FloatArray:
        """Differentiate the gradient of the summed log evidence; the prior is left out."""
        steps = _DIFFERENCE * np.sqrt(np.diag(invert(self.precision)))
        moves = np.diag(steps)
        slopes = self.gradients(np.concatenate([vector + moves, vector - moves]))
        rows = (slopes[N_COORDINATES:] - slopes[:N_COORDINATES]) / (2.0 * steps[:, None])
        curvature: FloatArray = 0.5 * (rows + rows.T) - self.precision
        return curvature


def scatter_information(scores: FloatArray) -> FloatArray:
    """Estimate the information from how much the trainees' scores scatter."""
    away = scores - scores.mean(axis=1, keepdims=True)
    information: FloatArray = away @ away.T
    return information


def invert(matrix: FloatArray) -> FloatArray:
    """Invert a matrix that is known to be regular."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _survey_part(part: _Part, vectors: FloatArray) -> Survey:
    """Evaluate some trainees under each of m points; the prior is left out."""
    points, m = tuple(map(from_coordinates, vectors)), len(vectors)
    n = part.courses.n_trainees
    evidence = prepare_evidence(part.courses, points)
    start = None if part.dual is None else np.tile(part.dual, m)
    posterior = find_mode(evidence, start=start)
    natural = score_hyperparameters(posterior, evidence, part.covariates.repeat(m), points=points)
    gradient = [
        pull_back(
            {name: each[:, k * n : (k + 1) * n] for name, each in natural.items()}, vector
        ).sum(axis=1)
        for k, vector in enumerate(vectors)
    ]
    # Of a shift on all nights: the answers' information summed from the first night on.
    _, later = smooth_covariances(posterior.filtered, posterior.information)
    return Survey(
        value=posterior.log_evidence.reshape(m, n).sum(axis=1),
        gradient=np.array(gradient),
        positions=np.moveaxis(later[0].reshape(N_POSITIONS, N_POSITIONS, m, n).sum(axis=3), 2, 0),
    )
