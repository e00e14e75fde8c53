"""Make patches of marked and empty targets to learn from, by the first generator's pens and print.

Run: python research/marks/make_patches.py KIT OUT --pages 1500 --seed 11 [--habits unseen]
Every page is filled in at 8 px/mm, seen by a light camera (any rotation and scale, slant, light,
blur, shake, noise, file), and cut by the reader's own code, with errors of geometry added. OUT is
an .npz of patches at 3 px/mm with what was drawn on each. ``--habits`` chooses which pens, styles
and effects of the camera are used, so that whole kinds can be held back.
"""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks" / "reading"))

from answers import CASES, Habits
from filled_sheet import FilledSheet, fill_sheet
from generator import SEVERITIES, make_sheets, take_image
from hands import PENS, STYLES
from kit import Kit
from light import blur, expose, finger, light_map, sensor_noise, sharpen, shine, through_jpeg

from sidelong.paper.images import from_pixels
from sidelong.paper.reading.lighting import Quality
from sidelong.paper.reading.lighting import light_map as measured_light
from sidelong.paper.reading.mapping import flat_mapping
from sidelong.paper.reading.mark_nets import shrink_patches
from sidelong.paper.reading.marks import watched_places
from sidelong.paper.reading.patches import PageView, cut_patches
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import open_printed_pages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.training.layout import Target
from sidelong.training.reading import FieldReading

CANVAS_PX_PER_MM = 8.0
CLASSES = ("empty", "marked", "cancelled", "erased", "doubtful")
OWN_RADIUS_MM = 4.0
LEAST_INK_MM2 = 0.4
CLEAR_DIFFERENCE = 25  # grey levels

HARD_CASES = {name: odds if name == "single" else odds * 2.6 for name, odds in CASES.items()} | {
    "single": 0.62
}
RICH = Habits(
    {"rating": 0.9, "went_down": 0.9, "why_not": 0.55, "skipped": 0.5, "": 0.85},
    HARD_CASES,
    PENS | {"faint_pencil": 0.14, "highlighter": 0.04},
    dict.fromkeys(STYLES, 0.11),
    0.4,
)


@dataclass(frozen=True)
class Withheld:
    """What one set does without: pens, styles, and effects of the camera."""

    pens: tuple[str, ...] = ()
    styles: tuple[str, ...] = ()
    effects: tuple[str, ...] = ()


HELD = Withheld(("coloured_pencil", "gel_pen"), ("dash",), ("sharpen", "shadow"))


def habits_of(name: str) -> tuple[Habits, tuple[str, ...]]:
    """Give habits and effects left out: all kinds, only the seen ones, or mostly unseen ones."""
    if name == "all":
        return RICH, ()
    if name == "seen":
        pens = {pen: odds for pen, odds in RICH.pens.items() if pen not in HELD.pens}
        styles = {style: odds for style, odds in RICH.styles.items() if style not in HELD.styles}
        return replace(RICH, pens=pens, styles=styles), HELD.effects
    pens = dict.fromkeys(HELD.pens, 1.0)
    styles = {
        style: odds * (4 if style in HELD.styles else 1) for style, odds in RICH.styles.items()
    }
    return replace(RICH, pens=pens, styles=styles), ()


def see(
    sheet: FilledSheet, rng: np.random.Generator, left_out: tuple[str, ...]
) -> tuple[np.ndarray, np.ndarray, dict[str, float]]:
    """Photograph a sheet by an affine camera: image, its homography from mm, and figures."""
    page, scale = sheet.page, float(np.exp(rng.uniform(np.log(2.6), np.log(9.0))))
    turn, slant = rng.uniform(0, 2 * np.pi), rng.uniform(0, np.pi)
    squeeze = rng.uniform(0.75, 1.0)
    move = _turn(turn) @ _turn(slant) @ np.diag([1.0, squeeze]) @ _turn(-slant) * scale
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * (page.width_mm, page.height_mm)
    low, high = (corners @ move.T).min(0), (corners @ move.T).max(0)
    size = tuple(np.ceil(high - low + 20).astype(int).tolist())
    to_image = np.column_stack([move, 10 - low])
    per_px = to_image.copy()
    per_px[:, :2] /= CANVAS_PX_PER_MM
    pixels = sheet.canvas.pixels
    if scale < CANVAS_PX_PER_MM:
        pixels = cv2.GaussianBlur(pixels, (0, 0), 0.4 * CANVAS_PX_PER_MM / scale)
    table = rng.integers(20, 250, 3).tolist()
    seen = cv2.warpAffine(pixels, per_px, size, flags=cv2.INTER_LINEAR, borderValue=table)
    clean = seen.copy()
    badness = rng.uniform(0, 1) ** 1.3
    if rng.random() < 0.25:
        for _ in range(int(rng.integers(1, 3))):
            finger(seen, rng.uniform(0.05, 0.35), rng)
    hidden = np.abs(seen.astype(np.int16) - clean).max(2) > 25
    seen, figures = _degrade(seen, scale, badness, left_out, rng)
    homography = np.vstack([to_image, [0, 0, 1]])
    return seen, homography, figures | {"scale": scale, "hidden": hidden}


