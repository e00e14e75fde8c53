"""Second generator of photographed and scanned sheets: one image with its truth.

Written apart from the first generator: other tools, hands, paper, lens and light. Nothing of the
reader was tuned on it.
"""

import cv2
import numpy as np
from kit import Kit

from second.answers import Writer
from second.camera import SEVERITIES, photograph, scan
from sidelong.training.layout import SheetPage

NAME = "second"
VERSION = 1
TWO_SHEETS = 0.03
WRONG_SCALE = 0.08
PHOTO_PX_PER_MM = 9.0
SCAN_DPI = (150, 200, 300)


def make_image(
    kit: Kit, page: SheetPage, *, severity: str, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, object]]:
    """Fill in a page (sometimes two) and take its picture."""
    if severity == "clean_scan":
        dpi = int(rng.choice(SCAN_DPI))
        sheet, told, about = _sheet(kit, page, dpi / 25.4, rng, faulty=0.1)
        picture, seen = scan(sheet, px_per_mm=dpi / 25.4, rng=rng)
        file = {"file_format": "png" if rng.random() < 0.3 else "jpg", "dpi": dpi}
        return picture, _truth(severity, [told], about | seen) | file
    if severity not in SEVERITIES:
        raise ValueError(f"{severity} is no severity")
    pages = [page]
    others = [other for other in kit.layout.pages if other.page_id != page.page_id]
    if others and rng.random() < TWO_SHEETS:
        pages.append(others[rng.integers(len(others))])
    faulty = {"good_phone": 0.15, "poor_phone": 0.4, "terrible": 0.6}[severity]
    sheets, told_all, about_all = [], [], {}
    for each in pages:
        sheet, told, about = _sheet(kit, each, PHOTO_PX_PER_MM, rng, faulty=faulty)
        sheets.append(sheet)
        told_all.append(told)
        about_all |= about
    picture, seen = photograph(sheets, px_per_mm=PHOTO_PX_PER_MM, severity=severity, rng=rng)
    return picture, _truth(severity, told_all, about_all | seen) | {"file_format": "jpg"}


def _truth(
    severity: str, pages: list[dict[str, object]], about: dict[str, float]
) -> dict[str, object]:
    return {"severity": severity, "pages": pages, "degradations": about}


def _sheet(
    kit: Kit, page: SheetPage, px_per_mm: float, rng: np.random.Generator, *, faulty: float
) -> tuple[np.ndarray, dict[str, object], dict[str, float]]:
    """Print a page, not always well, fill it in, and use it roughly."""
    printed = kit.render(page, px_per_mm).astype(np.float32)
    about: dict[str, float] = {}
    if rng.random() < faulty:
        printed, about = _printed_badly(printed, rng)
    fields = Writer(printed, px_per_mm, rng).fill_in(page)
    scale = 1.0
    if rng.random() < WRONG_SCALE:
        scale = float(rng.choice([0.94, 0.97, 1.03]))
    sheet = printed if scale == 1.0 else _scaled(printed, scale)
    if rng.random() < faulty:
        _used(sheet, px_per_mm, rng)
        about["used"] = 1
    told = {"page_id": page.page_id, "print_scale": scale, "fields": fields}
    return np.clip(sheet, 0, 255).astype(np.uint8), told, about


def _printed_badly(
    sheet: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, float]]:
    """A grey printer, little toner, a streak, or a copy of a copy."""
    fault = rng.integers(4)
    if fault == 0:
        grey = sheet @ np.array([0.3, 0.59, 0.11], np.float32)
        return np.repeat(grey[..., None], 3, axis=2), {"grey_printer": 1}
    if fault == 1:
        return 255 - (255 - sheet) * np.float32(rng.uniform(0.6, 0.85)), {"little_toner": 1}
    if fault == 2:
        for _ in range(int(rng.integers(1, 4))):
            x = int(rng.uniform(0.05, 0.95) * sheet.shape[1])
            sheet[:, x : x + int(rng.integers(2, 8))] *= np.float32(rng.uniform(0.75, 0.95))
        return sheet, {"streaks": 1}
    grey = cv2.GaussianBlur(sheet @ np.array([0.3, 0.59, 0.11], np.float32), (0, 0), 1.0)
    copied = np.clip((grey - 20) * 1.12, 0, 255)
    return np.repeat(copied[..., None], 3, axis=2), {"copied": 1}


def _scaled(sheet: np.ndarray, scale: float) -> np.ndarray:
    high, wide = sheet.shape[:2]
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), 0, scale)
    return cv2.warpAffine(sheet, matrix, (wide, high), borderValue=(255, 255, 255))


def _used(sheet: np.ndarray, px_per_mm: float, rng: np.random.Generator) -> None:
    """Fold it, or set a cup on it."""
    high, wide = sheet.shape[:2]
    if rng.random() < 0.6:
        where = int(rng.uniform(0.3, 0.7) * high)
        ramp = np.exp(-np.abs(np.arange(high) - where) / (px_per_mm * 1.5)).astype(np.float32)
        sheet *= (1 - rng.uniform(0.05, 0.2) * ramp)[:, None, None]
        return
    stain = np.zeros((high, wide), np.float32)
    at = (int(rng.uniform(0, wide)), int(rng.uniform(0, high)))
    cv2.circle(stain, at, int(rng.uniform(25, 40) * px_per_mm), 1.0, max(2, int(2.5 * px_per_mm)))
    stain = cv2.GaussianBlur(stain, (0, 0), px_per_mm * 0.8)[..., None]
    sheet *= 1 - stain * np.array([0.12, 0.2, 0.32], np.float32) * np.float32(rng.uniform(0.5, 1))
