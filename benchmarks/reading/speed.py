"""How many pages a CPU second the reader reads: 12-megapixel photographs, 150-dpi scans.

Run: python benchmarks/reading/speed.py [--images 24] [--seed 7]. Images of the second generator
are stored as files in memory; opening them, finding, laying flat and judging is timed, crops are
not. Writes results/speed_reading.csv. CPU seconds of one thread tell a busy machine from a slow
program, and so does a yardstick: work of a fixed size, done between the images. All images are read
three times in turn, and of each the quickest counts; the first of each kind does not.
"""

import argparse
import csv
import io
import os
import platform
import tempfile
import time
from importlib.metadata import version
from pathlib import Path
from statistics import mean, median

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from kit import Kit
from PIL import Image
from run import make_kit
from second.sheets import NAME, VERSION, make_image

from sidelong.cli.memory import keep_large_blocks
from sidelong.exchange.protocols import read_default_protocol
from sidelong.paper.images import open_photographs
from sidelong.paper.reading.opening import open_reader
from sidelong.paper.reading.reader import Reader

RESULTS = Path(__file__).parents[1] / "results" / "speed_reading.csv"
ROUNDS = 3
GOALS = {"photograph_12mp": 3.0, "scan_150dpi": 6.0}


def store_in_memory(image: np.ndarray, dpi: int | None) -> bytes:
    """Write a JPEG as a phone or scanner does."""
    stream = io.BytesIO()
    resolution = {"dpi": (dpi, dpi)} if dpi else {}
    Image.fromarray(image).save(stream, "JPEG", quality=90, **resolution)
    return stream.getvalue()


def make_files(kit: Kit, kind: str, *, images: int, seed: int) -> list[bytes]:
    """Make images of one kind; scans of other resolutions are drawn again."""
    severity = "good_phone" if kind == "photograph_12mp" else "clean_scan"
    made: list[bytes] = []
    number = 0
    while len(made) < images:
        rng = np.random.default_rng([seed, len(kind), number])
        number += 1
        page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
        image, truth = make_image(kit, page, severity=severity, rng=rng)
        if truth.get("dpi") in {None, 150} and len(truth["pages"]) == 1:
            made.append(store_in_memory(image, truth.get("dpi")))
    return made


def time_reading(reader: Reader, files: list[bytes], kind: str) -> tuple[list[float], list[float]]:
    """Read all files once: CPU seconds of each, and of the yardstick beside it."""
    seconds, yards = [], []
    for content in files:
        yards.append(time_yardstick())
        start = time.process_time()
        for photograph in open_photographs(content, name=kind):
            reader.read(photograph)
        seconds.append(time.process_time() - start)
    return seconds, yards


def time_yardstick() -> float:
    """Do work of a fixed size, of the kinds that reading does; give its CPU seconds."""
    matrix = np.full((700, 700), 0.5, np.float32)
    picture = np.zeros((1754, 1240, 3), np.uint8)
    start = time.process_time()
    for _ in range(6):
        matrix @ matrix
        cv2.GaussianBlur(picture, (0, 0), 2)
        np.sort(picture[:, :, 0], axis=None)
    return time.process_time() - start


def main() -> None:
    """Time and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--images", type=int, default=24)
    parser.add_argument("--seed", type=int, default=7)
    chosen = parser.parse_args()
    keep_large_blocks()  # as the command does
    rows = []
    with tempfile.TemporaryDirectory() as name:
        kit = make_kit(Path(name), trainees=24, seed=chosen.seed)
        reader = open_reader(kit.layout, folder=kit.folder, protocol=read_default_protocol())
        for kind, goal in GOALS.items():
            files = make_files(kit, kind, images=chosen.images + 1, seed=chosen.seed)
            rounds = [time_reading(reader, files, kind) for _ in range(ROUNDS)]
            spent, yards = np.min(rounds, axis=0)[:, 1:].tolist()
            rows.append((f"{kind}_pages_per_cpu_s", 1 / mean(spent), goal))
            rows.append((f"{kind}_median_cpu_s", median(spent), ""))
            rows.append((f"{kind}_slowest_cpu_s", max(spent), ""))
            rows.append((f"{kind}_yardsticks", mean(spent) / mean(yards), ""))
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        made_with = ["images", "seed", "generator", "sidelong", "opencv", "python", "load"]
        writer.writerow(["figure", "value", "at_least", *made_with])
        for figure, value, goal in rows:
            versions = [f"{NAME} {VERSION}", version("sidelong"), cv2.__version__]
            versions += [platform.python_version(), load]
            writer.writerow([figure, f"{value:.3f}", goal, chosen.images, chosen.seed, *versions])
            print(f"{figure:34} {value:8.3f}{f'   at least {goal}' if goal else ''}")


if __name__ == "__main__":
    main()
