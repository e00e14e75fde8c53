"""How long one booklet takes: the first in a process, and later ones with the warm compiler.

Run: python benchmarks/speed/booklet.py [--seed 7] [--booklets 20]. The first figure is taken in
fresh processes and counts everything from the interpreter's start, imports included. Later
booklets are of other trainees, with other orders; CPU seconds tell a busy machine from a slow
program. Then a hundred booklets with their kit, in each of the three versions and, for twenty, in
large print. Writes results/speed_booklet.csv.
"""

import argparse
import csv
import os
import platform
import subprocess
import sys
import time
from functools import cache
from importlib.metadata import version
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sidelong.training.plan import Plan

RESULTS = Path(__file__).parents[1] / "results" / "speed_booklet.csv"
NIGHTS, TARGET_COLD_S, TARGET_WARM_S = 14, 2.5, 0.3
MANY, TARGET_MANY_S = 100, 60.0


@cache
def protocol() -> object:
    """Read the shipped protocol; a command reads its protocol once for all trainees."""
    from sidelong.exchange.protocols import read_default_protocol

    return read_default_protocol()


def invent_plan(number: int, rng: np.random.Generator) -> "Plan":
    """Draw the plan of one invented trainee."""
    from sidelong.training.plan import Night, Plan
    from sidelong.training.position import ALL_POSITIONS

    orders = (rng.permutation(len(ALL_POSITIONS)) for _ in range(NIGHTS))
    nights = tuple(Night(tuple(ALL_POSITIONS[i] for i in order), 5.0) for order in orders)
    return Plan(f"T-{number:04d}", nights)


def options() -> dict[str, object]:
    """Say what all booklets are made with."""
    from sidelong.paper.language import read_language
    from sidelong.paper.sheet import Paper

    language = read_language("en")
    return {"protocol": protocol(), "pieces": (), "paper": Paper.A4, "language": language}


def make_one(number: int, rng: np.random.Generator, **version: str) -> int:
    """Make the booklet of one invented trainee, and give its size in bytes."""
    from sidelong.paper.booklet import make_booklet
    from sidelong.paper.version import Audience, Edition
    from sidelong.training.entry import Scale

    made = make_booklet(
        invent_plan(number, rng),
        scale=Scale.FIVE,
        audience=Audience(version.get("audience", "child")),
        edition=Edition(version.get("edition", "standard")),
        **options(),
    )
    return len(made.pdf)


def time_many(rng: np.random.Generator) -> tuple[float, float, float]:
    """Time a hundred booklets in turn for child, teenager and adult, s and CPU s, and their kit."""
    from sidelong.paper.booklet import make_kit
    from sidelong.training.entry import Scale

    start, start_cpu = time.perf_counter(), time.process_time()
    for number in range(MANY):
        make_one(number, rng, audience=("child", "teen", "adult")[number % 3])
    booklets, cpu = time.perf_counter() - start, time.process_time() - start_cpu
    start = time.perf_counter()
    plans = [invent_plan(number, rng) for number in range(MANY)]
    make_kit(plans, scales=[Scale.FIVE] * MANY, **options())
    return booklets, cpu, time.perf_counter() - start


def time_large(rng: np.random.Generator) -> float:
    """Time twenty booklets in large print, s each, the middle of them."""
    taken = []
    for number in range(20):
        start = time.perf_counter()
        make_one(number, rng, edition="large")
        taken.append(time.perf_counter() - start)
    return median(taken)


def time_cold(seed: int) -> float:
    """Time a fresh process that makes one booklet, s."""
    start = time.perf_counter()
    command = [sys.executable, __file__, "--seed", str(seed), "--only-one"]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def main() -> None:
    """Time and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--booklets", type=int, default=20)
    parser.add_argument("--only-one", action="store_true", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    rng = np.random.default_rng(chosen.seed)
    if chosen.only_one:
        make_one(0, rng)
        return
    cold = [time_cold(chosen.seed) for _ in range(3)]
    size = make_one(0, rng)
    warm, warm_cpu = [], []
    for number in range(1, chosen.booklets + 1):
        start, start_cpu = time.perf_counter(), time.process_time()
        make_one(number, rng)
        warm.append(time.perf_counter() - start)
        warm_cpu.append(time.process_time() - start_cpu)
    many, many_cpu, kit = time_many(rng)
    rows = [
        ("cold_s", median(cold), TARGET_COLD_S),
        ("warm_median_s", median(warm), TARGET_WARM_S),
        ("warm_fastest_s", min(warm), TARGET_WARM_S),
        ("warm_slowest_s", max(warm), TARGET_WARM_S),
        ("warm_cpu_median_s", median(warm_cpu), ""),
        ("hundred_booklets_s", many, TARGET_MANY_S),
        ("hundred_booklets_cpu_s", many_cpu, ""),
        ("hundred_with_kit_s", many + kit, ""),
        ("large_median_s", time_large(rng), ""),
        ("pdf_kb", size / 1000, ""),
    ]
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    RESULTS.parent.mkdir(exist_ok=True)
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        made_with = ["seed", "sidelong", "typst", "python", "load"]
        writer.writerow(["figure", "value", "at_most", *made_with])
        for name, value, target in rows:
            versions = [version("sidelong"), version("typst"), platform.python_version(), load]
            writer.writerow([name, f"{value:.3f}", target, chosen.seed, *versions])
            limit = f"   at most {target}" if target else ""
            print(f"{name:18} {value:8.3f}{limit}")


if __name__ == "__main__":
    main()
