"""Which sheets of an image are found and named, and whether a strange one is taken for ours.

Run: python benchmarks/reading/pages.py GENERATOR --severity terrible [--images 60] [--seed 7]
[--keep FOLDER]. GENERATOR is one of run.py's. Marks are not judged. Every image is read twice:
with the whole kit, and with a kit from which its own pages are taken out; a page accepted then is
wrong. Writes results/reading_pages.csv; with --keep, images are kept there and taken from there.
"""

import argparse
import csv
import importlib
import json
import os
import platform
import tempfile
import time
from collections import Counter
from importlib.metadata import version
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from kit import Kit
from run import MODULES, SEVERITIES, make_kit, write_image
from score import lower_bound, upper_bound

from sidelong.paper.images import open_photographs
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.training.reading import FieldReading, PageStatus

RESULTS = Path(__file__).parents[1] / "results" / "reading_pages.csv"
GOALS = {"clean_scan": 1.0, "good_phone": 1.0, "poor_phone": 0.995, "terrible": 0.9}
COLUMNS = ("generator", "generator_version", "severity", "seed", "figure", "value", "goal")
COLUMNS += ("sidelong", "opencv", "python")


def make_images(kit: Kit, folder: Path, chosen: argparse.Namespace) -> list[Path]:
    """Make the images that are not there yet; gives their truth files."""
    generator = importlib.import_module(MODULES[chosen.generator])
    truths = []
    for number in range(chosen.images):
        name = f"{chosen.severity}-{number:04d}"
        if not list(folder.glob(f"{name}.*.json")):
            rng = np.random.default_rng([chosen.seed, SEVERITIES.index(chosen.severity), number])
            page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
            image, truth = generator.make_image(kit, page, severity=chosen.severity, rng=rng)
            write_image(folder, name, image, truth)
        truths += folder.glob(f"{name}.*.json")
    return truths


def judge_nothing(patches: object, contexts: list[object]) -> list[FieldReading]:
    """Stand in for the networks: what is measured here is where and which the page is."""
    return [FieldReading("", 0.5, accepted=False) for _ in contexts]


def count(kit: Kit, truths: list[Path]) -> Counter[str]:
    """Read every image with the kit, and with the kit without its own pages."""
    printed = PrintedPages((kit.folder / kit.layout.pdf).read_bytes())
    whole = Reader(PageIndex(kit.layout.pages), printed=printed, judge=judge_nothing)
    counted: Counter[str] = Counter()
    for path in truths:
        truth = json.loads(path.read_text("utf-8"))
        there = {page["page_id"] for page in truth["pages"]}
        content = (path.parent / truth["image"]).read_bytes()
        others = tuple(page for page in kit.layout.pages if page.page_id not in there)
        strange = Reader(PageIndex(others), printed=printed, judge=judge_nothing)
        [photograph] = open_photographs(content, name=truth["image"])
        start = time.process_time()
        read = {page.page_id: page.status for page in whole.read(photograph)[0].pages}
        counted["cpu_ms"] += round(1000 * (time.process_time() - start))
        sure = {page for page, status in read.items() if status is PageStatus.OK}
        counted["images"] += 1
        counted["pages"] += len(there)
        counted["found"] += len(there & read.keys())
        counted["sure"] += len(there & sure)
        counted["wrong_sure"] += len(sure - there)
        counted["wrong_unsure"] += len(read.keys() - sure - there)
        foreign = strange.read(photograph)[0].pages
        counted["strange_sure"] += sum(page.status is PageStatus.OK for page in foreign)
        counted["strange_unsure"] += sum(page.status is not PageStatus.OK for page in foreign)
        if there - read.keys():
            print(f"  {truth['image']}: missed {', '.join(sorted(there - read.keys()))}")
    return counted


def figures(counted: Counter[str], goal: float) -> dict[str, tuple[float, object]]:
    """Name what is stored, with its goal."""
    pages, sure = counted["pages"], counted["sure"] + counted["wrong_sure"]
    return {
        "images": (counted["images"], ""),
        "pages": (pages, ""),
        "found_share": (counted["found"] / pages, goal),
        "found_lower": (lower_bound(counted["found"], pages), ""),
        "sure_share": (counted["sure"] / pages, ""),
        "wrong_sure": (counted["wrong_sure"], 0),
        "wrong_sure_upper": (upper_bound(counted["wrong_sure"], sure), ""),
        "wrong_unsure": (counted["wrong_unsure"], ""),
        "strange_kit_sure": (counted["strange_sure"], 0),
        "strange_kit_unsure": (counted["strange_unsure"], ""),
        "cpu_s_per_image": (counted["cpu_ms"] / 1000 / counted["images"], ""),
    }


def store(chosen: argparse.Namespace, counted: Counter[str]) -> None:
    """Print, and replace the rows of this generator, severity and seed."""
    generator = importlib.import_module(MODULES[chosen.generator])
    key = {
        "generator": generator.NAME,
        "generator_version": str(generator.VERSION),
        "severity": chosen.severity,
        "seed": str(chosen.seed),
    }
    made_with = {
        "sidelong": version("sidelong"),
        "opencv": cv2.__version__,
        "python": platform.python_version(),
    }
    kept = []
    if RESULTS.exists():
        with RESULTS.open(encoding="utf-8", newline="") as file:
            kept = [row for row in csv.DictReader(file) if any(row[n] != key[n] for n in key)]
    for name, (value, goal) in figures(counted, GOALS[chosen.severity]).items():
        kept.append(key | {"figure": name, "value": f"{value:.5g}", "goal": goal} | made_with)
        print(
            f"{chosen.severity:11} {name:20} {value:10.5g} {f'goal {goal}' if goal != '' else ''}"
        )
    with RESULTS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(kept)


def main() -> None:
    """Make, read, count, store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("generator", choices=MODULES)
    parser.add_argument("--severity", choices=SEVERITIES, default="terrible")
    parser.add_argument("--images", type=int, default=60)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--trainees", type=int, default=24)
    parser.add_argument("--keep", type=Path)
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as name:
        kit = make_kit(Path(name), trainees=chosen.trainees, seed=chosen.seed)
        folder = chosen.keep or Path(name) / "images"
        folder.mkdir(parents=True, exist_ok=True)
        store(chosen, count(kit, make_images(kit, folder, chosen)))


if __name__ == "__main__":
    main()
