"""Orders: what every size of plan achieves, and what simpler ways of ordering would.

Run from the repository's root::

    python benchmarks/orders.py

Prints three tables and stores them, with seed and version, in ``benchmarks/results/orders.csv``.
Relative efficiency is A over the best A known; spreads are the worst over all plans looked at.
"""

import argparse
import csv
import itertools
import time
from collections import Counter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sidelong import __version__
from sidelong.designs import (
    SUPPORTED_NIGHTS,
    OrderMeasures,
    allocate_orders,
    base_plans,
    criteria_for,
    draw_orders,
    key_from_seed,
    measure_orders,
    stream_label,
    table_digest,
)

Plans = NDArray[np.intp]
RESULTS = Path(__file__).parent / "results" / "orders.csv"
POSITIONS = ("down", "left", "centre", "right", "up")
SIZES = list(itertools.product((2, 3, 4, 5), SUPPORTED_NIGHTS))
SPREADS = (
    "slot_spread",
    "pair_spread",
    "week_one_slot_spread",
    "week_one_pair_spread",
    "prefix_slot_spread",
    "prefix_pair_spread",
)


def draw_stream(n_trainees: int, *, n: int, nights: int, seed: int, site: str = "a") -> Plans:
    """Plans of one stream in the order of enrolment, shape (n_trainees, nights, n)."""
    label = stream_label(site=site, band="younger", positions=POSITIONS[:n], n_nights=nights)
    key = key_from_seed(seed)
    return np.array(
        [
            allocate_orders(key, stream=label, index=k, n_positions=n, n_nights=nights)
            for k in range(n_trainees)
        ]
    )


def summarise(measured: list[OrderMeasures]) -> dict[str, float]:
    """Give efficiency relative to the best, and the worst of every spread."""
    criteria = criteria_for(measured[0].n_positions, measured[0].n_nights)
    shares = [criteria.share_of_best(m) for m in measured]
    row = {"worst_efficiency": min(shares), "mean_efficiency": float(np.mean(shares))}
    row |= {name: max(getattr(m, name) for m in measured) for name in SPREADS}
    row["most_frequent_order"] = max(m.most_frequent_order for m in measured)
    row["repeated_first"] = max(m.repeated_first_positions for m in measured)
    return row


def cell_spread(plans: Plans) -> int:
    """Largest spread of positions in any night and slot at any number enrolled."""
    counts = np.cumsum(plans[..., None] == np.arange(plans.shape[-1]), axis=0)
    return int(np.ptp(counts, axis=-1).max())


def pooled_pair_spread(plans: Plans) -> int:
    """Largest spread of ordered pairs over all plans so far, at any number enrolled."""
    n = plans.shape[-1]
    pairs = np.zeros((len(plans), n, n), dtype=int)
    which = np.broadcast_to(np.arange(len(plans))[:, None, None], plans[:, :, 1:].shape)
    np.add.at(pairs, (which, plans[:, :, :-1], plans[:, :, 1:]), 1)
    return int(np.ptp(pairs.cumsum(axis=0)[:, ~np.eye(n, dtype=bool)], axis=1).max())


def largest_plan_share(plans: Plans, *, from_trainees: int = 40) -> float:
    """Largest share that one plan ever has of a stream of at least so many trainees."""
    uses: Counter[bytes] = Counter()
    largest = 0.0
    for enrolled, plan in enumerate(plans, start=1):
        uses[plan.tobytes()] += 1
        if enrolled >= from_trainees:
            largest = max(largest, max(uses.values()) / enrolled)
    return largest


def guess_rate(plans: Plans, *, rng: np.random.Generator) -> float:
    """How often the next trainee's first position is right when the least used one is guessed."""
    counts = np.zeros(plans.shape[-1], dtype=int)
    right = 0
    for first in plans[:, 0, 0]:
        right += rng.choice(np.flatnonzero(counts == counts.min())) == first
        counts[first] += 1
    return right / len(plans)


def seconds_each(call, *, repeats: int) -> float:
    """Median over five rounds of the time of one call."""
    rounds = []
    for _ in range(5):
        start = time.perf_counter()
        for k in range(repeats):
            call(k)
        rounds.append((time.perf_counter() - start) / repeats)
    return float(np.median(rounds))


def measure_shipped(n: int, nights: int, *, seed: int, streams: int) -> dict[str, float]:
    """Measure draws, streams and speed for one size."""
    rng = np.random.default_rng([seed, n, nights])
    drawn = [draw_orders(n_positions=n, n_nights=nights, rng=rng) for _ in range(100)]
    enrolled = [
        draw_stream(120, n=n, nights=nights, seed=seed, site=str(k)) for k in range(streams)
    ]
    row = summarise([measure_orders(plan) for plan in [*drawn, *base_plans(n, nights)]])
    row["cell_spread"] = max(cell_spread(plans) for plans in enrolled)
    row["pooled_pairs"] = max(pooled_pair_spread(plans) for plans in enrolled)
    row["plan_share"] = max(largest_plan_share(plans) for plans in enrolled)
    row["guess_rate"] = float(np.mean([guess_rate(plans, rng=rng) for plans in enrolled]))
    row["guess_forced"] = sum(1 / k for k in range(1, n + 1)) / n
    key, label = key_from_seed(seed), "timing"
    row["draw_us"] = 1e6 * seconds_each(
        lambda _: draw_orders(n_positions=n, n_nights=nights, rng=rng), repeats=200
    )
    row["allocate_us"] = 1e6 * seconds_each(
        lambda k: allocate_orders(key, stream=label, index=k, n_positions=n, n_nights=nights),
        repeats=200,
    )
    return row


