"""Degrade pictures of pages with augraphy, and check that every degradation really ran.

Run by the interpreter of an environment of its own, since augraphy brings a great deal with it:

    python3 -m venv augraphy-env && augraphy-env/bin/pip install augraphy==8.2.6
    augraphy-env/bin/python research/reading/degrade.py IN OUT --seed 7

IN holds PNG pictures; OUT gets one folder a degradation with a JPEG of each picture, and
``ran.csv``: by how many grey levels each picture changed on average, and which share of its pixels
changed by more than 8 of them. benchmarks/reading/augraphy_pages.py reads them.
"""

import argparse
import csv
import random
from importlib.metadata import version
from pathlib import Path

import cv2
import numpy as np
from augraphy import (
    BadPhotoCopy,
    BleedThrough,
    Brightness,
    ColorShift,
    DepthSimulatedBlur,
    DirtyDrum,
    Faxify,
    Folding,
    InkBleed,
    Letterpress,
    LowInkRandomLines,
    Moire,
    ReflectedLight,
    ShadowCast,
    Stains,
    SubtleNoise,
)

DEGRADATIONS = {
    "bad_photocopy": lambda: BadPhotoCopy(p=1),
    "bleed_through": lambda: BleedThrough(p=1),
    "brightness": lambda: Brightness(brightness_range=(0.5, 0.8), p=1),
    "colour_shift": lambda: ColorShift(p=1),
    "depth_blur": lambda: DepthSimulatedBlur(p=1),
    "dirty_drum": lambda: DirtyDrum(p=1),
    "fax": lambda: Faxify(p=1),
    "folding": lambda: Folding(p=1),
    "ink_bleed": lambda: InkBleed(p=1),
    "letterpress": lambda: Letterpress(p=1),
    "low_ink_lines": lambda: LowInkRandomLines(p=1),
    "moire": lambda: Moire(p=1),
    "reflected_light": lambda: ReflectedLight(p=1),
    "shadow": lambda: ShadowCast(p=1),
    "stains": lambda: Stains(p=1),
    "subtle_noise": lambda: SubtleNoise(p=1),
}


def degrade(name: str, picture: np.ndarray, seed: int) -> np.ndarray:
    """Run one degradation; its chance comes from all the places that augraphy draws it from."""
    random.seed(seed)
    np.random.seed(seed % 2**32)  # noqa: NPY002, TID251 - augraphy draws from it
    cv2.setRNGSeed(seed % 2**31)
    made = np.asarray(DEGRADATIONS[name]()(picture.copy()))
    if made.ndim == 2:
        made = cv2.cvtColor(made, cv2.COLOR_GRAY2BGR)
    return np.clip(made[:, :, :3], 0, 255).astype(np.uint8)


def change(before: np.ndarray, after: np.ndarray) -> tuple[float, float]:
    """Tell how much changed: mean grey levels, and the share that changed by more than 8."""
    if before.shape != after.shape:
        after = cv2.resize(after, before.shape[1::-1])
    off = np.abs(before.astype(int) - after.astype(int)).max(axis=2)
    return float(off.mean()), float((off > 8).mean())


def main() -> None:
    """Degrade every picture in every way."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("pictures", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--only", nargs="+", choices=DEGRADATIONS, default=list(DEGRADATIONS))
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    chosen.out.mkdir(parents=True, exist_ok=True)
    with (chosen.out / "ran.csv").open("a", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        for name in chosen.only:
            folder = chosen.out / name
            folder.mkdir(exist_ok=True)
            for number, path in enumerate(sorted(chosen.pictures.glob("*.png"))):
                before = cv2.imread(str(path))
                try:
                    after = degrade(name, before, 1000 * chosen.seed + number)
                except Exception as error:
                    table.writerow([name, path.stem, "", "", version("augraphy"), repr(error)])
                    continue
                cv2.imwrite(str(folder / f"{path.stem}.jpg"), after)
                moved = [f"{value:.4f}" for value in change(before, after)]
                table.writerow([name, path.stem, *moved, version("augraphy"), ""])
            file.flush()
            print(name, flush=True)


if __name__ == "__main__":
    main()
