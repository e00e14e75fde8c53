"""From sheets of paper to a photograph or a scan."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from filled_sheet import FilledSheet
from light import (
    Notes,
    background,
    blur,
    expose,
    finger,
    light_map,
    sensor_noise,
    sharpen,
    shine,
    through_jpeg,
)
from surfaces import Surface, draw_bends, homography_of_view


@dataclass(frozen=True)
class Conditions:
    """Ranges that one photograph is drawn from.

    ``megapixels``; ``tilt`` in degrees; ``fill`` share of the picture; ``curl`` in mm; ``uneven``
    light 0..1; ``shadow``, ``crop``, ``fingers``, ``two_sheets`` odds; ``blur`` and ``motion`` in
    thousandths of the picture's width; ``noise`` in grey levels; ``jpeg`` quality.
    """

    megapixels: tuple[float, float]
    tilt: float
    fill: tuple[float, float]
    curl: float
    uneven: float
    shadow: float
    colour: float
    blur: tuple[float, float]
    motion: tuple[float, float]
    noise: tuple[float, float]
    jpeg: tuple[int, int]
    exposure: float
    crop: float
    fingers: float
    two_sheets: float


def photograph(
    sheets: Sequence[FilledSheet], conditions: Conditions, rng: np.random.Generator
) -> tuple[np.ndarray, Notes]:
    """Take one photograph of one or two sheets on a table."""
    size = _size(rng.uniform(*conditions.megapixels), rng)
    image = background(size, rng)
    notes: Notes = {"pixels": list(size)}
    for place, sheet in enumerate(sheets):
        surface, told = _place(sheet, size, conditions, rng, slot=(place, len(sheets)))
        _lay(image, sheet, surface)
        notes |= told if not place else {f"{name}_2": value for name, value in told.items()}
    image, told = _expose(image, conditions, rng)
    return image, notes | told


def _size(megapixels: float, rng: np.random.Generator) -> tuple[int, int]:
    ratio = rng.choice([4 / 3, 4 / 3, 16 / 9, 3 / 2])
    long, short = int(np.sqrt(megapixels * 1e6 * ratio)), int(np.sqrt(megapixels * 1e6 / ratio))
    return (short, long) if rng.random() < 0.7 else (long, short)


def _place(
    sheet: FilledSheet,
    size: tuple[int, int],
    conditions: Conditions,
    rng: np.random.Generator,
    *,
    slot: tuple[int, int],
) -> tuple[Surface, Notes]:
    """Lay a sheet before the camera: alone in the middle, or one of two side by side."""
    place, n = slot
    paper = (sheet.page.width_mm, sheet.page.height_mm)
    part, shift = size, np.zeros(2)
    if n == 2:
        part = (size[0] // 2, size[1]) if size[0] > size[1] else (size[0], size[1] // 2)
    upright = (part[0] < part[1]) == (paper[0] < paper[1])
    turn = rng.choice([0, np.pi] if upright else [np.pi / 2, -np.pi / 2])
    if rng.random() < 0.15 and n == 1:
        turn = rng.uniform(0, 2 * np.pi)
    roll = turn + rng.normal(0, np.radians(5))
    tilt = rng.normal(0, np.radians(conditions.tilt) / 2, 2)
    tilt = np.clip(tilt, -np.radians(conditions.tilt), np.radians(conditions.tilt))
    fill = rng.uniform(*conditions.fill) * (0.93 if n == 2 else 1.0)
    slack = max(1 - fill, 0.0) / 3
    shift += rng.uniform(-slack, slack, 2)
    notes: Notes = {
        "tilt_deg": np.degrees(tilt).round(1).tolist(),
        "roll_deg": round(np.degrees(roll), 1),
    }
    if n == 1 and rng.random() < conditions.crop:
        fill *= rng.uniform(1.02, 1.12)
        shift += rng.uniform(-0.06, 0.06, 2)
        notes["cropped"] = True
    to_paper = homography_of_view(
        paper,
        tilt=(float(tilt[0]), float(tilt[1])),
        roll=float(roll),
        fill=fill,
        shift=(float(shift[0]), float(shift[1])),
        size=part,
    )
    corner = np.eye(3)  # one of two sheets is seen in its own half of the picture
    corner[:2, 2] = -(np.array(size) - part) * place
    to_paper = to_paper @ corner
    bends = draw_bends(rng, conditions.curl)
    notes["curl_mm"] = round(float(max((abs(b.height_mm) for b in bends), default=0)), 1)
    lens = rng.normal(0, 0.012)
    middle = (paper[0] * rng.uniform(0.3, 0.7), paper[1] * rng.uniform(0.3, 0.7))
    return Surface(to_paper, bends, lens, rng.uniform(350, 700), middle), notes


def _lay(image: np.ndarray, sheet: FilledSheet, surface: Surface) -> None:
    """Draw a sheet into the photograph, in place, with its own soft shadow on the table."""
    height, width = image.shape[:2]
    u, v, light = surface.look((width, height))
    paper = (sheet.page.width_mm, sheet.page.height_mm)
    inside = (u >= 0) & (u <= paper[0]) & (v >= 0) & (v <= paper[1])
    rows, columns = np.flatnonzero(inside.any(1)), np.flatnonzero(inside.any(0))
    if not len(rows) or not len(columns):
        return
    window = (slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1))
    u, v, light, inside = u[window], v[window], light[window], inside[window]
    scale, ppm = sheet.print_scale, sheet.canvas.px_per_mm
    x = ((u - paper[0] / 2) / scale + paper[0] / 2) * ppm - 0.5
    y = ((v - paper[1] / 2) / scale + paper[1] / 2) * ppm - 0.5
    margin = sheet.canvas.pixels[2, 2].tolist()
    seen = cv2.remap(
        sheet.canvas.pixels,
        x,
        y,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=margin,
    )
    shade = np.clip(light * 200, 0, 255).astype(np.uint8)
    seen = cv2.multiply(seen, cv2.merge([shade] * 3), scale=1 / 200)
    cv2.copyTo(seen, inside.astype(np.uint8), image[window])


def _expose(
    image: np.ndarray, conditions: Conditions, rng: np.random.Generator
) -> tuple[np.ndarray, Notes]:
    """Light, fingers, lens, sensor, file."""
    height, width = image.shape[:2]
    notes: Notes = {}
    if rng.random() < conditions.fingers:
        n = int(rng.integers(1, 3))
        for _ in range(n):
            finger(image, rng.uniform(0.03, 0.14), rng)
        notes["fingers"] = n
    light = light_map(
        (width, height),
        unevenness=rng.uniform(0, conditions.uneven),
        shadow=conditions.shadow,
        colour=conditions.colour,
        rng=rng,
    )
    image = shine(image, light)
    thousandth = max(width, height) / 1000
    sigma = rng.uniform(*conditions.blur) * thousandth
    motion = rng.uniform(*conditions.motion) * thousandth if rng.random() < 0.4 else 0.0
    image = blur(image, sigma=sigma, motion=motion, rng=rng)
    gain = 1 + rng.normal(0, conditions.exposure)
    image = expose(image, gain=max(gain, 0.4), gamma=rng.uniform(0.8, 1.25))
    noise = rng.uniform(*conditions.noise)
    image = sensor_noise(image, sigma=noise, rng=rng)
    if rng.random() < 0.4:
        image = sharpen(image, rng.uniform(0.2, 1.2))
    notes |= {"blur_px": round(sigma, 2), "motion_px": round(motion, 1), "noise": round(noise, 1)}
    notes["jpeg_quality"] = int(rng.integers(*conditions.jpeg))
    return image, notes


def scan(sheet: FilledSheet, rng: np.random.Generator) -> tuple[np.ndarray, Notes]:
    """Lay a sheet on a flatbed scanner: a little skew, sometimes upside down, clean light."""
    dpi = int(rng.choice([150, 200, 300], p=[0.4, 0.3, 0.3]))
    ppm = dpi / 25.4
    skew = rng.normal(0, 0.9)
    size = (round(215.9 * ppm), round(297 * ppm))
    pixels, zoom = sheet.canvas.pixels, ppm / sheet.canvas.px_per_mm * sheet.print_scale
    if zoom < 1:
        pixels = cv2.GaussianBlur(pixels, (0, 0), 0.35 / zoom)
    middle = np.array(pixels.shape[1::-1]) / 2
    move = cv2.getRotationMatrix2D(tuple(middle.tolist()), skew, zoom)
    paper = np.array([sheet.page.width_mm, sheet.page.height_mm]) * ppm
    move[:, 2] += paper / 2 + rng.normal(0, 1.0, 2) * ppm - middle
    lid = [int(rng.integers(236, 256))] * 3
    image = cv2.warpAffine(
        pixels, move, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=lid
    )
    notes: Notes = {"dpi": dpi, "skew_deg": round(float(skew), 2)}
    if rng.random() < 0.2:
        image = cv2.cvtColor(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
        notes["grey_scan"] = True
    image = expose(image, gain=rng.uniform(0.96, 1.08), gamma=rng.uniform(0.85, 1.2))
    image = sensor_noise(image, sigma=rng.uniform(0, 2.5), rng=rng)
    if rng.random() < 0.3:
        image = np.ascontiguousarray(image[::-1, ::-1])
        notes["upside_down"] = True
    notes["jpeg_quality"] = int(rng.integers(75, 98))
    return image, notes


def written(image: np.ndarray, notes: Notes) -> np.ndarray:
    """Pass through the file that the device would write."""
    return through_jpeg(image, int(notes["jpeg_quality"]))
