"""From a sheet on a table to a file: bent paper, lens, light, blur, noise; or a scanner.

The sheet is bent in three dimensions and seen by a pinhole camera; the picture is made by asking
for each pixel which point of the paper it sees.
"""

from dataclasses import dataclass

import cv2
import numpy as np


@dataclass(frozen=True)
class Severity:
    """Ranges from which one photograph is drawn."""

    tilt_deg: tuple[float, float]
    bend_mm: tuple[float, float]
    fill: tuple[float, float]
    blur_px: tuple[float, float]
    noise: tuple[float, float]
    shade: tuple[float, float]
    exposure: tuple[float, float]
    megapixels: tuple[float, float]
    jpeg: tuple[int, int]
    motion: float
    cropped: float
    finger: float
    stain: float


SEVERITIES = {
    "good_phone": Severity((0, 12), (0, 3), (0.78, 0.93), (0.5, 1.3), (1, 4), (0.0, 0.25),
                           (0.85, 1.05), (12, 12), (85, 95), 0.0, 0.0, 0.03, 0.02),
    "poor_phone": Severity((8, 26), (1, 8), (0.6, 0.9), (1.2, 3.2), (4, 10), (0.2, 0.5),
                           (0.55, 1.1), (8, 12), (55, 82), 0.25, 0.15, 0.15, 0.1),
    "terrible": Severity((15, 40), (3, 14), (0.5, 1.0), (2.5, 6.0), (8, 20), (0.4, 0.75),
                         (0.35, 1.15), (3, 8), (25, 55), 0.5, 0.45, 0.3, 0.3),
}  # fmt: skip


def photograph(
    sheets: list[np.ndarray],
    *,
    px_per_mm: float,
    severity: str,
    rng: np.random.Generator,
) -> tuple[np.ndarray, dict[str, float]]:
    """Take a picture of one sheet, or of two side by side (float or uint8 RGB)."""
    ranges = SEVERITIES[severity]
    megapixels = rng.uniform(*ranges.megapixels)
    tall = int(np.sqrt(megapixels * 1e6 * 4 / 3))
    size = (round(tall * 0.75), tall) if len(sheets) == 1 else (tall, round(tall * 0.75))
    picture = _table(size, rng)
    done: dict[str, float] = {"megapixels": round(megapixels, 1)}
    for index, sheet in enumerate(sheets):
        share = 1 if len(sheets) == 1 else 2
        x = size[0] * (index + 0.5) / share
        view = _Camera.draw(sheet, px_per_mm, (size[0] / share, size[1]), ranges, rng)
        done |= view.about
        view.put(sheet, picture, middle=(x, size[1] / 2), px_per_mm=px_per_mm)
    turned = int(rng.choice([0, 0, 0, 1, 2, 3]))
    picture = np.ascontiguousarray(np.rot90(picture, turned))
    if rng.random() < ranges.finger:
        _finger(picture, rng)
        done["finger"] = 1
    picture, light = _light(picture, ranges, rng)
    picture, lens = _soften(picture, ranges, rng)
    return picture, done | light | lens | {"turned": turned}


