"""Counts and spreads against plain counting, and the refusal of tables that are no plan."""

import itertools
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidelong.designs import measure_orders

plans = st.integers(2, 5).flatmap(
    lambda n: st.lists(st.permutations(range(n)), min_size=1, max_size=12)
)


def spread(counts: Counter, cells: list) -> int:
    values = [counts[cell] for cell in cells]
    return max(values) - min(values)


@settings(max_examples=60, deadline=None)
@given(plans)
def test_measures_agree_with_plain_counting(nights: list[list[int]]) -> None:
    n = len(nights[0])
    slot_cells = list(itertools.product(range(n), range(n)))
    pair_cells = list(itertools.permutations(range(n), 2))
    slots: Counter = Counter()
    pairs: Counter = Counter()
    slot_spreads, pair_spreads = [], []
    for night in nights:
        slots.update((position, slot) for slot, position in enumerate(night))
        pairs.update(itertools.pairwise(night))
        slot_spreads.append(spread(slots, slot_cells))
        pair_spreads.append(spread(pairs, pair_cells))

    measures = measure_orders(np.array(nights))

    week = min(7, len(nights)) - 1
    assert measures.slot_spread == slot_spreads[-1]
    assert measures.pair_spread == pair_spreads[-1]
    assert measures.week_one_slot_spread == slot_spreads[week]
    assert measures.week_one_pair_spread == pair_spreads[week]
    assert measures.prefix_slot_spread == max(slot_spreads)
    assert measures.prefix_pair_spread == max(pair_spreads)
    assert measures.most_frequent_order == max(Counter(map(tuple, nights)).values())
    assert measures.repeated_first_positions == sum(
        a[0] == b[0] for a, b in itertools.pairwise(nights)
    )
    assert all(measures.slot_counts[p][k] == slots[p, k] for p, k in slot_cells)
    assert all(measures.pair_counts[i][j] == pairs[i, j] for i, j in pair_cells)


def test_one_position_is_practice_without_comparison() -> None:
    measures = measure_orders(np.zeros((14, 1), dtype=int))

    assert measures.efficiency is None
    assert not measures.carryover_adjusted
    assert measures.repeated_first_positions == 0
    assert measures.slot_spread == measures.pair_spread == measures.prefix_pair_spread == 0


def test_two_positions_are_measured_without_carryover_and_say_so() -> None:
    measures = measure_orders(np.array([[0, 1], [1, 0]] * 7))

    assert measures.efficiency == pytest.approx(14.0)
    assert not measures.carryover_adjusted


@pytest.mark.parametrize(
    "orders",
    [
        [[0, 1, 1]],
        [[1, 2, 3]],
        [[0.0, 1.0]],
        [0, 1, 2],
        [[]],
    ],
)
def test_tables_that_are_no_plan_are_refused(orders: list) -> None:
    with pytest.raises(ValueError, match=r"orders are a table|every night holds"):
        measure_orders(np.array(orders))


def test_result_refuses_counts_of_another_size() -> None:
    measures = measure_orders(np.array([[0, 1, 2], [2, 1, 0]]))
    with pytest.raises(ValueError, match="one slot of every night"):
        replace(measures, n_nights=3)
    with pytest.raises(ValueError, match="ordered pairs"):
        replace(measures, pair_counts=((0, 0, 0),) * 3)
