"""Gaussian algebra night by night: one pass forward, one pass back.

A course is a chain of nights, so its precision matrix is block tridiagonal and everything follows
from blocks of 5 x 5. The recursions here are the Kalman filter and the fixed-interval smoother in
their covariance form: the same elimination as a block Cholesky factorisation, but it never
inverts a prior covariance and so holds when a spread, a drift or a noise is exactly 0.

One night's answers enter as an information matrix ``diag(d) - a a' - b b'``: a diagonal part, the
choice of the best (a) and the night effect (b). Each part is one rank-one step. Trainees are the
last axis and are computed side by side; nights are the only loop.
"""

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from sidelong.preferences.courses import FloatArray
from sidelong.preferences.likelihood import Likelihood


@dataclass(frozen=True, eq=False)
class Information:
    """What the answers say about the ease of positions, night and piece noise integrated out.

    Parameters
    ----------
    diagonal, choice, night : ndarray of float, shape (n_nights, 5, n_trainees)
        The information matrix is ``diag(diagonal) - choice choice' - night night'``.
    vector : ndarray of float, shape (n_nights, 5, n_trainees)
        Information vector: matrix times the value that the answers alone would suggest.
    log_det : ndarray of float, shape (n_trainees,)
        Log determinant of ``I + W H`` summed over nights, W the noise's covariance and H the
        curvature.
    """

    diagonal: FloatArray
    choice: FloatArray
    night: FloatArray
    vector: FloatArray
    log_det: FloatArray

    def take(self, rows: slice | NDArray[np.integer]) -> Self:
        """Pick trainees by their place on the last axis."""
        return type(self)(**{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})

    def apply(self, values: FloatArray, *, night: int | None = None) -> FloatArray:
        """Multiply the information matrix of every night, or of one, with vectors."""
        at = slice(None) if night is None else night
        product = self.diagonal[at] * values
        for part in (self.choice[at], self.night[at]):
            product -= part * np.einsum("...jn,...jn->...n", part, values)[..., None, :]
        return product

    @cached_property
    def blocks(self) -> FloatArray:
        """Every night's information matrix written out, shape (n_nights, 5, 5, n_trainees)."""
        matrix = -(self.choice[:, :, None] * self.choice[:, None])
        matrix -= self.night[:, :, None] * self.night[:, None]
        for place in range(matrix.shape[1]):
            matrix[:, place, place] += self.diagonal[:, place]
        return matrix

    def dense(self, night: int) -> FloatArray:
        """Write out one night's information matrix, shape (5, 5, n_trainees)."""
        block: FloatArray = self.blocks[night]
        return block


@dataclass(frozen=True, eq=False)
class Filtered:
    """Forward pass: what is known of ease after each night.

    Parameters
    ----------
    predicted_mean : ndarray of float, shape (n_nights, 5, n_trainees)
        Mean before the night's answers.
    covariance : ndarray of float, shape (n_nights, 5, 5, n_trainees)
        Covariance after the night's answers.
    residual : ndarray of float, shape (n_nights, 5, n_trainees)
        Information vector minus what the predicted mean accounts for.
    log_det : ndarray of float, shape (n_trainees,)
        Log determinant of ``I + P L`` summed over nights, P the predicted covariance and L the
        information.
    """

    predicted_mean: FloatArray
    covariance: FloatArray
    residual: FloatArray
    log_det: FloatArray

    def take(self, rows: slice | NDArray[np.integer]) -> Self:
        """Pick trainees by their place on the last axis."""
        return type(self)(**{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})

    @property
    def mean(self) -> FloatArray:
        """Mean after the night's answers, shape (n_nights, 5, n_trainees)."""
        return self.predicted_mean + multiply(self.covariance, self.residual)


def multiply(blocks: FloatArray, vectors: FloatArray) -> FloatArray:
    """Multiply blocks (..., k, k, n) with vectors (..., k, n), trainee by trainee."""
    product: FloatArray = np.einsum("...ijn,...jn->...in", blocks, vectors)
    return product


def noise_times(values: FloatArray, *, night_sd: FloatArray, piece_sd: FloatArray) -> FloatArray:
    """Multiply the covariance of one night's noise with vectors (n_nights, 5, n_trainees)."""
    product: FloatArray = piece_sd**2 * values
    product += night_sd**2 * values.sum(axis=-2, keepdims=True)
    return product


def integrate_noise(
    likelihood: Likelihood, centred: FloatArray, *, night_sd: FloatArray, piece_sd: FloatArray
) -> Information:
    """Turn the answers' local quadratic shape into information about ease.

    With H the curvature at z and W the covariance of night and piece noise, the information about
    ease is ``(I + H W)^-1 H``; both noises are removed in closed form, no matrix is inverted.

    Parameters
    ----------
    likelihood : Likelihood
        Gradient and curvature at the present z.
    centred : ndarray of float, shape (n_nights, 5, n_trainees)
        The present z minus its known effects.
    night_sd, piece_sd : ndarray of float, shape (n_trainees,)
        SD of both noises, >= 0.

    Returns
    -------
    Information
        Matrix, vector and log determinant.
    """
    curvature, rank_one = likelihood.curvature, likelihood.rank_one
    stretched = 1.0 + piece_sd**2 * curvature
    diagonal = curvature / stretched
    shrunk = rank_one / stretched
    rest = 1.0 - piece_sd**2 * (rank_one * shrunk).sum(axis=1, keepdims=True)
    choice = shrunk / np.sqrt(rest)
    row_sums = diagonal - choice * choice.sum(axis=1, keepdims=True)
    total = 1.0 + night_sd**2 * row_sums.sum(axis=1, keepdims=True)
    night = night_sd * row_sums / np.sqrt(total)
    log_det = np.log(stretched).sum(axis=(0, 1)) + np.log(rest * total).sum(axis=(0, 1))
    target = likelihood.gradient + curvature * centred
    target -= rank_one * (rank_one * centred).sum(axis=1, keepdims=True)
    empty = Information(diagonal, choice, night, target, log_det)
    noise = noise_times(target, night_sd=night_sd, piece_sd=piece_sd)
    return Information(diagonal, choice, night, target - empty.apply(noise), log_det)


