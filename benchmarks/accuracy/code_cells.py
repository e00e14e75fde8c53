"""Which QR code is read best from a blurred picture: large cells, or a high level of correction.

Run: python benchmarks/accuracy/code_cells.py [--seed 1] [--pictures 40]. Codes of 16 mm with the
text of a usual sheet, turned at random, blurred, with noise, read by zxing-cpp. Writes
results/code_cells.csv.
"""

import argparse
import csv
from importlib.metadata import version
from itertools import product
from pathlib import Path

import cv2
import numpy as np
import segno
import zxingcpp
from numpy.typing import NDArray

RESULTS = Path(__file__).parents[1] / "results" / "code_cells.csv"
TEXT = "S1:HL-0007:1:1:4:5DLCRU:EN:4817"
CODES = ((2, "m"), (3, "m"), (3, "q"), (3, "h"))
PIXELS_PER_MM = (4.0, 5.0, 6.0, 8.0)
BLURS_MM = (0.2, 0.25, 0.3)
SIDE_MM, QUIET, FINE = 16.0, 4, 20


def photograph(
    cells: NDArray[np.float64], px_per_mm: float, blur_mm: float, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Turn, shrink and blur a code; white 210, black 60, noise 6 of 255."""
    fine = np.kron(np.pad(cells, QUIET, constant_values=1.0), np.ones((FINE, FINE)))
    scale = px_per_mm * SIDE_MM / len(cells) / FINE
    side, middle = int(len(fine) * scale * 1.5), len(fine) / 2
    turn = cv2.getRotationMatrix2D((middle, middle), float(rng.uniform(0, 360)), scale)
    turn[:, 2] += side / 2 - middle + rng.uniform(0, 1, 2)
    soft = cv2.GaussianBlur(fine, (0, 0), 0.5 / scale)
    small = cv2.warpAffine(soft, turn, (side, side), borderValue=(1.0,))
    small = cv2.GaussianBlur(small, (0, 0), blur_mm * px_per_mm)
    noisy = 60 + 150 * small + rng.normal(0, 6, small.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def main() -> None:
    """Photograph, read, print and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pictures", type=int, default=40)
    chosen = parser.parse_args()
    rng = np.random.default_rng(chosen.seed)
    rows = []
    for (number, level), px_per_mm, blur_mm in product(CODES, PIXELS_PER_MM, BLURS_MM):
        made = segno.make_qr(TEXT, version=number, error=level, boost_error=False)
        cells = 1.0 - np.array([list(row) for row in made.matrix], float)
        n_read = 0
        for _ in range(chosen.pictures):
            picture = photograph(cells, px_per_mm, blur_mm, rng)
            n_read += any(each.text == TEXT for each in zxingcpp.read_barcodes(picture))
        row = {"cells": len(cells), "level": level.upper(), "px_per_mm": px_per_mm}
        row |= {"blur_mm": blur_mm, "read": n_read, "pictures": chosen.pictures}
        rows.append(row | {"seed": chosen.seed, "sidelong": version("sidelong")})
        print(*(f"{name} {value}" for name, value in row.items()))
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
