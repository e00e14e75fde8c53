"""A printed sheet as a canvas: ink, rubber, stickers and handwriting, all in millimetres."""

import cv2
import numpy as np

from third.tools import Colour, Texture, Tool

PX_PER_MM = 300 / 25.4
WOBBLE_MM = 0.15
STEP_MM = 0.3  # between two points of a stroke
STEADY_POINTS = 12  # a stroke with no more points does not wobble
SHIFT_BITS = 4  # OpenCV takes sixteenths of a pixel
FONT = cv2.FONT_HERSHEY_SCRIPT_SIMPLEX
FONT_HEIGHT_PX = 22  # of its capitals at scale 1

Points = np.ndarray  # float, shape (n, 2), mm
Region = tuple[int, int, int, int]  # left, top, right, bottom, px


class Paper:
    """One sheet; `pixels` is float RGB, 0..255, `printed` what it was before anybody wrote."""

    def __init__(self, printed: np.ndarray, rng: np.random.Generator) -> None:
        self.printed = printed
        self.pixels = printed.astype(np.float32)
        self.height, self.width = printed.shape[:2]
        self.rng = rng

    def draw(self, paths: list[Points], tool: Tool, wobble_mm: float = WOBBLE_MM) -> None:
        """Draw paths as one layer of ink, so that overlaps do not darken twice."""
        width = max(round(tool.width_mm * self.rng.uniform(0.9, 1.1) * PX_PER_MM), 1)
        strokes = [self._shaken(np.asarray(path, float), wobble_mm) * PX_PER_MM for path in paths]
        region = self._region(np.vstack(strokes), width + 3)
        left, top, right, bottom = region
        if right <= left or bottom <= top:
            return
        cover = np.zeros((bottom - top, right - left), np.uint8)
        for stroke in strokes:
            points = _sixteenths(stroke, region).reshape(-1, 1, 2)
            cv2.polylines(cover, [points], False, 255, width, cv2.LINE_AA, SHIFT_BITS)
        self._lay_ink(cover, region, tool)

    def _shaken(self, path: Points, wobble_mm: float) -> Points:
        """Walk along a path in even steps, with a slow tremor."""
        way = np.r_[0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
        n_points = max(int(way[-1] / STEP_MM), 2)
        at = np.linspace(0, way[-1], n_points)
        even = np.c_[np.interp(at, way, path[:, 0]), np.interp(at, way, path[:, 1])]
        if n_points <= STEADY_POINTS:
            return even
        window = np.hanning(9)
        window /= window.sum()
        tremor = self.rng.normal(0, wobble_mm * 2.2, (n_points, 2))
        slow = [np.convolve(tremor[:, axis], window, "same") for axis in (0, 1)]
        return even + np.c_[slow[0], slow[1]]

    def rub_out(self, at: tuple[float, float], *, radius_mm: float, left: float) -> None:
        """Rub out around a place, but for an even share `left` of the ink, with a smudge."""
        self._rub(self._around(at, radius_mm), left)

    def half_rub_out(self, at: tuple[float, float], *, radius_mm: float) -> None:
        """Rub out around a place unevenly, so that it cannot be told whether it was meant."""
        region = self._around(at, radius_mm)
        shape = (region[3] - region[1], region[2] - region[0])
        patches = self._noise(shape, 14)
        left = np.clip(0.3 + 0.22 * patches / patches.std(), 0.08, 0.7).astype(np.float32)
        self._rub(region, left[..., None])

    def _rub(self, region: Region, left: float | np.ndarray) -> None:
        x0, y0, x1, y1 = region
        written = self.pixels[y0:y1, x0:x1]
        clean = self.printed[y0:y1, x0:x1].astype(np.float32)
        spread = cv2.GaussianBlur(written, (0, 0), 9)
        smudge = np.clip(1 - (clean - spread) / 255 * 0.12, 0.9, 1)
        self.pixels[y0:y1, x0:x1] = (clean + (written - clean) * left) * smudge

    def stick(
        self, at: tuple[float, float], *, radius_mm: float, colour: Colour, is_star: bool
    ) -> None:
        """Put a sticker down, a little proud of the paper."""
        n_points = 10 if is_star else 40
        angles = np.linspace(0, 2 * np.pi, n_points, endpoint=False) + self.rng.uniform(0, 6)
        inner = 0.5 if is_star else 1.0
        radii = np.where(np.arange(n_points) % 2, inner, 1.0) * radius_mm
        outline = np.c_[at[0] + radii * np.cos(angles), at[1] + radii * np.sin(angles)] * PX_PER_MM
        region = self._region(outline, 8)
        x0, y0, x1, y1 = region
        cover = np.zeros((y1 - y0, x1 - x0), np.uint8)
        cv2.fillPoly(cover, [_sixteenths(outline, region)], 255, cv2.LINE_AA, SHIFT_BITS)
        shadow = cv2.GaussianBlur(np.roll(cover, (3, 3), (0, 1)), (0, 0), 4)
        share, shade = (each.astype(np.float32)[..., None] / 255 for each in (cover, shadow))
        below = self.pixels[y0:y1, x0:x1] * (1 - 0.3 * shade)
        self.pixels[y0:y1, x0:x1] = below * (1 - share) + np.array(colour, np.float32) * share

    def write(self, words: str, at: tuple[float, float], *, size_mm: float, tool: Tool) -> None:
        """Write words in a font of strokes, slanted and wobbled; `at` is where the line begins."""
        scale = size_mm * PX_PER_MM / FONT_HEIGHT_PX
        thick = max(round(tool.width_mm * PX_PER_MM), 2)
        (wide, high), _ = cv2.getTextSize(words, FONT, scale, thick)
        line = np.zeros((int(high * 2.4), wide + 40), np.uint8)
        start = (15, int(high * 1.6))
        cv2.putText(line, words, start, FONT, scale, 255, thick, cv2.LINE_AA)
        y, x = np.mgrid[0 : line.shape[0], 0 : line.shape[1]].astype(np.float32)
        wave = self._noise(line.shape, 14) * 90
        slant = (x - wide / 2) * self.rng.uniform(-0.04, 0.04)
        line = cv2.remap(line, x + wave * 0.5, y + wave + slant, cv2.INTER_LINEAR)
        left = min(max(int(at[0] * PX_PER_MM), 0), self.width - 10)
        top = max(int(at[1] * PX_PER_MM - high * 1.6), 0)
        line = line[: self.height - top, : self.width - left]
        region = (left, top, left + line.shape[1], top + line.shape[0])
        self._lay_ink(line, region, tool)

    def _lay_ink(self, cover: np.ndarray, region: Region, tool: Tool) -> None:
        x0, y0, x1, y1 = region
        uneven = self._textured(cover.astype(np.float32) / 255, tool.texture)
        share = np.clip(uneven * tool.darkness, 0, 1)[..., None]
        below = self.pixels[y0:y1, x0:x1]
        through = below * (np.array(tool.colour, np.float32) / 255)
        self.pixels[y0:y1, x0:x1] = below * (1 - share) + through * share

    def _textured(self, cover: np.ndarray, texture: Texture) -> np.ndarray:
        noise = self._noise(cover.shape, texture.grain_px)
        share = np.clip(texture.base + texture.gain * noise, texture.lowest, texture.highest)
        return cover * share

    def _noise(self, shape: tuple[int, ...], grain_px: float) -> np.ndarray:
        return cv2.GaussianBlur(self.rng.normal(0, 1, shape).astype(np.float32), (0, 0), grain_px)

    def _around(self, at: tuple[float, float], radius_mm: float) -> Region:
        return self._region(np.array([at]) * PX_PER_MM, radius_mm * PX_PER_MM)

    def _region(self, points: np.ndarray, pad_px: float) -> Region:
        x0, y0 = np.floor(points.min(axis=0) - pad_px).astype(int)
        x1, y1 = np.ceil(points.max(axis=0) + pad_px).astype(int) + 1
        return max(x0, 0), max(y0, 0), min(x1, self.width), min(y1, self.height)


def _sixteenths(points: np.ndarray, region: Region) -> np.ndarray:
    """Points in px, as OpenCV takes them within a region."""
    return np.round((points - region[:2]) * (1 << SHIFT_BITS)).astype(np.int32)
