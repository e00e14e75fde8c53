"""Make images with a generator, read them with the command, score them, store the figures.

Run: python benchmarks/reading/run.py GENERATOR [--severity S ...] [--images 300] [--seed 7]
GENERATOR is `first`, `second`, `third` or `third_words`; README.md says what each is for. Images
are made and read in portions, so that they need little room; what is scored is what the command
wrote. Writes results/reading_GENERATOR.csv as it goes.
"""

import argparse
import contextlib
import csv
import importlib
import io
import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np
from kit import Kit
from score import Score, read_rows, read_truths, score

RESULTS = Path(__file__).parents[1] / "results"
MODULES = {
    "first": "generator",
    "second": "second.sheets",
    "third": "third.sheets",
    "third_words": "third.words",
}
SEVERITIES = ("clean_scan", "good_phone", "poor_phone", "terrible")
PORTION = 50
SIDELONG = (sys.executable, "-c", "from sidelong.cli import main; main()")
GOALS = {  # detected share, accept rate
    "clean_scan": (1.0, 0.97),
    "good_phone": (1.0, 0.95),
    "poor_phone": (0.995, 0.85),
    "terrible": (0.9, 0.3),
}
COLUMNS = ("severity", "figure", "value", "goal", "generator", "generator_version", "seed")
COLUMNS += ("sidelong", "opencv", "python")


def make_kit(folder: Path, *, trainees: int, seed: int) -> Kit:
    """Print a kit with the real commands."""
    plans = folder / "plans.csv"
    plan = ["plan", "--trainees", str(trainees), "--seed", str(seed), "--piece-mm", "5"]
    quiet = {"check": True, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.run([*SIDELONG, *plan, "--out", str(plans)], **quiet)
    booklets = ["booklet", str(plans), "--out", str(folder / "b"), "--kit", str(folder / "kit")]
    subprocess.run([*SIDELONG, *booklets], **quiet)
    return Kit.read(folder / "kit")


def write_image(folder: Path, name: str, image: np.ndarray, truth: dict) -> None:
    """Write an image as its device would, with its truth beside it."""
    from PIL import Image

    file = f"{name}.{truth.get('file_format', 'jpg')}"
    stored = {"quality": 97} if file.endswith("jpg") else {"compress_level": 1}
    if truth.get("dpi"):
        stored["dpi"] = (truth["dpi"], truth["dpi"])
    Image.fromarray(image).save(folder / file, **stored)
    text = json.dumps({"image": file, **truth}, default=float)
    (folder / f"{file}.json").write_text(text, encoding="utf-8")


def read_images(kit: Kit, images: Path, out: Path) -> float:
    """Run `sidelong read`, and give the CPU seconds that it took, its start included."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [*SIDELONG, "read", str(images), "--no-crops"]
    command += ["--layout", str(kit.folder / "layout.json"), "--out", str(out)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def make_images(
    kit: Kit, generator: object, severity: str, *, numbers: range, seed: int, folder: Path
) -> None:
    """Make the images that are not in the folder yet."""
    folder.mkdir(parents=True, exist_ok=True)
    for number in numbers:
        name = f"{severity}-{number:04d}"
        if list(folder.glob(f"{name}.*.json")):
            continue
        rng = np.random.default_rng([seed, SEVERITIES.index(severity), number])
        page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
        image, truth = generator.make_image(kit, page, severity=severity, rng=rng)
        write_image(folder, name, image, truth)


def run_severity(
    kit: Kit,
    generator: object,
    severity: str,
    *,
    images: int,
    seed: int,
    keep: Path | None,
    is_read: bool,
) -> tuple[Score, float]:
    """Make, read and score; gives the counts and all CPU seconds of reading."""
    rows, truths, cpu = [], [], 0.0
    for start in range(0, images, PORTION):
        numbers = range(start, min(start + PORTION, images))
        with tempfile.TemporaryDirectory() as name:
            folder = keep / f"{severity}-{start:04d}" if keep else Path(name) / "images"
            make_images(kit, generator, severity, numbers=numbers, seed=seed, folder=folder)
            if is_read:
                cpu += read_images(kit, folder, Path(name) / "readings.csv")
                rows += read_rows(Path(name) / "readings.csv")
                truths += read_truths(folder)
        print(f"  {severity}: {start + PORTION} images", file=sys.stderr, flush=True)
    return score(rows, truths).get(severity, Score()), cpu


def store(path: Path, rows: list[dict[str, object]]) -> None:
    """Replace the rows of these severities in a table of results."""
    kept: list[dict[str, object]] = []
    if path.exists():
        again = {row["severity"] for row in rows}
        with path.open(encoding="utf-8", newline="") as file:
            kept = [row for row in csv.DictReader(file) if row["severity"] not in again]
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows([*kept, *rows])
    path.write_text(text.getvalue(), encoding="utf-8")


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("generator", choices=MODULES)
    parser.add_argument("--severity", nargs="+", choices=SEVERITIES, default=SEVERITIES)
    parser.add_argument("--images", type=int, default=300)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--trainees", type=int, default=24)
    parser.add_argument("--keep", type=Path, help="for kit and images; what is there is read again")
    parser.add_argument("--make-only", action="store_true", help="make and keep, read later")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    generator = importlib.import_module(MODULES[chosen.generator])
    with contextlib.ExitStack() as stack:
        folder = chosen.keep or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        folder.mkdir(parents=True, exist_ok=True)
        is_printed = (folder / "kit" / "layout.json").exists()
        kit = (
            Kit.read(folder / "kit")
            if is_printed
            else make_kit(folder, trainees=chosen.trainees, seed=chosen.seed)
        )
        for severity in chosen.severity:
            counted, cpu = run_severity(
                kit,
                generator,
                severity,
                images=chosen.images,
                seed=chosen.seed,
                keep=chosen.keep,
                is_read=not chosen.make_only,
            )
            if chosen.make_only:
                continue
            report(counted, cpu, severity=severity, generator=generator, seed=chosen.seed)


def report(counted: Score, cpu: float, *, severity: str, generator: object, seed: int) -> None:
    """Print and store the figures of one severity."""
    detected, accepted = GOALS[severity]
    goals = {"detected_share": detected, "accept_rate": accepted, "wrong_pages": 0}
    goals |= {"silent_errors": 0, "silent_upper": 0.001}
    goals["pages_per_cpu_s"] = 6 if severity == "clean_scan" else 3
    figures = counted.figures() | {"pages_per_cpu_s": counted.n_images / cpu}
    made_with = {
        "generator": generator.NAME,
        "generator_version": generator.VERSION,
        "seed": seed,
        "sidelong": version("sidelong"),
        "opencv": cv2.__version__,
        "python": platform.python_version(),
    }
    rows = []
    for name, value in figures.items():
        goal = goals.get(name, "")
        rows.append(
            {"severity": severity, "figure": name, "value": f"{value:.5g}", "goal": goal}
            | made_with
        )
        print(f"{severity:11} {name:20} {value:10.5g}   {f'goal {goal}' if goal != '' else ''}")
    store(RESULTS / f"reading_{generator.NAME}.csv", rows)
    for each in counted.silent[:20]:
        print(f"  silent: {each}")


if __name__ == "__main__":
    main()
