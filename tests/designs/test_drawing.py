"""One random plan: always within the criteria, every plan equally likely."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from sidelong.designs import (
    SUPPORTED_NIGHTS,
    base_plans,
    criteria_for,
    draw_orders,
    measure_orders,
)

SIZES = list(itertools.product((2, 3, 4, 5), SUPPORTED_NIGHTS))


@pytest.mark.parametrize(("n", "nights"), SIZES)
@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_every_draw_keeps_to_every_criterion(n: int, nights: int, seed: int) -> None:
    orders = draw_orders(n_positions=n, n_nights=nights, rng=np.random.default_rng(seed))

    assert orders.shape == (nights, n)
    assert criteria_for(n, nights).failures(measure_orders(orders)) == ()


def test_one_position_is_the_same_every_night() -> None:
    orders = draw_orders(n_positions=1, n_nights=7, rng=np.random.default_rng(0))
    assert orders.tolist() == [[0]] * 7


def test_same_generator_state_gives_the_same_plan() -> None:
    first, second = (
        draw_orders(n_positions=5, n_nights=14, rng=np.random.default_rng(5)) for _ in range(2)
    )
    assert (first == second).all()


def test_every_base_plan_and_every_labelling_is_equally_likely() -> None:
    rng = np.random.default_rng(20260114)
    plans = base_plans(4, 10)
    known = {np.argsort(plan[0])[plan].tobytes(): k for k, plan in enumerate(plans)}
    cells = np.zeros((len(plans), 24), dtype=int)
    first_nights = {night: k for k, night in enumerate(itertools.permutations(range(4)))}
    for _ in range(12_000):
        orders = draw_orders(n_positions=4, n_nights=10, rng=rng)
        base = known[np.argsort(orders[0])[orders].tobytes()]
        cells[base, first_nights[tuple(orders[0].tolist())]] += 1

    assert stats.chisquare(cells.ravel()).pvalue > 1e-4


def test_sizes_that_are_not_shipped_are_refused() -> None:
    with pytest.raises(ValueError, match="nights one of"):
        draw_orders(n_positions=5, n_nights=12, rng=np.random.default_rng(0))
