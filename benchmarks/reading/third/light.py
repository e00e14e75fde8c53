"""Light on the table of a phone's picture, and what it or a thumb hides."""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from third.conditions import Conditions

CELL_PX = 8  # light changes slowly: it is drawn on cells of so many pixels
SKIN = (205, 150, 125)
GLARE_HIDES = 90  # grey levels of glare at which white paper hides its ink
WHITE = 253


@dataclass(frozen=True)
class Hidden:
    """What cannot be seen of a picture: under a thumb, or where glare has burnt it out."""

    thumb: np.ndarray  # uint8, of the picture's size
    glare: np.ndarray  # grey levels, of any size

    @classmethod
    def nothing(cls, picture: np.ndarray) -> "Hidden":
        return cls(np.zeros(picture.shape[:2], np.uint8), np.zeros((1, 1), np.float32))

    def hides(self, picture: np.ndarray, x: float, y: float) -> bool:
        """Tell whether the place at a pixel is hidden in the finished picture."""
        high, wide = picture.shape[:2]
        column, row = (int(min(max(at, 0), end - 1)) for at, end in ((x, wide), (y, high)))
        if self.thumb[row, column]:
            return True
        cells = self.glare.shape
        glare = self.glare[row * cells[0] // high, column * cells[1] // wide]
        around = picture[row - 1 : row + 2, column - 1 : column + 2]
        return bool(glare > GLARE_HIDES and around.mean() > WHITE)


def light_up(
    picture: np.ndarray, conditions: Conditions, rng: np.random.Generator
) -> tuple[np.ndarray, Hidden]:
    """Light a picture from a side or two, with shadow, glare and thumb; float RGB, unlimited."""
    high, wide = picture.shape[:2]
    cells = (max(high // CELL_PX, 2), max(wide // CELL_PX, 2))
    y, x = np.mgrid[0 : cells[0], 0 : cells[1]].astype(np.float32)
    x, y = x / cells[1] - 0.5, y / cells[0] - 0.5
    light = _from_a_side(x, y, conditions, rng)
    if conditions.has_two_lights:
        light = light * _second_light(x, y, conditions, rng)
    if rng.random() < conditions.shadow:
        light = light * _shadow(cells, conditions, rng)
    exposure = np.float32(rng.uniform(*conditions.exposure))
    picture = picture * cv2.resize(light * exposure, (wide, high))
    glare = np.zeros((1, 1), np.float32)
    if rng.random() < conditions.glare:
        glare = _glare(x, y, rng)
        picture += cv2.resize(glare, (wide, high))[..., None]
    thumb = np.zeros((high, wide), np.uint8)
    if rng.random() < conditions.thumb:
        _put_thumb(thumb, rng)
        picture[thumb > 0] = np.array(SKIN, np.float32) * exposure
    return picture, Hidden(thumb, glare * exposure)


def _from_a_side(
    x: np.ndarray, y: np.ndarray, conditions: Conditions, rng: np.random.Generator
) -> np.ndarray:
    side = rng.uniform(0, 6.28)
    falloff = rng.uniform(*conditions.falloff)
    strength = 1 + falloff * (x * math.cos(side) + y * math.sin(side))
    return strength[..., None] * _warmth(rng.normal(0, conditions.cast))


def _second_light(
    x: np.ndarray, y: np.ndarray, conditions: Conditions, rng: np.random.Generator
) -> np.ndarray:
    """Another colour of light beyond a soft border, as between a lamp and a window."""
    side, border = rng.uniform(0, 6.28), rng.uniform(-0.2, 0.2)
    beyond = (x * math.cos(side) + y * math.sin(side) - border) * 12
    share = 1 / (1 + np.exp(-beyond[..., None]))
    return 1 + share * (_warmth(rng.normal(0, conditions.cast * 0.8)) - 1)


def _warmth(warmth: float) -> np.ndarray:
    return np.array([1 + warmth, 1, 1 - warmth], np.float32)


def _shadow(cells: tuple[int, int], conditions: Conditions, rng: np.random.Generator) -> np.ndarray:
    """The shadow of a head, an arm or the phone."""
    n_corners = 9
    middle = rng.uniform(0, 1, 2) * (cells[1], cells[0])
    angles = np.linspace(0, 6.28, n_corners, endpoint=False)
    radii = rng.uniform(0.2, 0.5, n_corners) * min(cells)
    long = rng.uniform(1, 2)
    outline = np.c_[middle[0] + radii * np.cos(angles), middle[1] + radii * np.sin(angles) * long]
    dark = np.zeros(cells, np.uint8)
    cv2.fillPoly(dark, [outline.astype(np.int32)], 255)
    dark = cv2.GaussianBlur(dark, (0, 0), max(rng.uniform(0.004, 0.04) * cells[1], 0.8))
    depth = rng.uniform(*conditions.shadow_depth)
    return 1 - dark.astype(np.float32)[..., None] / 255 * depth


def _glare(x: np.ndarray, y: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    at = rng.uniform(-0.4, 0.4, 2)
    wide, high = rng.uniform(0.08, 0.2), rng.uniform(0.05, 0.15)
    spot = np.exp(-(((x - at[0]) / wide) ** 2 + ((y - at[1]) / high) ** 2))
    return (spot * rng.uniform(150, 300)).astype(np.float32)


def _put_thumb(thumb: np.ndarray, rng: np.random.Generator) -> None:
    """Let a thumb reach in over one edge, in place."""
    high, wide = thumb.shape
    edge, along = rng.integers(4), rng.uniform(0.15, 0.85)
    radius = rng.uniform(0.06, 0.1) * min(wide, high)
    middle = (
        (along * wide, -0.2 * radius),
        (along * wide, high + 0.2 * radius),
        (-0.2 * radius, along * high),
        (wide + 0.2 * radius, along * high),
    )[edge]
    across, deep = int(radius), int(radius * 1.9)
    axes = (across, deep) if edge < 2 else (deep, across)
    cv2.ellipse(thumb, (int(middle[0]), int(middle[1])), axes, 0, 0, 360, 255, -1)
