"""The first generator: a kit's pages, filled in by invented families, scanned or photographed.

Run: python benchmarks/reading/generator.py KIT OUT [--severity good_phone] [--images 10] [--seed 1]
writes the images with one truth file beside each. The rule for every kind of answer stands at the
head of answers.py. Equal seeds give equal images.
"""

import argparse
import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from answers import USUAL, Habits
from camera import Conditions, photograph, scan, written
from filled_sheet import FilledSheet, fill_sheet
from kit import Kit

from sidelong.training.layout import SheetPage

NAME = "first"
VERSION = 1
CANVAS_PX_PER_MM = 11.0

PHONES = {
    "good_phone": Conditions(
        megapixels=(11.9, 12.3),
        tilt=14,
        fill=(0.8, 0.97),
        curl=3,
        uneven=0.3,
        shadow=0.15,
        colour=0.03,
        blur=(0.1, 0.35),
        motion=(0.0, 0.4),
        noise=(0.5, 4),
        jpeg=(80, 96),
        exposure=0.06,
        crop=0.0,
        fingers=0.08,
        two_sheets=0.06,
    ),
    "poor_phone": Conditions(
        megapixels=(5, 12.3),
        tilt=26,
        fill=(0.65, 0.95),
        curl=7,
        uneven=0.55,
        shadow=0.5,
        colour=0.08,
        blur=(0.2, 0.65),
        motion=(0.3, 1.6),
        noise=(2, 10),
        jpeg=(50, 88),
        exposure=0.15,
        crop=0.1,
        fingers=0.2,
        two_sheets=0.06,
    ),
    "terrible": Conditions(
        megapixels=(2, 8),
        tilt=40,
        fill=(0.55, 0.95),
        curl=14,
        uneven=0.8,
        shadow=0.8,
        colour=0.15,
        blur=(0.4, 1.5),
        motion=(0.5, 4),
        noise=(4, 24),
        jpeg=(18, 75),
        exposure=0.3,
        crop=0.3,
        fingers=0.4,
        two_sheets=0.04,
    ),
}
FAULTS = {"clean_scan": 0.3, "good_phone": 0.5, "poor_phone": 1.0, "terrible": 1.6}
SEVERITIES = tuple(FAULTS)


def make_image(
    kit: Kit, page: SheetPage, *, severity: str, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, object]]:
    """Make one image of a page, sometimes with a second sheet in it.

    Parameters
    ----------
    kit : Kit
        Where the page comes from.
    page : SheetPage
        The page to fill in.
    severity : str
        One of ``clean_scan``, ``good_phone``, ``poor_phone``, ``terrible``.
    rng : numpy.random.Generator
        All chance.

    Returns
    -------
    image : ndarray of uint8, shape (height, width, 3)
        RGB, as read from the device's file.
    truth : dict
        As README.md beside this module says, without ``image``.
    """
    sheets = make_sheets(kit, page, severity=severity, rng=rng)
    return take_image(sheets, severity=severity, rng=rng)


def make_sheets(
    kit: Kit,
    page: SheetPage,
    *,
    severity: str,
    rng: np.random.Generator,
    habits: Habits = USUAL,
    keep_print: bool = False,
) -> list[FilledSheet]:
    """Fill in the sheets of one image: mostly one."""
    conditions, pages = PHONES.get(severity), [page]
    others = [other for other in kit.layout.pages if other.page_id != page.page_id]
    if conditions and others and rng.random() < conditions.two_sheets:
        pages.append(others[rng.integers(len(others))])
    return [
        fill_sheet(
            kit,
            each,
            px_per_mm=CANVAS_PX_PER_MM,
            faults=FAULTS[severity],
            rng=rng,
            habits=habits,
            keep_print=keep_print,
        )
        for each in pages
    ]


def take_image(
    sheets: list[FilledSheet],
    *,
    severity: str,
    rng: np.random.Generator,
    nothing_hidden: bool = False,
) -> tuple[np.ndarray, dict[str, object]]:
    """Photograph or scan filled sheets: the image and its truth, as :func:`make_image`."""
    conditions = PHONES.get(severity)
    if conditions and nothing_hidden:
        conditions = replace(conditions, fingers=0.0, crop=0.0)
    image, notes = photograph(sheets, conditions, rng) if conditions else scan(sheets[0], rng)
    for place, sheet in enumerate(sheets):
        notes |= {f"{name}_2" if place else name: value for name, value in sheet.notes.items()}
    truth: dict[str, object] = {
        "severity": severity,
        "pages": [sheet.truth() for sheet in sheets],
        "degradations": notes,
        "file_format": "jpg",
    }
    if "dpi" in notes:
        truth["dpi"] = notes["dpi"]
    return written(image, notes), truth


def write_image(folder: Path, name: str, image: np.ndarray, truth: dict[str, object]) -> None:
    """Write an image with its truth beside it; a file of high quality adds nothing of its own."""
    file = f"{name}.{truth['file_format']}"
    options = [cv2.IMWRITE_JPEG_QUALITY, 98]
    content = cv2.imencode(Path(file).suffix, image[:, :, ::-1], options)[1].tobytes()
    dpi = truth.get("dpi")
    if dpi and content[6:10] == b"JFIF":  # density in dots per inch stands in the first segment
        density = bytes([1, *divmod(int(dpi), 256), *divmod(int(dpi), 256)])
        content = content[:13] + density + content[18:]
    (folder / file).write_bytes(content)
    document = {"image": file, **truth}
    (folder / f"{file}.json").write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def main() -> None:
    """Write a folder of images."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kit", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--severity", choices=SEVERITIES, default="good_phone")
    parser.add_argument("--images", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    cv2.setNumThreads(1)
    kit = Kit.read(chosen.kit)
    for number in range(chosen.images):
        rng = np.random.default_rng([chosen.seed, SEVERITIES.index(chosen.severity), number])
        page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
        image, truth = make_image(kit, page, severity=chosen.severity, rng=rng)
        write_image(chosen.out, f"{chosen.severity}-{number:04d}", image, truth)


if __name__ == "__main__":
    main()
