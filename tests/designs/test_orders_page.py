"""The method page says what the stored benchmark measured."""

import csv
from pathlib import Path

import pytest

from sidelong.designs.base_arrays import BASE_ARRAYS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "method" / "orders.md").read_text(encoding="utf-8")


def stored_rows(table: str) -> list[dict[str, str]]:
    path = ROOT / "benchmarks" / "results" / "orders.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["table"] == table]


@pytest.mark.parametrize("nights", ["7", "10", "14", "21", "28"])
def test_table_of_comparison_repeats_the_stored_figures(nights: str) -> None:
    rows = [
        row
        for row in stored_rows("comparison")
        if row["positions"] == "5" and row["nights"] == nights
    ]
    assert rows
    for row in rows:
        cells = [
            nights,
            row["method"],
            f"{float(row['mean_efficiency']):.3f}",
            f"{float(row['worst_efficiency']):.3f}",
            f"{row['slot_spread']} / {row['pair_spread']}",
            f"{row['week_one_slot_spread']} / {row['week_one_pair_spread']}",
            f"{row['prefix_slot_spread']} / {row['prefix_pair_spread']}",
            row["most_frequent_order"],
            row["repeated_first"],
        ]
        assert f"| {' | '.join(cells)} |" in PAGE


def test_largest_pooled_spread_is_the_one_that_the_page_states() -> None:
    largest = max(plan.pooled_pair_spread for plans in BASE_ARRAYS.values() for plan in plans)
    assert f"(largest: {largest})" in PAGE


def test_stored_streams_keep_to_what_was_promised() -> None:
    for row in stored_rows("shipped"):
        assert int(row["cell_spread"]) <= 1
        assert int(row["pooled_pairs"]) <= (8 if row["nights"] == "7" else 6)
        assert float(row["worst_efficiency"]) >= 0.99
        assert row["positions"] in {"2", "3"} or float(row["plan_share"]) <= 0.05
        # Four standard errors of 12 000 guesses are less than 0.02.
        assert abs(float(row["guess_rate"]) - float(row["guess_forced"])) < 0.02
        assert float(row["draw_us"]) < 1000
        assert float(row["allocate_us"]) < 1000
