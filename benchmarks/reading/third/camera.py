"""Where a sheet comes to lie in the picture: under a scanner's lid or before a phone.

The paper is bent in three dimensions and seen by a pinhole camera. Each pixel is then asked which
point of the paper it sees.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.ndimage import map_coordinates

from third.conditions import Conditions
from third.surface import Surface

SCAN_DPI = (150, 200)
DISTANCE_MM = (330, 520)
ANY_TURN = 0.08  # odds of a phone held at any angle
EDGE = (6, 4)  # rows and columns of the grid that lie past the page
ROUNDS = 12  # of asking again where a pixel looks


@dataclass(frozen=True)
class View:
    """A surface in a picture: `seen` is where each point of its grid lies, px."""

    surface: Surface
    seen: np.ndarray
    width_px: int
    height_px: int
    px_per_mm: float

    def find(self, x: float, y: float) -> np.ndarray:
        """Where a point of the paper (mm) lies in the picture, px."""
        return self.surface.interpolate(self.seen)((y, x)).ravel()

    def looked_at(self) -> tuple[np.ndarray, np.ndarray]:
        """Which x and which y of the paper (mm) each pixel sees; float32, as the picture."""
        step = max(int(self.px_per_mm * 1.6), 4)
        across = np.arange(0, self.width_px + 2 * step, step)
        pixels = np.stack(
            np.meshgrid(across, np.arange(0, self.height_px + 2 * step, step)), axis=-1
        )
        coarse = self._solve(pixels.reshape(-1, 2).astype(float)).reshape(pixels.shape)
        fine = cv2.resize(coarse.astype(np.float32), None, fx=step, fy=step)
        # An enlarged grid has its points at the middle of their cells.
        back = np.array([[1, 0, -(step - 1) / 2], [0, 1, -(step - 1) / 2]], np.float32)
        size = (self.width_px, self.height_px)
        fine = cv2.warpAffine(fine, back, size, borderMode=cv2.BORDER_REPLICATE)
        return fine[..., 0], fine[..., 1]

    def _solve(self, pixels: np.ndarray) -> np.ndarray:
        """Ask where a flat sheet would be seen, and correct by how far the bent one is off."""
        surface = self.surface
        flat = self._flat()
        start = _transform(pixels, flat)
        paper = start.copy()
        beyond = np.array([surface.width, surface.height])
        for _ in range(ROUNDS):
            cells = np.stack(
                [
                    (paper[:, 1] - surface.y[0]) / (surface.y[1] - surface.y[0]),
                    (paper[:, 0] - surface.x[0]) / (surface.x[1] - surface.x[0]),
                ]
            )
            seen = [
                map_coordinates(self.seen[..., axis], cells, order=1, mode="nearest")
                for axis in (0, 1)
            ]
            off = start - _transform(np.stack(seen, axis=-1), flat)
            paper = np.clip(paper + off, -beyond, 2 * beyond)
        return paper

    def _flat(self) -> np.ndarray:
        """From the picture to the paper, as if the corners alone held it."""
        x, y = self.surface.grid()
        down, across = EDGE
        corners = [(i, j) for i in (down, -1 - down) for j in (across, -1 - across)]
        return cv2.getPerspectiveTransform(
            np.array([self.seen[at] for at in corners], np.float32),
            np.array([(x[at], y[at]) for at in corners], np.float32),
        )


def lay_on_scanner(surface: Surface, rng: np.random.Generator) -> View:
    """Lay a sheet under the lid, nearly straight, at any quarter turn."""
    px_per_mm = rng.uniform(*SCAN_DPI) / 25.4
    turn = math.radians(rng.choice([0, 0, 0, 0, 1, 2, 3]) * 90 + rng.normal(0, 1.0))
    lying = surface.points() @ _rotation(0, 0, turn).T
    width, height = surface.width, surface.height
    if abs(math.cos(turn)) <= 0.7:
        width, height = height, width
    wide, high = int(width * px_per_mm), int(height * px_per_mm)
    shift = rng.uniform(-1.5, 1.5, 2) * px_per_mm
    seen = lying[..., :2] * px_per_mm + (wide / 2, high / 2) + shift
    return View(surface, seen, wide, high, px_per_mm)


def hold_phone(surface: Surface, conditions: Conditions, rng: np.random.Generator) -> View:
    """Hold a phone over a sheet, tilted, at some distance, filling most of the picture."""
    turn = rng.choice([0, 0, 0, 90, 180, 270]) + rng.normal(0, conditions.turn_deg)
    if rng.random() < ANY_TURN:
        turn = rng.uniform(0, 360)
    tilt = conditions.tilt_deg
    angles = (rng.uniform(-tilt, tilt), rng.uniform(-tilt, tilt), turn)
    lying = surface.points() @ _rotation(*np.radians(angles)).T
    distance = rng.uniform(*DISTANCE_MM)
    seen = lying[..., :2] * (distance / (distance + lying[..., 2:]))
    down, across = EDGE
    page = seen[down:-down, across:-across].reshape(-1, 2)
    low, size = page.min(axis=0), np.ptp(page, axis=0)
    long_side = int(rng.choice(conditions.long_side_px))
    short_side = int(long_side * 3 / 4)
    picture = (short_side, long_side) if size[1] >= size[0] else (long_side, short_side)
    px_per_mm = (np.array(picture) / size).min() * rng.uniform(*conditions.fill)
    free = np.array(picture) - size * px_per_mm
    corner = free / 2 + free * rng.uniform(-0.3, 0.3, 2)
    if rng.random() < conditions.cut_off:
        axis, side = rng.integers(2), rng.choice([-1, 1])
        lost = rng.uniform(0.01, 0.07) * size[axis] * px_per_mm
        corner[axis] += side * (free[axis] / 2 + lost)
    return View(surface, (seen - low) * px_per_mm + corner, *picture, float(px_per_mm))


def _transform(points: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    moved = cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), matrix)
    return moved.reshape(-1, 2)


def _rotation(about_x: float, about_y: float, about_z: float) -> np.ndarray:
    """Turn about the three axes in this order, radians."""
    turned = np.eye(3)
    for axis, angle in enumerate((about_x, about_y, about_z)):
        vector = np.zeros(3)
        vector[axis] = angle
        turned = cv2.Rodrigues(vector)[0] @ turned
    return turned
