"""Where a sheet lies in front of the camera: from a pixel of the photograph to a point on paper."""

from dataclasses import dataclass

import cv2
import numpy as np

GRID_PX = 8  # maps are computed on every eighth pixel and interpolated between


@dataclass(frozen=True)
class Bend:
    """One curl or fold: height over the table, as a function of the place along a direction."""

    angle: float
    centre_mm: float
    width_mm: float
    height_mm: float
    is_fold: bool

    def height(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Height in mm at points on paper, and its slope along the direction."""
        t = (u * np.cos(self.angle) + v * np.sin(self.angle) - self.centre_mm) / self.width_mm
        if self.is_fold:
            root = np.sqrt(t * t + 0.002)
            return self.height_mm * (1 - root), -self.height_mm / self.width_mm * t / root
        bump = np.exp(-0.5 * t * t)
        return self.height_mm * bump, -self.height_mm / self.width_mm * t * bump


@dataclass(frozen=True)
class Surface:
    """A sheet as one photograph sees it.

    ``to_paper`` is the homography from pixels (after lens distortion) to mm on the flat sheet,
    ``lens`` the radial distortion at the image's corner, ``eye_mm`` the camera's height.
    """

    to_paper: np.ndarray
    bends: tuple[Bend, ...]
    lens: float
    eye_mm: float
    middle_mm: tuple[float, float]

    def look(self, size: tuple[int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Give u and v in mm, and the shading (about 1), for an image of (width, height)."""
        width, height = size
        columns, rows = -(-width // GRID_PX) + 1, -(-height // GRID_PX) + 1
        x, y = np.meshgrid(
            np.arange(columns, dtype=np.float64) * GRID_PX, np.arange(rows) * GRID_PX * 1.0
        )
        half = np.hypot(width, height) / 2
        dx, dy = (x - width / 2) / half, (y - height / 2) / half
        stretch = 1 + self.lens * (dx * dx + dy * dy)
        points = np.stack(
            [width / 2 + dx * stretch * half, height / 2 + dy * stretch * half, 0 * x + 1]
        )
        a, b, c = np.einsum("ij,jrc->irc", self.to_paper, points)
        u, v = a / c, b / c
        u, v, light = self._bent(u, v)
        return _enlarged(u, size), _enlarged(v, size), _enlarged(light, size)

    def _bent(self, u: np.ndarray, v: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Lift the sheet: parallax towards the eye, arc length along each bend, shading."""
        light = np.ones_like(u)
        heights, along = np.zeros_like(u), []
        for bend in self.bends:
            height, slope = bend.height(u, v)
            heights += height
            along.append((bend, slope))
            light *= 1 - 0.35 * np.clip(slope, -1, 1)
        middle_u, middle_v = self.middle_mm
        near = 1 - heights / self.eye_mm
        new_u, new_v = middle_u + (u - middle_u) * near, middle_v + (v - middle_v) * near
        for bend, slope in along:
            cos, sin = np.cos(bend.angle), np.sin(bend.angle)
            t = u * cos + v * sin - bend.centre_mm
            longer = t * np.clip(slope * slope, 0, 0.5) / 2 * 0.5
            new_u, new_v = new_u + longer * cos, new_v + longer * sin
        return new_u, new_v, light


def _enlarged(part: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Interpolate a grid at every eighth pixel to every pixel of an image."""
    zoom = np.array([[GRID_PX, 0, 0], [0, GRID_PX, 0]], np.float32)
    return cv2.warpAffine(
        part.astype(np.float32),
        zoom,
        size,
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )


def draw_bends(rng: np.random.Generator, strength: float) -> tuple[Bend, ...]:
    """Curl a sheet of paper, fold it, or leave it flat; ``strength`` is about the height in mm."""
    bends = []
    for _ in range(int(rng.integers(1, 3))):
        is_fold = bool(rng.random() < 0.25)
        angle = float(rng.choice([0.0, np.pi / 2]) + rng.normal(0, 0.2))
        extent = 297 * abs(np.sin(angle)) + 210 * abs(np.cos(angle))
        height = abs(rng.normal(0, strength)) * (0.5 if is_fold else 1.0)
        width = rng.uniform(50, 110) if is_fold else rng.uniform(40, 90)
        bends.append(Bend(angle, rng.uniform(0, 1) * extent, width, height, is_fold))
    return tuple(bends)


def homography_of_view(
    paper_mm: tuple[float, float],
    *,
    tilt: tuple[float, float],
    roll: float,
    fill: float,
    shift: tuple[float, float],
    size: tuple[int, int],
    distance: float = 1.6,
) -> np.ndarray:
    """Homography from pixels to paper for a camera above a sheet.

    ``tilt`` in radians about both axes of the image, ``roll`` about the view, ``fill`` the share
    of the image's smaller fit that the sheet takes, ``shift`` as shares of the image,
    ``distance`` of the camera in diagonals of the sheet.
    """
    width, height = paper_mm
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    centred = corners - (width / 2, height / 2)
    cos, sin = np.cos(roll), np.sin(roll)
    flat = centred @ np.array([[cos, sin], [-sin, cos]])
    space = np.column_stack([flat, np.zeros(4)])
    for axis, angle in zip((0, 1), tilt, strict=True):
        turn = np.eye(3)
        first, second = (1, 2) if axis == 0 else (0, 2)
        turn[first, first] = turn[second, second] = np.cos(angle)
        turn[first, second], turn[second, first] = -np.sin(angle), np.sin(angle)
        space = space @ turn.T
    eye = distance * np.hypot(width, height)
    seen = space[:, :2] * (eye / (eye - space[:, 2:]))
    low, high = seen.min(0), seen.max(0)
    scale = fill * min(size[0] / (high[0] - low[0]), size[1] / (high[1] - low[1]))
    pixels = (seen - (low + high) / 2) * scale + np.array(size) * (0.5 + np.array(shift))
    return cv2.getPerspectiveTransform(pixels.astype(np.float32), corners.astype(np.float32))