@dataclass
class _Camera:
    """How one sheet lies before the lens."""

    turn: np.ndarray
    distance: float
    focal: float
    shift: np.ndarray
    bend: tuple[float, float, float]
    radial: float
    size_mm: tuple[float, float]
    about: dict[str, float]

    @classmethod
    def draw(
        cls,
        sheet: np.ndarray,
        px_per_mm: float,
        room: tuple[float, float],
        ranges: Severity,
        rng: np.random.Generator,
    ) -> "_Camera":
        wide, high = sheet.shape[1] / px_per_mm, sheet.shape[0] / px_per_mm
        tilt = np.deg2rad(rng.uniform(*ranges.tilt_deg))
        towards = rng.uniform(0, 2 * np.pi)
        skew = np.deg2rad(rng.normal(0, 4))
        turn = _rotation(np.array([np.cos(towards), np.sin(towards), 0.0]) * tilt)
        turn = _rotation(np.array([0.0, 0.0, skew])) @ turn
        distance = rng.uniform(1.3, 2.2) * high
        fill = rng.uniform(*ranges.fill)
        focal = min(room[0] / wide, room[1] / high) * fill * distance
        shift = rng.normal(0, 0.015, 2) * room
        if rng.random() < ranges.cropped:
            shift += rng.choice([-1, 1], 2) * rng.uniform(0.06, 0.16, 2) * room
        bend = (rng.uniform(*ranges.bend_mm), rng.uniform(0, np.pi), rng.uniform(0, 2 * np.pi))
        about = {"tilt_deg": float(np.rad2deg(tilt)), "bend_mm": bend[0], "fill": fill}
        radial = rng.normal(0, 0.01)
        return cls(turn, distance, focal, shift, bend, radial, (wide, high), about)

    def project(self, x: np.ndarray, y: np.ndarray, *, flat: bool = False) -> np.ndarray:
        """Where points of the paper (mm) come to lie, px from the middle; shape (..., 2)."""
        wide, high = self.size_mm
        deep, along, phase = self.bend
        way = (x * np.cos(along) + y * np.sin(along)) / high
        z = np.zeros_like(x) if flat else deep * np.sin(way * np.pi * 1.3 + phase)
        point = np.stack([x - wide / 2, y - high / 2, z], axis=-1) @ self.turn.T
        seen = self.focal * point[..., :2] / (self.distance + point[..., 2:])
        if flat:
            return seen
        reach = self.focal * high / self.distance / 2
        return seen * (1 + self.radial * (seen**2).sum(axis=-1, keepdims=True) / reach**2)

    def put(
        self,
        sheet: np.ndarray,
        picture: np.ndarray,
        *,
        middle: tuple[float, float],
        px_per_mm: float,
    ) -> None:
        """Draw the sheet into the picture, in place."""
        step = 24
        high, wide = picture.shape[:2]
        gx, gy = np.meshgrid(np.arange(0, wide + step, step), np.arange(0, high + step, step))
        pixels = np.stack([gx, gy], axis=-1) - (np.array(middle) + self.shift)
        corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * np.array(self.size_mm)
        flat = self.project(corners[:, 0], corners[:, 1], flat=True)
        back = cv2.getPerspectiveTransform(flat.astype(np.float32), corners.astype(np.float32))
        paper = cv2.perspectiveTransform(pixels.reshape(-1, 1, 2).astype(np.float64), back)
        paper = paper.reshape(pixels.shape)
        for _ in range(8):
            seen = self.project(paper[..., 0], paper[..., 1])
            plain = self.project(paper[..., 0], paper[..., 1], flat=True)
            asked = (pixels - (seen - plain)).reshape(-1, 1, 2)
            paper = cv2.perspectiveTransform(asked, back).reshape(pixels.shape)
        coarse = (paper * px_per_mm).astype(np.float32)
        grown = cv2.resize(coarse, None, fx=step, fy=step, interpolation=cv2.INTER_LINEAR)
        grown = grown[step // 2 : step // 2 + high, step // 2 : step // 2 + wide]
        shown = cv2.remap(sheet, grown, None, cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
        inside = (
            (grown[..., 0] >= 0) & (grown[..., 0] < sheet.shape[1])
            & (grown[..., 1] >= 0) & (grown[..., 1] < sheet.shape[0])
        )  # fmt: skip
        shadow = cv2.blur(inside.astype(np.uint8) * 255, (61, 61))
        picture[:] = cv2.multiply(picture, cv2.merge([255 - shadow // 4] * 3), scale=1 / 255)
        cv2.copyTo(shown, inside.astype(np.uint8), picture)


def scan(
    sheet: np.ndarray, *, px_per_mm: float, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, float]]:
    """Scan a sheet that lies almost straight; resolution stays that of the sheet."""
    high, wide = sheet.shape[:2]
    skew = float(rng.normal(0, 0.7))
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), skew, 1.0)
    matrix[:, 2] += rng.normal(0, 1.0, 2) * px_per_mm
    lid = int(rng.choice([255, 235, 60]))
    flat = cv2.warpAffine(sheet, matrix, (wide, high), flags=cv2.INTER_LINEAR,
                          borderMode=cv2.BORDER_CONSTANT, borderValue=(lid,) * 3)  # fmt: skip
    flat = cv2.GaussianBlur(flat, (0, 0), float(rng.uniform(0.4, 0.8)))
    turned = int(rng.choice([0, 0, 0, 2]))
    noise = rng.normal(0, rng.uniform(0.5, 2.0), flat.shape[:2]).astype(np.float32)[..., None]
    gain = rng.uniform(0.95, 1.04)
    picture = np.clip(flat.astype(np.float32) * gain + noise, 0, 255).astype(np.uint8)
    grey = rng.random() < 0.25
    if grey:
        picture = cv2.cvtColor(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
    about = {"skew_deg": skew, "turned": turned, "grey": int(grey)}
    return np.ascontiguousarray(np.rot90(picture, turned)), about


def _rotation(axis: np.ndarray) -> np.ndarray:
    return cv2.Rodrigues(axis)[0]


def _table(size: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """A wooden, woven or plain surface."""
    wide, high = size
    tones = [(120, 85, 55), (60, 50, 45), (190, 180, 165), (90, 110, 120), (150, 40, 50)]
    colour = np.array(tones[rng.integers(len(tones))], np.float32)
    coarse = rng.standard_normal((max(4, high // 40), max(4, wide // 400))).astype(np.float32)
    lines = cv2.resize(coarse, (wide, high), interpolation=cv2.INTER_CUBIC)
    weave = np.sin(np.arange(wide) * rng.uniform(0.05, 0.4)).astype(np.float32)[None, :]
    tone = 1 + 0.12 * lines + rng.uniform(0, 0.12) * weave
    return np.clip(tone[..., None] * colour, 0, 255).astype(np.uint8)


def _finger(picture: np.ndarray, rng: np.random.Generator) -> None:
    """Hold the sheet at an edge of the picture."""
    high, wide = picture.shape[:2]
    side = rng.integers(4)
    along = rng.uniform(0.15, 0.85)
    at = [(0, along * high), (wide, along * high), (along * wide, 0), (along * wide, high)][side]
    axes = (
        (int(0.16 * wide), int(0.035 * wide)) if side < 2 else (int(0.035 * wide), int(0.16 * wide))
    )
    tone = tuple(int(c) for c in rng.choice([(224, 172, 140), (141, 85, 54), (198, 134, 98)]))
    cv2.ellipse(picture, (int(at[0]), int(at[1])), axes, 0, 0, 360, tone, -1, cv2.LINE_AA)


def _light(
    picture: np.ndarray, ranges: Severity, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, float]]:
    """Uneven light of one colour, a shadow with a soft edge, darker corners."""
    high, wide = picture.shape[:2]
    small = (96, max(8, round(96 * wide / high)))
    y, x = np.meshgrid(np.linspace(-1, 1, small[0]), np.linspace(-1, 1, small[1]), indexing="ij")
    shade = rng.uniform(*ranges.shade)
    way = rng.uniform(0, 2 * np.pi)
    gain = 1 - shade * 0.5 * (1 + (x * np.cos(way) + y * np.sin(way)) / 1.42)
    gain *= 1 - rng.uniform(0, 0.15) * (x**2 + y**2) / 2
    if rng.random() < shade:
        edge = x * np.cos(way + 1) + y * np.sin(way + 1) - rng.uniform(-0.5, 0.5)
        gain *= 1 - rng.uniform(0.25, 0.55) / (1 + np.exp(-edge * rng.uniform(5, 40)))
    exposure = rng.uniform(*ranges.exposure)
    warm = rng.normal(0, 0.06)
    tint = np.array([1 + warm, 1.0, 1 - warm])
    full = cv2.resize((gain * exposure).astype(np.float32), (wide, high))
    lit = np.empty_like(picture)
    for channel in range(3):
        lit[..., channel] = np.clip(picture[..., channel] * (full * tint[channel]), 0, 255)
    return lit, {"shade": shade, "exposure": exposure}


def _soften(
    picture: np.ndarray, ranges: Severity, rng: np.random.Generator
) -> tuple[np.ndarray, dict[str, float]]:
    """Blur, move, add noise, press into a JPEG file."""
    blur = float(rng.uniform(*ranges.blur_px))
    picture = cv2.GaussianBlur(picture, (0, 0), blur)
    moved = 0
    if rng.random() < ranges.motion:
        moved = int(rng.integers(5, 14))
        kernel = np.zeros((moved, moved), np.float32)
        way = rng.uniform(0, np.pi)
        tip = (np.array([np.cos(way), np.sin(way)]) * moved / 2).round().astype(int)
        centre = np.array([moved // 2] * 2)
        cv2.line(kernel, (centre - tip).tolist(), (centre + tip).tolist(), 1.0, 1)
        picture = cv2.filter2D(picture, -1, kernel / kernel.sum())
    noise = float(rng.uniform(*ranges.noise))
    grains = np.empty(picture.shape[:2], np.int16)
    cv2.setRNGSeed(int(rng.integers(2**31)))
    cv2.randn(grains, 0, noise)
    picture = np.clip(picture + grains[..., None], 0, 255).astype(np.uint8)
    quality = int(rng.integers(ranges.jpeg[0], ranges.jpeg[1] + 1))
    pressed = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    again = cv2.imdecode(pressed, cv2.IMREAD_COLOR)[..., ::-1]
    about = {"blur_px": blur, "motion_px": moved, "noise": noise, "jpeg_quality": quality}
    return np.ascontiguousarray(again), about
