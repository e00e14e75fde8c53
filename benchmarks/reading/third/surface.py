"""How a sheet lies: bent, folded and opened again, crumpled and smoothed out; or flat."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from third.conditions import Conditions

N_ACROSS, N_DOWN = 71, 99
BEYOND = 0.06  # share of the page by which the grid goes past its edges
FOLD_REACH_MM = 70
CREASE_MM = 8
CREASE_LENGTH_MM = 60


@dataclass(frozen=True)
class Surface:
    """Height of the paper above the table on a grid, mm; `x` and `y` are the grid's lines."""

    width: float
    height: float
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray

    @classmethod
    def flat(cls, width: float, height: float) -> "Surface":
        x = np.linspace(-BEYOND * width, width * (1 + BEYOND), N_ACROSS)
        y = np.linspace(-BEYOND * height, height * (1 + BEYOND), N_DOWN)
        return cls(width, height, x, y, np.zeros((N_DOWN, N_ACROSS)))

    def grid(self) -> tuple[np.ndarray, np.ndarray]:
        """Give x and y of every point of the grid."""
        x, y = np.meshgrid(self.x, self.y)
        return x, y

    def points(self) -> np.ndarray:
        """Give the points seen from the camera above the middle; shape (down, across, 3)."""
        x, y = self.grid()
        return np.stack([x - self.width / 2, y - self.height / 2, -self.z], axis=-1)

    def interpolate(self, values: np.ndarray) -> RegularGridInterpolator:
        """Spread values of the grid over the page and past it; called with (y, x)."""
        return RegularGridInterpolator(
            (self.y, self.x), values, bounds_error=False, fill_value=None
        )

    def shade(self, rng: np.random.Generator) -> np.ndarray:
        """Light that falls on the grid from one drawn side, 1 where the paper is level."""
        light = np.array([rng.normal(0, 0.5), rng.normal(0, 0.5), 1.2])
        light /= np.linalg.norm(light)
        down, across = np.gradient(self.z, self.y, self.x)
        steep = np.sqrt(1 + across**2 + down**2)
        return (light[2] + across * light[0] + down * light[1]) / steep / light[2]


def draw_surface(
    width: float, height: float, conditions: Conditions, rng: np.random.Generator
) -> Surface:
    """Draw how a photographed sheet lies."""
    flat = Surface.flat(width, height)
    z = _bend(flat, conditions, rng)
    if rng.random() < conditions.fold:
        z = z + _fold(flat, conditions, rng)
    if rng.random() < conditions.crumple:
        for _ in range(rng.integers(8, 22)):
            z = z + _crease(flat, rng)
    return Surface(width, height, flat.x, flat.y, z)


def _bend(flat: Surface, conditions: Conditions, rng: np.random.Generator) -> np.ndarray:
    x, y = flat.grid()
    high = rng.uniform(*conditions.bend_mm)
    along = rng.uniform(0, np.pi)
    way = (x - flat.width / 2) * math.cos(along) + (y - flat.height / 2) * math.sin(along)
    waves = way / (flat.height / 2) * rng.uniform(0.6, 1.1) + rng.uniform(-0.4, 0.4)
    return high * (1 - np.cos(np.pi * waves)) / 2


def _fold(flat: Surface, conditions: Conditions, rng: np.random.Generator) -> np.ndarray:
    """A ridge or a valley; where it lies and which way it runs are drawn apart."""
    x, y = flat.grid()
    share = rng.uniform(0.42, 0.58)
    where = share * (flat.height if rng.random() < 0.7 else flat.width)
    away = np.abs((y if rng.random() < 0.7 else x) - where)
    ridge = np.clip(1 - away / FOLD_REACH_MM, 0, 1)
    return -ridge * rng.choice([-1, 1]) * rng.uniform(*conditions.fold_mm)


def _crease(flat: Surface, rng: np.random.Generator) -> np.ndarray:
    x, y = flat.grid()
    dx, dy = x - flat.width / 2, y - flat.height / 2
    angle, off = rng.uniform(0, np.pi), rng.uniform(-0.45, 0.45)
    across = dx * math.cos(angle) + dy * math.sin(angle) - off * flat.height
    along = -dx * math.sin(angle) + dy * math.cos(angle)
    high = rng.uniform(-2.0, 2.0)
    reach = ((along - rng.uniform(-90, 90)) / CREASE_LENGTH_MM) ** 2
    return high * np.exp(-np.abs(across) / CREASE_MM) * np.exp(-reach)
