"""Nights that stop after two failed positions: the rule looks only at answers that the model has.

Its chance is therefore a constant in ease and cancels (Rubin 1976, Inference and missing data,
Biometrika 63: missing at random; from memory). Both tests need no knowledge of the engine.
"""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import DEFAULT, NO, estimate_preferences, simulate_courses
from sidelong.preferences.simulate import FAITHFUL

HARD = replace(
    DEFAULT,
    thresholds={**DEFAULT.thresholds, 5: (-0.4, 0.6, 1.6, 2.7)},
    went_cuts=(-0.9, 0.3),
)


def test_no_bias_where_a_third_of_all_nights_stop(orders, rng) -> None:
    drawn = simulate_courses(
        orders(1500), hyperparameters=HARD, rng=rng, conduct=replace(FAITHFUL, no_best=0.1)
    )
    tried = (drawn.courses.slot > 0).sum(axis=2)
    assert 0.2 < (tried < 5).mean() < 0.5
    found = estimate_preferences(drawn.courses, hyperparameters=HARD)
    off = found.ease - drawn.next_ease
    assert abs(off.mean()) < 0.05
    deviation = np.sqrt(np.einsum("nii->ni", found.covariance))
    assert np.mean(np.abs(off) < 1.645 * deviation) == pytest.approx(0.9, abs=0.02)


def test_trainees_who_stopped_often_are_answered_as_truly_as_the_others(orders, rng) -> None:
    # Were stopping informative, those who stopped most would be easier or harder than said.
    drawn = simulate_courses(orders(1500), hyperparameters=HARD, rng=rng, conduct=FAITHFUL)
    found = estimate_preferences(drawn.courses, hyperparameters=HARD)
    stopped = ((drawn.courses.went_down == NO).sum(axis=2) >= 2).sum(axis=1)
    often = stopped >= np.quantile(stopped, 0.75)
    off = (found.ease - drawn.next_ease).mean(axis=1)
    error = off[often].std() / np.sqrt(often.sum())
    assert abs(off[often].mean()) < 0.04 + 2.5 * error