def filter_forward(information: Information, *, first: FloatArray, drift: FloatArray) -> Filtered:
    """Run through the nights once for the covariances, then for the means.

    Parameters
    ----------
    information : Information
        What each night's answers say.
    first : ndarray of float, shape (5, 5, n_trainees)
        Covariance of ease on night 1; may be singular.
    drift : ndarray of float, shape (5, 5, n_trainees)
        Covariance of one night's change; may be singular or 0.

    Returns
    -------
    Filtered
        Means, covariances and log determinant.
    """
    nights, k, n = information.diagonal.shape
    covariances = np.empty((nights, k, k, n))
    growth = np.empty((nights, k + 2, n))
    covariance, change = first.copy(), np.empty_like(first)
    for night in range(nights):
        for place in range(k):
            column, weight = covariance[:, place], information.diagonal[night, place]
            factor = 1.0 + weight * column[place]
            np.multiply(column[:, None], column * (weight / factor), out=change)
            covariance -= change
            growth[night, place] = factor
        for place, part in enumerate((information.choice[night], information.night[night]), k):
            column = multiply(covariance, part)
            factor = 1.0 - (part * column).sum(axis=0)
            np.multiply(column[:, None], column / factor, out=change)
            covariance += change
            growth[night, place] = factor
        covariances[night] = covariance
        covariance += drift
    log_det: FloatArray = np.log(growth).sum(axis=(0, 1))
    return filter_means(covariances, information, log_det=log_det)


def filter_means(
    covariances: FloatArray, information: Information, *, log_det: FloatArray
) -> Filtered:
    """Run through the nights for the means alone, with covariances that are known.

    Parameters
    ----------
    covariances : ndarray of float, shape (n_nights, 5, 5, n_trainees)
        Covariances after each night's answers.
    information : Information
        Its vector may differ from the one the covariances were made with.
    log_det : ndarray of float, shape (n_trainees,)
        Kept with the result.

    Returns
    -------
    Filtered
        Means, the same covariances and log determinant.
    """
    predicted = np.empty_like(information.vector)
    residuals = np.empty_like(information.vector)
    mean = np.zeros_like(information.vector[0])
    for night in range(information.vector.shape[0]):
        predicted[night] = mean
        residuals[night] = information.vector[night] - multiply(information.blocks[night], mean)
        mean = mean + multiply(covariances[night], residuals[night])
    return Filtered(predicted, covariances, residuals, log_det)


def smooth_means(filtered: Filtered, information: Information) -> tuple[FloatArray, FloatArray]:
    """Run back through the nights for the posterior means.

    Parameters
    ----------
    filtered : Filtered
        Forward pass.
    information : Information
        What went into it.

    Returns
    -------
    means : ndarray of float, shape (n_nights, 5, n_trainees)
        Ease given all nights, minus its known effects.
    pull : ndarray of float, shape (n_nights, 5, n_trainees)
        ``information vector - information matrix times mean``: the means are the prior covariance
        times this.
    """
    means = np.empty_like(filtered.residual)
    later = np.zeros_like(means[0])
    for night in range(means.shape[0] - 1, -1, -1):
        pulled = filtered.residual[night] + later
        step = multiply(filtered.covariance[night], pulled)
        means[night] = filtered.predicted_mean[night] + step
        later = pulled - multiply(information.blocks[night], step)
    return means, information.vector - information.apply(means)


def smooth_covariances(
    filtered: Filtered, information: Information
) -> tuple[FloatArray, FloatArray]:
    """Run back through the nights for the posterior covariances.

    Parameters
    ----------
    filtered : Filtered
        Forward pass.
    information : Information
        What went into it.

    Returns
    -------
    covariances : ndarray of float, shape (n_nights, 5, 5, n_trainees)
        Covariance of each night's ease given all nights.
    later : ndarray of float, shape (n_nights, 5, 5, n_trainees)
        How surely all nights from each one on contradict its predicted ease: the covariance of
        what :func:`smooth_means` calls pull, summed over these nights.
    """
    smoothed, later = np.empty_like(filtered.covariance), np.empty_like(filtered.covariance)
    nights, k, _, n = smoothed.shape
    beyond = np.zeros((k, k, n))
    for night in range(nights - 1, -1, -1):
        after = filtered.covariance[night]
        smoothed[night] = after - multiply_blocks(after, multiply_blocks(beyond, after))
        matrix = information.dense(night)
        gain = np.eye(k)[:, :, None] - multiply_blocks(matrix, after)
        beyond = multiply_blocks(
            multiply_blocks(gain, beyond), np.swapaxes(gain, 0, 1)
        ) + multiply_blocks(gain, matrix)
        later[night] = beyond
    return smoothed, later


def multiply_blocks(left: FloatArray, right: FloatArray) -> FloatArray:
    """Multiply blocks (..., k, k, n), trainee by trainee."""
    product: FloatArray = np.einsum("...ijn,...jkn->...ikn", left, right)
    return product
