"""How large and how far apart marks must be for crayons: strokes at random, what they reach.

Run: python benchmarks/accuracy/crayon.py [--seed 11] [--strokes 3000]. A child fills, crosses or
ticks one mark with a crayon. How often does the ink reach the outline of the neighbour, how often
does it cover a tenth of the neighbour's inside, and how often is the neighbour covered as much as
the mark that was meant? Width of the stroke 4 to 7 mm (a pencil: 0.7 mm); centre off by a normal
error, its spread the scatter; length of the strokes beside the mark's size log-normal, spread
0.25. All of these are assumptions, common practice at best, no source; no child was measured.
Writes results/crayon.csv.
"""

import argparse
import csv
import platform
from importlib.metadata import version
from itertools import pairwise, product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

RESULTS = Path(__file__).parents[1] / "results" / "crayon.csv"
WIDTHS_MM = {"pencil": (0.7, 0.7), "felt pen": (1.0, 3.0), "crayon": (4.0, 7.0)}
SCATTERS_MM = {"steady": 0.8, "usual": 1.5, "shaky": 2.5}
MARKS_MM = (7.0, 8.0, 10.0)
# 13: least in use (reasons); 13.86: did it go down; 16: five ratings; 20: four; 30: large print.
PITCHES_MM = (12.0, 13.0, 13.86, 16.0, 20.0, 30.0)
OVERSHOOT = 0.25
GRID_MM = 0.4

Lines = NDArray[np.float64]  # (n_points, 2), mm from the middle of the mark that is meant


def draw_stroke(mark_mm: float, scatter_mm: float, rng: np.random.Generator) -> list[Lines]:
    """Draw what a child draws: a scribble, a cross or a tick, as polylines."""
    radius = mark_mm / 2 * np.exp(rng.normal(0.0, OVERSHOOT))
    middle = rng.normal(0.0, scatter_mm, 2)
    turn = rng.uniform(0.0, 2 * np.pi)
    kind = rng.choice(3, p=(0.5, 0.3, 0.2))
    if kind == 0:
        n = int(rng.integers(4, 8))
        along = np.linspace(-0.8, 0.8, n)
        across = np.where(np.arange(n) % 2, 1.0, -1.0) * np.sqrt(1 - along**2)
        lines = [np.stack([along, across], axis=1)]
    elif kind == 1:
        lines = [np.array([[-0.75, -0.75], [0.75, 0.75]]), np.array([[-0.75, 0.75], [0.75, -0.75]])]
        turn = rng.normal(0.0, 0.2)
    else:
        lines = [np.array([[-0.6, -0.1], [-0.1, 0.6], [0.9, -0.9]])]
        turn = rng.normal(0.0, 0.2)
    cos, sin = np.cos(turn), np.sin(turn)
    rotation = np.array([[cos, -sin], [sin, cos]])
    return [radius * line @ rotation.T + middle for line in lines]


def distance_to(points: Lines, lines: list[Lines]) -> NDArray[np.float64]:
    """Give the distance of points to the nearest piece of the lines, mm."""
    nearest = np.full(len(points), np.inf)
    for line in lines:
        for start, end in pairwise(line):
            along = end - start
            share = np.clip((points - start) @ along / (along @ along), 0.0, 1.0)
            gap = points - start - share[:, None] * along
            nearest = np.minimum(nearest, np.hypot(gap[:, 0], gap[:, 1]))
    return nearest


def inside(mark_mm: float) -> Lines:
    """Give a grid of points inside a mark, mm from its middle."""
    side = np.arange(-mark_mm / 2, mark_mm / 2, GRID_MM) + GRID_MM / 2
    points = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    return points[np.hypot(points[:, 0], points[:, 1]) <= mark_mm / 2]


def measure(
    pen: str, scatter: str, mark_mm: float, *, n_strokes: int, rng: np.random.Generator
) -> list[dict[str, object]]:
    """Draw strokes for one size of mark, and look at neighbours at every distance."""
    grid = inside(mark_mm)
    shares = np.zeros((len(PITCHES_MM), 3))
    for _ in range(n_strokes):
        lines = draw_stroke(mark_mm, SCATTERS_MM[scatter], rng)
        half = rng.uniform(*WIDTHS_MM[pen]) / 2
        own = np.mean(distance_to(grid, lines) < half)
        for place, pitch in enumerate(PITCHES_MM):
            # Two neighbours, one to each side.
            middles = np.array([[pitch, 0.0], [-pitch, 0.0]])
            reach = distance_to(middles, lines) < mark_mm / 2 + half
            covered = [
                np.mean(distance_to(grid + middle, lines) < half) if hit else 0.0
                for middle, hit in zip(middles, reach, strict=True)
            ]
            shares[place] += (reach.any(), max(covered) > 0.1, 0 < max(covered) >= own)
    return [
        {"pen": pen, "hand": scatter, "mark_mm": mark_mm, "pitch_mm": pitch}
        | dict(zip(("reaches", "covers_a_tenth", "misleads"), row / n_strokes, strict=True))
        for pitch, row in zip(PITCHES_MM, shares, strict=True)
    ]


def main() -> None:
    """Draw, print and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--strokes", type=int, default=3000)
    chosen = parser.parse_args()
    rng = np.random.default_rng(chosen.seed)
    stamp = {
        "strokes": chosen.strokes,
        "seed": chosen.seed,
        "sidelong": version("sidelong"),
        "numpy": version("numpy"),
        "python": platform.python_version(),
    }
    rows = []
    print("pen       hand     mark pitch  reaches  covers 0.1  misleads")
    for pen, hand, mark in product(WIDTHS_MM, SCATTERS_MM, MARKS_MM):
        for row in measure(pen, hand, mark, n_strokes=chosen.strokes, rng=rng):
            rows.append({name: _short(value) for name, value in (row | stamp).items()})
            print(
                f"{pen:9} {hand:7} {mark:5.0f} {row['pitch_mm']:5.1f}   {row['reaches']:6.3f}"
                f"      {row['covers_a_tenth']:6.3f}    {row['misleads']:6.4f}"
            )
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _short(value: object) -> object:
    return f"{value:.4f}" if isinstance(value, float | np.floating) else value


if __name__ == "__main__":
    main()
