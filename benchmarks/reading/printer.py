"""What a printer or copier does to a page before anybody writes on it."""

import cv2
import numpy as np

Notes = dict[str, object]


def print_page(
    pixels: np.ndarray, px_per_mm: float, *, faults: float, rng: np.random.Generator
) -> tuple[np.ndarray, Notes]:
    """Print a rendered page with some of the usual faults.

    ``faults`` scales their odds, 0 for a perfect printer. Gives the printed page, same shape, and
    what was done. Scale is left to the camera, which knows where the paper ends.
    """
    notes: Notes = {}
    out = pixels
    if rng.random() < 0.25 + 0.1 * faults:
        grey = cv2.cvtColor(out, cv2.COLOR_RGB2GRAY)
        out = cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB)
        notes["grey_printer"] = True
    if rng.random() < 0.2 * faults:
        out, notes["photocopies"] = _copy(out, px_per_mm, rng)
    if rng.random() < 0.15 * faults:
        notes["toner"] = _streak(out := out.copy(), px_per_mm, rng)
    if rng.random() < 0.3 * faults:
        fade = rng.uniform(0.05, 0.45)
        out = _blend(out, fade)
        notes["faded"] = round(fade, 3)
    tint = _paper_tint(rng, faults)
    if tint is not None:
        out = cv2.LUT(out, (np.arange(256)[:, None] * tint / 255).round().astype(np.uint8)[None])
        notes["paper"] = [int(value) for value in tint]
    return (out if out is not pixels else pixels.copy()), notes


def _blend(pixels: np.ndarray, share: float) -> np.ndarray:
    """Move a share of the way to white."""
    table = np.clip(255 - (255 - np.arange(256)) * (1 - share), 0, 255).round().astype(np.uint8)
    return cv2.LUT(pixels, table)


def _copy(pixels: np.ndarray, px_per_mm: float, rng: np.random.Generator) -> tuple:
    """Copy a page once or twice in black and white: blurred, hardened, speckled."""
    times = int(rng.integers(1, 3))
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    middle, slope = rng.uniform(150, 215), rng.uniform(1.2, 2.5)
    ramp = 255 / (1 + np.exp(-(np.arange(256) - middle) * slope / 40))
    table = np.clip((ramp - ramp[0]) / (ramp[255] - ramp[0]) * 255, 0, 255).astype(np.uint8)
    for _ in range(times):
        soft = cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.05, 0.12) * px_per_mm)
        grey = cv2.LUT(soft, table)
    height, width = grey.shape
    n = int(rng.integers(20, 400))
    spots = np.zeros_like(grey)
    for x, y in rng.integers((0, 0), (width, height), (n, 2)):
        radius = max(1, int(abs(rng.normal(0, 0.12)) * px_per_mm))
        cv2.circle(spots, (int(x), int(y)), radius, int(rng.integers(60, 220)), -1, cv2.LINE_AA)
    return cv2.cvtColor(cv2.subtract(grey, spots), cv2.COLOR_GRAY2RGB), times


def _streak(pixels: np.ndarray, px_per_mm: float, rng: np.random.Generator) -> str:
    """Draw one to three streaks down the page, in place: pale where toner lacks, or dark."""
    is_pale = rng.random() < 0.6
    width = pixels.shape[1]
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(0, width))
        breadth = max(1, int(rng.uniform(0.2, 4.0 if is_pale else 0.6) * px_per_mm))
        band = pixels[:, at : at + breadth].astype(np.float32)
        strength = rng.uniform(0.3, 0.8) if is_pale else rng.uniform(0.05, 0.5)
        band = 255 - (255 - band) * (1 - strength) if is_pale else band * (1 - strength)
        pixels[:, at : at + breadth] = band.astype(np.uint8)
    return "pale" if is_pale else "dark"


def _paper_tint(rng: np.random.Generator, faults: float) -> np.ndarray | None:
    """Colour of the paper where it is not white: recycled, cream, or a pastel."""
    if rng.random() > 0.25 * faults:
        return None
    tints = [(244, 240, 228), (228, 226, 220), (250, 245, 225), (235, 242, 250), (225, 240, 225)]
    return np.array(tints[rng.integers(len(tints))]) + rng.integers(-4, 4, 3)
