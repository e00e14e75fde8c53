"""Filled-in pages, degraded by a library that knows nothing of ours (augraphy), and read.

Run in two steps, since augraphy lives in an environment of its own (research/reading/degrade.py
says how to install it):

    python benchmarks/reading/augraphy_pages.py make FOLDER [--pages 10] [--seed 7]
    augraphy-env/bin/python research/reading/degrade.py FOLDER/pages FOLDER/degraded --seed 7
    python benchmarks/reading/augraphy_pages.py score FOLDER [--seed 7]

Pages are filled in by the first generator's hands and drawn at 150 dpi, neither scanned nor
photographed. Writes results/reading_augraphy.csv; a picture that did not change is counted apart.
"""

import argparse
import csv
import json
import os
import platform
import shutil
from collections import defaultdict
from importlib.metadata import version
from pathlib import Path
from statistics import mean

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from filled_sheet import fill_sheet
from kit import Kit
from PIL import Image
from run import SIDELONG, make_kit
from score import Score, read_rows, score, upper_bound

RESULTS = Path(__file__).parents[1] / "results" / "reading_augraphy.csv"
PX_PER_MM = 150 / 25.4
LEAST_CHANGE = 0.5  # mean grey levels; with less a degradation did not run


def make(folder: Path, *, pages: int, seed: int) -> None:
    """Fill in pages, and write them with their truth."""
    made = folder / "pages"
    made.mkdir(parents=True, exist_ok=True)
    make_kit(folder, trainees=24, seed=seed)
    kit = Kit.read(folder / "kit")
    for number in range(pages):
        rng = np.random.default_rng([seed, 4, number])
        page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
        sheet = fill_sheet(kit, page, px_per_mm=PX_PER_MM, faults=0.0, rng=rng)
        Image.fromarray(sheet.canvas.pixels).save(made / f"{number:04d}.png")
        truth = {"image": f"{number:04d}.jpg", "severity": "", "pages": [sheet.truth()]}
        (made / f"{number:04d}.json").write_text(json.dumps(truth, default=float), "utf-8")


def read_degraded(folder: Path, name: str) -> Score:
    """Read the pictures of one degradation with the command, and score them."""
    import subprocess

    out = folder / f"{name}.csv"
    command = [*SIDELONG, "read", str(folder / "degraded" / name), "--no-crops", "--out", str(out)]
    command += ["--layout", str(folder / "kit" / "layout.json")]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    truths = [
        json.loads((folder / "pages" / f"{path.stem}.json").read_text("utf-8"))
        for path in sorted((folder / "degraded" / name).glob("*.jpg"))
    ]
    return score(read_rows(out), truths)[""]


def rows_of(folder: Path, seed: int) -> list[dict[str, object]]:
    """Score everything that was degraded, and the pages as they were made."""
    plain = folder / "degraded" / "none"
    plain.mkdir(exist_ok=True)
    for path in (folder / "pages").glob("*.png"):
        Image.open(path).save(plain / f"{path.stem}.jpg", quality=95)
    ran: dict[str, list[dict[str, str]]] = defaultdict(list)
    with (folder / "degraded" / "ran.csv").open(encoding="utf-8", newline="") as file:
        names = ("degradation", "page", "change", "share", "augraphy", "error")
        for row in csv.DictReader(file, names):
            ran[row["degradation"]].append(row)
    rows = []
    for name in ("none", *ran):
        counted = read_degraded(folder, name)
        told = [row for row in ran[name] if not row["error"]]
        rows.append(
            {
                "degradation": name,
                "pages": counted.n_pages,
                "failed": sum(bool(row["error"]) for row in ran[name]),
                "unchanged": sum(float(row["change"]) < LEAST_CHANGE for row in told),
                "mean_change": f"{mean(float(row['change']) for row in told):.1f}" if told else 0,
                "share_changed": f"{mean(float(row['share']) for row in told):.3f}" if told else 0,
                "found": counted.n_detected,
                "wrong_pages": counted.n_wrong_page,
                "readable_fields": counted.n_readable,
                "accepted": counted.n_accepted,
                "silent_errors": counted.n_silent,
                "silent_upper": f"{upper_bound(counted.n_silent, counted.n_accepted):.4f}",
                "right_in_review": f"{counted.n_right_in_review / max(counted.n_in_review, 1):.3f}",
                "seed": seed,
                "augraphy": told[0]["augraphy"] if told else "",
                "sidelong": version("sidelong"),
                "opencv": cv2.__version__,
                "python": platform.python_version(),
            }
        )
        print(*(f"{key}={value}" for key, value in list(rows[-1].items())[:13]))
        for each in counted.silent:
            print(f"  silent: {each}")
    return rows


def main() -> None:
    """Make pages, or score what became of them."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("step", choices=("make", "score"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--pages", type=int, default=10)
    parser.add_argument("--seed", type=int, default=7)
    chosen = parser.parse_args()
    if chosen.step == "make":
        shutil.rmtree(chosen.folder / "degraded", ignore_errors=True)
        make(chosen.folder, pages=chosen.pages, seed=chosen.seed)
        return
    rows = rows_of(chosen.folder, chosen.seed)
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
