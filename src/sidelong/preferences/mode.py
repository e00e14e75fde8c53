"""Laplace approximation per trainee: the mode, the shape around it, the evidence.

Newton's method on the log posterior of all pieces of a course. Prior and answers are log-concave,
so there is one mode; a step that does not raise the log posterior enough is halved until it does,
so the search always arrives. Positions on the way are kept together with their dual, ``z = K a``
with K the prior covariance: the prior's part is then ``-a'z / 2`` and K is never inverted.
"""

from dataclasses import dataclass, fields, replace
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from sidelong.preferences.courses import BoolArray, FloatArray, IntArray
from sidelong.preferences.likelihood import Likelihood, answer_likelihood
from sidelong.preferences.model import Evidence
from sidelong.preferences.smoother import (
    Filtered,
    Information,
    filter_forward,
    integrate_noise,
    multiply,
    noise_times,
    smooth_means,
)

MAX_STEPS = 60
ENOUGH = 1e-4
"""Share of the promised rise that a step must keep (Armijo's rule)."""


@dataclass(frozen=True, eq=False)
class Posterior:
    """Gaussian approximation around the mode.

    Parameters
    ----------
    filtered : Filtered
        Forward pass with the curvature at the mode.
    information : Information
        What the answers say there.
    centred : ndarray of float, shape (n_nights, 5, n_trainees)
        What each piece felt like at the mode, minus its known effects.
    dual : ndarray of float, shape (n_nights, 5, n_trainees)
        ``centred`` is the prior covariance times this.
    log_evidence : ndarray of float, shape (n_trainees,)
        Laplace approximation of the log chance of the answers.
    converged : ndarray of bool, shape (n_trainees,)
        The last step promised no further rise.
    steps : ndarray of int, shape (n_trainees,)
        Evaluations that were needed.
    lopsided : ndarray of float, shape (n_trainees,)
        Largest distance between mode and mean of what a piece felt like; 0 before it is known.
    """

    filtered: Filtered
    information: Information
    centred: FloatArray
    dual: FloatArray
    log_evidence: FloatArray
    converged: BoolArray
    steps: IntArray
    lopsided: FloatArray

    def take(self, rows: slice | IntArray) -> Self:
        """Pick trainees by their place on the last axis."""
        return type(self)(
            filtered=self.filtered.take(rows),
            information=self.information.take(rows),
            centred=self.centred[..., rows],
            dual=self.dual[..., rows],
            log_evidence=self.log_evidence[rows],
            converged=self.converged[rows],
            steps=self.steps[rows],
            lopsided=self.lopsided[rows],
        )


_Arrays = TypeVar("_Arrays", Filtered, Information)


@dataclass(frozen=True, eq=False)
class _Shape:
    """Local quadratic shape of the answers, and the filter run with it."""

    information: Information
    filtered: Filtered


@dataclass(frozen=True, eq=False)
class _Search:
    """Where each trainee's search stands; the trainee axis is last.

    ``centred`` and ``dual`` are the point reached, ``step`` and ``dual_step`` the Newton step
    from there, ``value`` the log posterior, ``slope`` the rise that the whole step promises,
    ``length`` the share of it to try next.
    """

    centred: FloatArray
    dual: FloatArray
    step: FloatArray
    dual_step: FloatArray
    value: FloatArray
    slope: FloatArray
    length: FloatArray

    def take(self, rows: IntArray) -> "_Search":
        return _Search(**{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})


def find_mode(
    evidence: Evidence,
    *,
    tolerance: float = 1e-7,
    start: FloatArray | None = None,
    measure_again: bool = True,
) -> Posterior:
    """Find every trainee's mode and approximate the posterior there.

    Parameters
    ----------
    evidence : Evidence
        Answers of n trainees.
    tolerance : float
        Rise of the log posterior, promised by the next step, at which that step is the last one.
    start : ndarray of float, shape (n_nights, 5, n_trainees), optional
        Dual to start from, such as the one found under hyperparameters nearby.
    measure_again : bool
        Whether the curvature is taken at the mode. If not, it is the one that the last step was
        made with: a pass over the nights less, for those who measure it elsewhere anyway.

    Returns
    -------
    Posterior
        Mode, filter at the mode, evidence, diagnostics.
    """
    n = evidence.offset.shape[-1]
    dual = np.zeros_like(evidence.offset) if start is None else start
    mode = np.zeros_like(dual) if start is None else prior_times(dual, evidence)
    still = np.zeros_like(mode)
    search = _Search(mode, dual, still, still, np.full(n, -np.inf), np.zeros(n), np.ones(n))
    answers, active, steps = evidence, np.arange(n), np.zeros(n, dtype=int)
    order: list[IntArray] = []
    found: list[Posterior] = []
    for turn in range(1, MAX_STEPS + 1):
        steps += search.length > 0.0
        search, shape = _advance(search, answers)
        done = (search.length == 1.0) & (search.slope < tolerance)
        n_left = active.size - np.count_nonzero(done)
        if 2 * n_left > active.size and turn < MAX_STEPS:
            # Whoever has arrived stays there: an answer is the same alone and beside others.
            search = replace(search, length=np.where(done, 0.0, search.length))
            continue
        rows = np.flatnonzero(done) if turn < MAX_STEPS else np.arange(active.size)
        there = _arrive(search, shape, answers, rows=rows, measure_again=measure_again)
        found.append(replace(there, converged=done[rows], steps=steps[rows]))
        order.append(active[rows])
        if rows.size == active.size:
            break
        rows = np.flatnonzero(np.logical_not(done))
        active, steps = active[rows], steps[rows]
        answers, search = answers.take(rows), search.take(rows)
    return _join(found, order)


