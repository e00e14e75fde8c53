"""Make patches of marked and empty targets to learn from, through the reader's own cutting.

Run: python research/marks/make_patches.py KIT... --out FILE.npz --pages 300 --seed 11 [--usual]
Every page is filled in and photographed by the first generator, found and laid flat by the reader
itself, and cut by it, so that errors of place and light are real. Without ``--usual`` the pages
are densely marked by a wide choice of pens and shapes (variety.py), for training; with it they are
filled in and photographed as in the benchmark, for calibration; ``--hard 4`` makes corrected,
rubbed out and ambiguous answers four times as frequent, and writes what each then weighs. OUT is
an .npz of patches at 3 px/mm with what was drawn on each.
"""

import argparse
import os
import sys
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "benchmarks" / "reading"))

from answers import CASES, USUAL, Habits
from filled_sheet import FilledSheet, fill_sheet
from generator import CANVAS_PX_PER_MM, FAULTS, SEVERITIES, make_sheets, take_image
from kit import Kit
from variety import WIDE, in_parts, widen

from sidelong.paper.images import from_pixels
from sidelong.paper.reading.mark_nets import page_ink, shrink_patches, usual_target
from sidelong.paper.reading.marks import watched_places
from sidelong.paper.reading.patches import PATCH_MM, PATCH_PX, PageView, cut_patches
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import PrintedPages, cut_printed, open_printed_pages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.training.layout import SheetPage, Target
from sidelong.training.reading import FieldReading

CLASSES = ("empty", "marked", "cancelled", "erased", "doubtful")
UNLABELLED = -1
CORE_RADIUS_MM = 2.8  # ink that reaches no further in than this belongs to a neighbour
LEAST_INK_MM2 = 0.4
CLEAR_DIFFERENCE = 25  # grey levels
IN_THE_GAP_MM, BY_THE_GAP_MM = 2.2, 4.5
LEAST_EMPTIES = 6  # that the usual target of a page is taken from, as in train.py
ODDS = {"learn": (0.2, 0.25, 0.35, 0.2), "usual": (0.25, 0.25, 0.25, 0.25)}
COVERED = 0.012


def ink_at(sheet: FilledSheet, place: Target) -> float:
    """Measure the ink near the middle of a place, mm2."""
    window = sheet.canvas.around(place.cx, place.cy, CORE_RADIUS_MM)
    change = np.abs(sheet.inked[window].astype(np.int16) - sheet.printed[window]).max(2)
    height, width = change.shape
    y, x = np.ogrid[:height, :width]
    disc = np.hypot(y - height / 2, x - width / 2) < CORE_RADIUS_MM * CANVAS_PX_PER_MM
    return float(((change > CLEAR_DIFFERENCE) & disc).sum() / CANVAS_PX_PER_MM**2)


def target_label(sheet: FilledSheet, target: Target, state: str) -> int:
    """Say what a target shows: as drawn, or doubtful where ink meant for elsewhere lies in it."""
    if state == "empty" and ink_at(sheet, target) > LEAST_INK_MM2:
        state = "doubtful"
    return CLASSES.index(state)


def gap_label(sheet: FilledSheet, gap: Target, beside: list[str], loose: np.ndarray) -> int:
    """Say whether a mark stands in a gap; neighbours may reach into it."""
    far = np.hypot(*(loose - (gap.cx, gap.cy)).T).min() if len(loose) else np.inf
    if far < IN_THE_GAP_MM:
        return CLASSES.index("doubtful")
    if far < BY_THE_GAP_MM or "doubtful" in beside:
        return UNLABELLED
    is_alone = set(beside) == {"empty"}
    return CLASSES.index("doubtful" if is_alone and ink_at(sheet, gap) > LEAST_INK_MM2 else "empty")


def rows_of(
    sheet: FilledSheet, page: SheetPage, view: PageView, printed: PrintedPages
) -> dict[str, list]:
    """Cut all places of a sheet that was found; one row for each, with what was drawn on it."""
    drawn = list(sheet.drawn.values())
    states = {name: state for each in drawn for name, state in each.states.items()}
    styles = {name: each.style for each in drawn for name in each.states}
    loose = np.array([place for each in drawn for place in each.loose]).reshape(-1, 2)
    names = ("label", "field", "gap", "case", "style", "truth", "must_review")
    rows: dict[str, list] = {name: [] for name in names}
    places: list[Target] = []
    for number, asked in enumerate(page.fields):
        answer = sheet.drawn.get(asked.id)  # none where questions were cut into parts
        n = len(asked.targets)
        for at, place in enumerate(watched_places(asked)):
            is_gap = at >= n
            if is_gap:
                first = next(i for i, t in enumerate(asked.targets) if f"{t.id}+" == place.id)
                beside = [states[t.id] for t in asked.targets[first : first + 2]]
                label = gap_label(sheet, place, beside, loose)
            else:
                label = target_label(sheet, place, states[place.id])
            rows["label"].append(label)
            rows["field"].append(number)
            rows["gap"].append(is_gap)
            meant = answer is not None and not is_gap and place.value == answer.truth
            rows["truth"].append(meant)
            rows["must_review"].append(answer is not None and not answer.acceptable)
            rows["case"].append(answer.case if answer else "")
            rows["style"].append(styles.get(place.id, ""))
            places.append(place)
    patches, visible = cut_patches(view, places)
    quality = view.quality
    figures = [quality.px_per_mm, quality.blur_mm, quality.noise, quality.contrast]
    rows["patch"] = list(patches)
    rows["visible"] = list(visible)
    rows["printed"] = list(cut_printed(printed.darkest(page), places))
    rows["figures"] = [figures] * len(places)
    rows["pen"] = [str(sheet.notes["pen"])] * len(places)
    return rows


