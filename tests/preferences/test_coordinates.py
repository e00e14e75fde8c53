"""Hyperparameters as a vector, and the prior on it."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import DEFAULT, DEFAULT_PRIOR, FitPrior
from sidelong.preferences.coordinates import (
    CONTRASTS,
    N_COORDINATES,
    PARTS,
    from_coordinates,
    to_coordinates,
)
from sidelong.preferences.prior import WIDTHS


def test_reading_back_what_was_written_changes_nothing() -> None:
    point = replace(
        DEFAULT,
        position_means=(-0.3, 0.2, 0.0, 0.4, -0.6),
        carryover_effects=(0.3, -0.1, -0.1, 0.2, -0.3),
    )
    again = from_coordinates(to_coordinates(point))
    np.testing.assert_allclose(again.position_means, point.position_means, atol=1e-12)
    np.testing.assert_allclose(again.carryover_effects, point.carryover_effects, atol=1e-12)
    np.testing.assert_allclose(again.thresholds[5], point.thresholds[5], atol=1e-12)
    np.testing.assert_allclose(again.went_cuts, point.went_cuts, atol=1e-12)
    assert again.spread_sd == pytest.approx(point.spread_sd)


def test_any_numbers_make_valid_hyperparameters(rng) -> None:
    for _ in range(50):
        from_coordinates(rng.normal(0.0, 3.0, N_COORDINATES))


def test_a_spread_of_0_becomes_one_that_cannot_be_told_from_it() -> None:
    nothing = replace(DEFAULT, spread_sd=0.0, drift_sd=0.0)
    assert from_coordinates(to_coordinates(nothing)).spread_sd == pytest.approx(1e-4)


def test_carryover_contrasts_are_orthonormal_and_sum_to_0() -> None:
    np.testing.assert_allclose(CONTRASTS.T @ CONTRASTS, np.eye(4), atol=1e-12)
    np.testing.assert_allclose(CONTRASTS.sum(axis=0), 0.0, atol=1e-12)


def test_the_prior_treats_all_positions_alike() -> None:
    part = PARTS["position_means"]
    covariance = DEFAULT_PRIOR.covariance[part, part]
    # Of centre minus another, and of one other minus another.
    between = covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1]
    np.testing.assert_allclose(covariance[0, 0], between)


def test_a_form_that_nobody_used_learns_from_one_that_was() -> None:
    covariance = DEFAULT_PRIOR.covariance
    used, unused = PARTS["thresholds_5"].start, PARTS["thresholds_3"].start
    assert covariance[used, unused] > 0.5 * covariance[used, used]


def test_the_prior_is_a_proper_distribution() -> None:
    assert np.linalg.eigvalsh(DEFAULT_PRIOR.covariance).min() > 0


def test_widths_that_are_missing_or_not_above_0_are_refused() -> None:
    with pytest.raises(ValueError, match="unknown"):
        FitPrior(widths={"gap": 1.0})
    with pytest.raises(ValueError, match="above 0"):
        FitPrior(widths={**WIDTHS, "gap": 0.0})