def prior_times(dual: FloatArray, evidence: Evidence) -> FloatArray:
    """Multiply the prior covariance of all pieces with a vector.

    Parameters
    ----------
    dual : ndarray of float, shape (n_nights, 5, n_trainees)
        The vector.
    evidence : Evidence
        Supplies spreads and noises.

    Returns
    -------
    ndarray of float, same shape
        The product.
    """
    later = np.cumsum(dual[::-1], axis=0)[::-1]
    steps = np.einsum("ijn,tjn->tin", evidence.drift, later)
    steps[0] = multiply(evidence.first, later[0])
    product: FloatArray = np.cumsum(steps, axis=0)
    return product + noise_times(dual, night_sd=evidence.night_sd, piece_sd=evidence.piece_sd)


def _advance(search: _Search, evidence: Evidence) -> tuple[_Search, _Shape]:
    """Try the step; where it rises enough move there and find the next, else halve it."""
    centred = search.centred + search.length * search.step
    dual = search.dual + search.length * search.dual_step
    likelihood = answer_likelihood(evidence.offset + centred, evidence)
    value = likelihood.value - 0.5 * _inner(dual, centred)
    wanted = search.value + ENOUGH * search.length * search.slope
    slack = 1e-12 * (1.0 + np.abs(value))
    rises = value >= wanted - slack
    shape = _expand(likelihood, centred, evidence=evidence)
    means, pull = smooth_means(shape.filtered, shape.information)
    target = means + noise_times(pull, night_sd=evidence.night_sd, piece_sd=evidence.piece_sd)
    step = target - centred
    reached = _Search(
        centred=centred,
        dual=dual,
        step=step,
        dual_step=pull - dual,
        value=value,
        slope=_inner(step, likelihood.gradient - dual),
        length=np.ones_like(value),
    )
    if rises.all():
        return reached, shape
    halved = replace(search, length=0.5 * search.length)
    values = {
        f.name: np.where(rises, getattr(reached, f.name), getattr(halved, f.name))
        for f in fields(_Search)
    }
    return _Search(**values), shape


def _inner(left: FloatArray, right: FloatArray) -> FloatArray:
    product: FloatArray = np.einsum("tpn,tpn->n", left, right)
    return product


def _expand(likelihood: Likelihood, centred: FloatArray, *, evidence: Evidence) -> _Shape:
    """Integrate out the noise and run the filter."""
    information = integrate_noise(
        likelihood, centred, night_sd=evidence.night_sd, piece_sd=evidence.piece_sd
    )
    filtered = filter_forward(information, first=evidence.first, drift=evidence.drift)
    return _Shape(information, filtered)


def _arrive(
    search: _Search, shape: _Shape, evidence: Evidence, *, rows: IntArray, measure_again: bool
) -> Posterior:
    """Make the last step of some trainees, and describe the posterior there."""
    if rows.size < search.value.size:
        search, evidence = search.take(rows), evidence.take(rows)
        if not measure_again:
            shape = _Shape(shape.information.take(rows), shape.filtered.take(rows))
    mode, dual = search.centred + search.step, search.dual + search.dual_step
    peak = search.value + 0.5 * search.slope
    if measure_again:
        likelihood = answer_likelihood(evidence.offset + mode, evidence)
        shape = _expand(likelihood, mode, evidence=evidence)
        peak = likelihood.value - 0.5 * _inner(dual, mode)
    n = peak.size
    return Posterior(
        filtered=shape.filtered,
        information=shape.information,
        centred=mode,
        dual=dual,
        log_evidence=peak - 0.5 * (shape.information.log_det + shape.filtered.log_det),
        converged=np.zeros(n, dtype=bool),
        steps=np.zeros(n, dtype=int),
        lopsided=np.zeros(n),
    )


def _join(found: list[Posterior], order: list[IntArray]) -> Posterior:
    """Put trainees who arrived one after the other back in their order."""
    if len(found) == 1:
        return found[0]
    names = ("centred", "dual", "log_evidence", "converged", "steps", "lopsided")
    return Posterior(
        filtered=_scatter([each.filtered for each in found], order),
        information=_scatter([each.information for each in found], order),
        **{name: _place([getattr(each, name) for each in found], order) for name in names},
    )


def _scatter(parts: list[_Arrays], order: list[IntArray]) -> _Arrays:
    """Put the arrays of several groups back in the order of the trainees."""
    kind = type(parts[0])
    return kind(
        **{f.name: _place([getattr(part, f.name) for part in parts], order) for f in fields(kind)}
    )


def _place(parts: list[NDArray[Any]], order: list[IntArray]) -> NDArray[Any]:
    whole = np.empty((*parts[0].shape[:-1], sum(rows.size for rows in order)), parts[0].dtype)
    for part, rows in zip(parts, order, strict=True):
        whole[..., rows] = part
    return whole