def cover_some(rows: dict[str, list], rng: np.random.Generator) -> None:
    """Lay something skin-coloured or dark over some places, in place: nobody can tell there."""
    scale = PATCH_PX / PATCH_MM
    for i in np.flatnonzero(rng.random(len(rows["label"])) < COVERED):
        patch = rows["patch"][i] = rows["patch"][i].copy()
        angle, inwards = rng.uniform(0, 2 * np.pi), rng.uniform(-2.0, 3.0)
        way = np.array([np.cos(angle), np.sin(angle)])
        ends = [np.array([7.0, 7.0]) + way * reach for reach in (inwards - 3, -20)]
        mask = np.zeros(patch.shape[:2], np.uint8)
        fixed = [tuple((end * scale).astype(int).tolist()) for end in ends]
        cv2.line(mask, *fixed, 255, int(rng.uniform(7, 14) * scale), cv2.LINE_AA)
        soft = cv2.GaussianBlur(mask, (0, 0), rng.uniform(0.5, 4))[..., None] / 255
        skin = np.array([224, 180, 150]) if rng.random() < 0.8 else rng.uniform(0, 255, 3)
        colour = skin * rng.uniform(0.3, 1.05) * rng.uniform(0.93, 1.07, 3)
        patch[:] = np.clip(patch * (1 - soft) + colour * soft, 0, 255).astype(np.uint8)
        middle = soft[PATCH_PX // 4 : -PATCH_PX // 4, PATCH_PX // 4 : -PATCH_PX // 4]
        share = float((middle > 0.5).mean())
        if share > 0.03:
            rows["label"][i] = CLASSES.index("doubtful") if share > 0.3 else UNLABELLED


def with_hard_cases(times: float) -> Habits:
    """Give the benchmark's habits with hard cases so many times as frequent beside plain marks."""
    cases = {name: odds * (1 if name == "single" else times) for name, odds in CASES.items()}
    return replace(USUAL, cases=cases)


def ink_of(rows: dict[str, list]) -> float:
    """Tell how dark the marks of a page are, beside its empty targets where half are marked."""
    small, gaps = np.array(rows["patch"]), np.array(rows["gap"])
    empty = ~gaps & (np.array(rows["label"]) == 0)
    are_few = LEAST_EMPTIES <= empty.sum() < 0.7 * (~gaps).sum()
    usual = usual_target(small[empty if are_few else ~gaps])
    return page_ink(small[~gaps], usual)


def make_rows(
    kit: Kit, page: SheetPage, severity: str, *, habits: Habits, rng: np.random.Generator
) -> dict[str, list]:
    """Fill in, photograph and find sheets of one image, and cut them."""
    is_usual = habits is not WIDE
    if is_usual:
        sheets = make_sheets(kit, page, severity=severity, rng=rng, habits=habits, keep_print=True)
    else:
        sheets = [
            fill_sheet(
                kit,
                in_parts(page, rng),
                px_per_mm=CANVAS_PX_PER_MM,
                faults=FAULTS[severity],
                rng=rng,
                habits=habits,
                keep_print=True,
            )
        ]
    image, _ = take_image(sheets, severity=severity, rng=rng, nothing_hidden=not is_usual)
    printed = open_printed_pages(kit.folder / kit.layout.pdf)
    reader = Reader(
        PageIndex(kit.layout.pages),
        printed=printed,
        judge=lambda _, contexts: [FieldReading("", 0.0, True)] * len(contexts),
    )
    _, seen = reader.read(from_pixels(image, name="made"))
    by_page = {each.view.page.page_id: each for each in seen}
    rows: dict[str, list] = {}
    for place, sheet in enumerate(sheets):
        found = by_page.get(sheet.page.page_id)
        if found is None:
            continue
        own = rows_of(sheet, found.view.page, found.view, printed)
        if not is_usual:
            cover_some(own, rng)
        n = len(own["label"])
        own["patch"] = list(shrink_patches(np.stack(own["patch"])))
        is_sure = all(each.accepted for each in found.reading.fields.values())
        own |= {"is_sure": [is_sure] * n, "sheet": [place] * n, "ink": [ink_of(own)] * n}
        for name, values in own.items():
            rows.setdefault(name, []).extend(values)
    return rows


def main() -> None:
    """Write one file of patches."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kit", type=Path, nargs="+", help="the first is taken half of the time")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--pages", type=int, default=300)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--usual", action="store_true", help="fill in as in the benchmark")
    parser.add_argument("--hard", type=float, default=1.0, help="with --usual: odds of hard cases")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    habits = with_hard_cases(chosen.hard) if chosen.usual else WIDE
    if not chosen.usual:
        widen()
    kits = [Kit.read(folder) for folder in chosen.kit]
    odds = ODDS["usual" if chosen.usual else "learn"]
    columns: dict[str, list] = {"page": [], "severity": []}
    for number in range(chosen.pages):
        rng = np.random.default_rng([chosen.seed, number])
        kit = kits[int(rng.integers(len(kits)))] if rng.random() < 0.5 else kits[0]
        page = kit.layout.pages[int(rng.integers(len(kit.layout.pages)))]
        severity = int(rng.choice(len(SEVERITIES), p=odds))
        rows = make_rows(kit, page, SEVERITIES[severity], habits=habits, rng=rng)
        hard = [case not in {"single", "blank"} for case in rows.get("case", [])]
        rows["weight"] = [1 / chosen.hard if is_hard else 1.0 for is_hard in hard]
        for name, values in rows.items():
            columns.setdefault(name, []).extend(values)
        columns["page"] += [10 * number + place for place in rows.get("sheet", [])]
        columns["severity"] += [severity] * len(rows.get("label", []))
    np.savez(chosen.out, **{name: np.array(values) for name, values in columns.items()})


if __name__ == "__main__":
    main()