def williams_rows(n: int) -> Plans:
    """Rows of the square, or of the pair of squares for odd n, of Williams (1949)."""
    steps = [0]
    for k in range(1, n // 2 + 1):
        steps += [k, n - k]
    square = (np.array(steps[:n]) + np.arange(n)[:, None]) % n
    return square if n % 2 == 0 else np.vstack([square, square[:, ::-1]])


def repeated(rows: Plans, nights: int) -> Plans:
    """Go through the rows again and again."""
    return rows[np.arange(nights) % len(rows)]


def compare(n: int, nights: int, *, seed: int) -> dict[str, dict[str, float]]:
    """Measure simpler ways of ordering for one size."""
    rng = np.random.default_rng([seed, n, nights, 1])
    one = np.arange(n)
    random = [
        measure_orders(np.array([rng.permutation(n) for _ in range(nights)])) for _ in range(500)
    ]
    shuffled = []
    for _ in range(500):
        rows = [rng.permutation(williams_rows(n)) for _ in range(nights)]
        shuffled.append(measure_orders(np.concatenate(rows)[:nights]))
    cyclic = measure_orders(repeated((one[:, None] + one) % n, nights))
    return {
        "shipped plans": summarise([measure_orders(p) for p in base_plans(n, nights)]),
        "independent random orders": summarise(random),
        "Williams square repeated": summarise([measure_orders(repeated(williams_rows(n), nights))]),
        "Williams square, rows shuffled": summarise(shuffled),
        "cyclic square repeated": summarise([cyclic]),
    }


def simulate_programme(*, seed: int) -> dict[str, float]:
    """Enrol 240 trainees, site and band by chance, and look at every stream as it grows."""
    rng = np.random.default_rng([seed, 240])
    sizes = Counter((rng.choice(["a", "b"]), rng.choice(["younger", "older"])) for _ in range(240))
    key = key_from_seed(seed)
    row = {"cell_spread": 0, "pooled_pairs": 0, "plan_share": 0.0, "smallest": 240, "largest": 0}
    for (site, band), size in sizes.items():
        label = stream_label(site=str(site), band=str(band), positions=POSITIONS, n_nights=14)
        plans = np.array(
            [
                allocate_orders(key, stream=label, index=k, n_positions=5, n_nights=14)
                for k in range(size)
            ]
        )
        row["cell_spread"] = max(row["cell_spread"], cell_spread(plans))
        row["pooled_pairs"] = max(row["pooled_pairs"], pooled_pair_spread(plans))
        row["plan_share"] = max(row["plan_share"], largest_plan_share(plans))
        row["smallest"] = min(row["smallest"], size)
        row["largest"] = max(row["largest"], size)
    return row


def print_table(title: str, rows: list[dict[str, object]], columns: list[str]) -> None:
    """Print one table."""
    print(f"\n{title}")
    texts = [[_text(row.get(name, "")) for name in columns] for row in rows]
    widths = [max(map(len, column)) for column in zip(columns, *texts, strict=True)]
    for line in [columns, *texts]:
        print("  ".join(cell.rjust(width) for cell, width in zip(line, widths, strict=True)))


def _text(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.1f}" if value >= 10 else f"{value:.4f}"
    return str(value)


def main() -> None:
    """Measure, print, store."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=20260114)
    parser.add_argument("--streams", type=int, default=100, help="streams of 120 for each size")
    parser.add_argument("--out", type=Path, default=RESULTS)
    chosen = parser.parse_args()
    shipped: list[dict[str, object]] = []
    compared: list[dict[str, object]] = []
    for n, nights in SIZES:
        row = measure_shipped(n, nights, seed=chosen.seed, streams=chosen.streams)
        shipped.append({"table": "shipped", "positions": n, "nights": nights, **row})
        if n > 2:
            for method, other in compare(n, nights, seed=chosen.seed).items():
                size = {"positions": n, "nights": nights, "method": method}
                compared.append({"table": "comparison", **size, **other})
    programme = simulate_programme(seed=chosen.seed)
    enrolment: list[dict[str, object]] = [
        {"table": "240 trainees", "positions": 5, "nights": 14, **programme}
    ]
    efficiency = ["worst_efficiency", "mean_efficiency"]
    size = ["positions", "nights"]
    counts = [*SPREADS, "most_frequent_order", "repeated_first"]
    print(f"sidelong {__version__}, seed {chosen.seed}, table {table_digest()[:12]}")
    print_table("Shipped plans: efficiency and counts", shipped, [*size, *efficiency, *counts])
    stream = ["cell_spread", "pooled_pairs", "plan_share", "guess_rate", "guess_forced"]
    speed = ["draw_us", "allocate_us"]
    print_table(
        f"{chosen.streams} streams of 120 trainees, at any number enrolled; microseconds per plan",
        shipped,
        [*size, *stream, *speed],
    )
    print_table(
        "Other ways of ordering (500 draws where there is chance)",
        compared,
        [*size, "method", *efficiency, *counts],
    )
    print_table(
        "240 trainees, two sites, two bands, enrolled by chance; worst over the four streams",
        enrolment,
        [*size, "smallest", "largest", "cell_spread", "pooled_pairs", "plan_share"],
    )
    rows = [*shipped, *compared, *enrolment]
    names = ["version", "seed", *dict.fromkeys(name for row in rows for name in row)]
    with chosen.out.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, names, lineterminator="\n")
        writer.writeheader()
        for row in rows:
            writer.writerow({"version": __version__, "seed": chosen.seed, **row})
    print(f"\nstored {len(rows)} rows in {chosen.out.name}")


if __name__ == "__main__":
    main()