def _turn(angle: float) -> np.ndarray:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[cos, -sin], [sin, cos]])


def _degrade(
    seen: np.ndarray, scale: float, badness: float, left_out: tuple[str, ...], rng
) -> tuple[np.ndarray, dict[str, float]]:
    height, width = seen.shape[:2]
    shadow = 0.0 if "shadow" in left_out else 0.5 * badness
    light = light_map(
        (width, height),
        unevenness=rng.uniform(0, 0.75) * badness,
        shadow=shadow,
        colour=0.14 * badness,
        rng=rng,
    )
    seen = shine(seen, light)
    sigma_mm = rng.uniform(0.0, 0.12) + badness**2 * rng.uniform(0, 0.5)
    motion_mm = rng.uniform(0, 1.6) * badness if rng.random() < 0.35 else 0.0
    seen = blur(seen, sigma=sigma_mm * scale, motion=motion_mm * scale, rng=rng)
    gain = 1 + rng.normal(0, 0.04 + 0.25 * badness)
    seen = expose(seen, gain=float(np.clip(gain, 0.4, 1.5)), gamma=rng.uniform(0.75, 1.35))
    noise = rng.uniform(0, 3) + badness**2 * rng.uniform(0, 18)
    seen = sensor_noise(seen, sigma=noise, rng=rng)
    if "sharpen" not in left_out and rng.random() < 0.35:
        seen = sharpen(seen, rng.uniform(0.2, 1.2))
    if rng.random() < 0.1:
        seen = cv2.cvtColor(cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
    lowest = int(95 - 70 * badness)
    seen = through_jpeg(seen, int(rng.integers(lowest, 98)))
    return seen, {"blur_mm": float(np.hypot(sigma_mm, motion_mm / 3.5)), "noise": float(noise)}


def jitter(targets: list[Target], rng: np.random.Generator) -> list[Target]:
    """Move places as a mapping that is a little wrong would: all alike, and each on its own."""
    far = 2.5 if rng.random() < 0.15 else 1.0
    common, own = rng.normal(0, 0.22, 2) * far, rng.normal(0, 0.2, (len(targets), 2)) * far
    shifts = np.clip(common + own, -1.6, 1.6)
    return [
        replace(target, cx=target.cx + float(dx), cy=target.cy + float(dy))
        for target, (dx, dy) in zip(targets, shifts, strict=True)
    ]


def label_of(sheet: FilledSheet, state: str, target: Target) -> str:
    """Say what a place shows: as drawn, or doubtful where ink meant for elsewhere lies."""
    if state != "empty":
        return state
    window = sheet.canvas.around(target.cx, target.cy, OWN_RADIUS_MM)
    change = np.abs(sheet.inked[window].astype(np.int16) - sheet.printed[window]).max(2)
    height, width = change.shape
    y, x = np.ogrid[:height, :width]
    disc = np.hypot(y - height / 2, x - width / 2) < OWN_RADIUS_MM * CANVAS_PX_PER_MM
    ink = ((change > CLEAR_DIFFERENCE) & disc).sum() / CANVAS_PX_PER_MM**2
    return "doubtful" if ink > LEAST_INK_MM2 else "empty"


def is_hidden(target: Target, homography: np.ndarray, hidden: np.ndarray) -> bool:
    """Tell whether something lies over a place."""
    x, y, _ = homography @ (target.cx, target.cy, 1.0)
    reach = int(OWN_RADIUS_MM * np.sqrt(abs(np.linalg.det(homography[:2, :2]))))
    part = hidden[max(int(y) - reach, 0) : int(y) + reach, max(int(x) - reach, 0) : int(x) + reach]
    return bool(part.size and part.mean() > 0.2)


def page_rows(
    sheet: FilledSheet, rng: np.random.Generator, left_out: tuple[str, ...]
) -> dict[str, list]:
    """Cut all places of one sheet, seen by the light camera; one row for each place."""
    image, homography, figures = see(sheet, rng, left_out)
    photograph = from_pixels(image, name="made")
    mapping = flat_mapping(homography, (sheet.page.width_mm, sheet.page.height_mm))
    quality = Quality(figures["scale"], figures["blur_mm"], figures["noise"], 1.0)
    light = measured_light(photograph, mapping, sheet.page)
    view = PageView(photograph, sheet.page, mapping, light, quality)

    def is_covered(place: Target) -> bool:
        return is_hidden(place, homography, figures["hidden"])

    return rows_of(sheet, view, lambda places: jitter(places, rng), is_covered)


def read_rows(kit: Kit, page, rng: np.random.Generator, habits: Habits) -> dict[str, list]:
    """Cut all places of one photograph of the first generator, found by the reader itself."""
    severity = SEVERITIES[int(rng.choice(4, p=[0.2, 0.25, 0.35, 0.2]))]
    sheets = make_sheets(kit, page, severity=severity, rng=rng, habits=habits, keep_print=True)
    image, _ = take_image(sheets, severity=severity, rng=rng, nothing_hidden=True)
    reader = Reader(
        PageIndex(kit.layout.pages),
        printed=open_printed_pages(kit.folder / kit.layout.pdf),
        judge=lambda _, contexts: [FieldReading("", 0.0, False)] * len(contexts),
    )
    _, seen = reader.read(from_pixels(image, name="made"))
    by_page = {each.view.page.page_id: each.view for each in seen}
    rows: dict[str, list] = {}
    for sheet in sheets:
        view = by_page.get(sheet.page.page_id)
        if view is None:
            continue
        for name, values in rows_of(sheet, view, list, lambda place: False).items():
            rows.setdefault(name, []).extend(values)
    return rows


def rows_of(
    sheet: FilledSheet,
    view: PageView,
    moved: Callable[[list[Target]], list[Target]],
    is_covered: Callable[[Target], bool],
) -> dict[str, list]:
    """Cut all places of a sheet that was found, with what was drawn on each."""
    names = ("label", "field", "gap", "case", "style", "truth")
    rows: dict[str, list] = {name: [] for name in names}
    places: list[Target] = []
    for number, asked in enumerate(sheet.page.fields):
        drawn = sheet.drawn[asked.id]
        for place in watched_places(asked):
            label = label_of(sheet, drawn.states.get(place.id, "empty"), place)
            label = "doubtful" if is_covered(place) else label
            is_target = place.id in drawn.states
            rows["label"].append(CLASSES.index(label))
            rows["field"].append(number)
            rows["gap"].append(not is_target)
            rows["truth"].append(is_target and place.value in drawn.acceptable)
            rows["case"].append(drawn.case)
            rows["style"].append(drawn.style)
            places.append(place)
    patches, visible = cut_patches(view, moved(places))
    quality = view.quality
    figures = [quality.px_per_mm, quality.blur_mm, quality.noise, quality.contrast]
    rows["patch"] = list(shrink_patches(patches))
    rows["visible"] = list(visible)
    rows["figures"] = [figures] * len(places)
    rows["pen"] = [str(sheet.notes["pen"])] * len(places)
    return rows


def main() -> None:
    """Write one file of patches."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kit", type=Path, nargs="+")
    parser.add_argument("out", type=Path)
    parser.add_argument("--pages", type=int, default=200)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--habits", choices=("all", "seen", "unseen"), default="all")
    parser.add_argument("--camera", choices=("light", "full"), default="light")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    kits = [Kit.read(folder) for folder in chosen.kit]
    habits, left_out = habits_of(chosen.habits)
    columns: dict[str, list] = {"page": []}
    for number in range(chosen.pages):
        rng = np.random.default_rng([chosen.seed, number])
        kit = kits[int(rng.integers(len(kits)))]
        page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
        if chosen.camera == "full":
            rows = read_rows(kit, page, rng, habits)
        else:
            sheet = fill_sheet(
                kit,
                page,
                px_per_mm=CANVAS_PX_PER_MM,
                faults=rng.choice([0.3, 1.0, 1.6]),
                rng=rng,
                habits=habits,
                keep_print=True,
            )
            rows = page_rows(sheet, rng, left_out)
        for name, values in rows.items():
            columns.setdefault(name, []).extend(values)
        columns["page"] += [number] * len(rows.get("label", []))
    np.savez(chosen.out, **{name: np.array(values) for name, values in columns.items()})


if __name__ == "__main__":
    main()
