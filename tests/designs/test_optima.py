"""The stated best efficiencies, from the enumeration in ``research/orders``."""

import importlib.util
import itertools
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from sidelong.designs import SUPPORTED_NIGHTS, base_plans, criteria_for, measure_orders


def load_enumeration() -> ModuleType:
    path = Path(__file__).parents[2] / "research" / "orders" / "count_matrices.py"
    spec = importlib.util.spec_from_file_location("count_matrices", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


enumeration = load_enumeration()


@pytest.mark.parametrize(("n", "nights"), list(itertools.product((3, 4, 5), SUPPORTED_NIGHTS)))
def test_efficiency_follows_from_the_two_count_tables_alone(n: int, nights: int) -> None:
    measured = [measure_orders(plan) for plan in base_plans(n, nights)]
    from_tables = enumeration.efficiency_from_counts(
        np.array([m.slot_counts for m in measured]), np.array([m.pair_counts for m in measured])
    )
    assert from_tables == pytest.approx([m.efficiency for m in measured], abs=1e-8)


@pytest.mark.parametrize("nights", SUPPORTED_NIGHTS)
def test_no_plan_of_three_positions_exceeds_the_stated_optimum(nights: int) -> None:
    best, within_limits = enumeration.three_position_tables(nights)
    stated = criteria_for(3, nights).best_efficiency

    assert best == pytest.approx(stated, abs=1e-5)
    assert within_limits[0][0] == pytest.approx(stated, abs=1e-5)


# Tables that exist on paper above the stated optimum, for which no nights exist (CP-SAT).
EMPTY_TABLES = {(4, 7): 1, (4, 10): 4, (5, 7): 5}


@pytest.mark.parametrize(("n", "nights"), list(itertools.product((4, 5), SUPPORTED_NIGHTS)))
def test_stated_optimum_is_the_best_count_table_that_nights_exist_for(n: int, nights: int) -> None:
    ranked = [efficiency for efficiency, _, _ in enumeration.ranked_tables(n, nights)]
    stated = criteria_for(n, nights).best_efficiency
    n_empty = EMPTY_TABLES.get((n, nights), 0)

    assert all(efficiency > stated + 1e-5 for efficiency in ranked[:n_empty])
    assert ranked[n_empty] == pytest.approx(stated, abs=1e-5)
