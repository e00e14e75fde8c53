"""From light to a file: blur, a moving hand, noise, grey, JPEG."""

import math

import cv2
import numpy as np

from third.conditions import Lens

LEAST_BLUR_PX = 0.3


def take(
    light: np.ndarray, lens: Lens, px_per_mm: float, rng: np.random.Generator, *, is_grey: bool
) -> np.ndarray:
    """Take a picture of float RGB light: blurred, noisy, uint8 RGB."""
    blur = rng.uniform(*lens.blur_mm) * px_per_mm + rng.uniform(*lens.blur_px)
    picture = cv2.GaussianBlur(light, (0, 0), max(blur, LEAST_BLUR_PX))
    if rng.random() < lens.moves:
        picture = _moved(picture, max(int(rng.uniform(*lens.motion_mm) * px_per_mm), 1), rng)
    picture = np.clip(picture + _noise(picture.shape, lens, rng), 0, 255)
    if is_grey:
        picture = np.repeat(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    return picture.astype(np.uint8)


def _moved(picture: np.ndarray, length: int, rng: np.random.Generator) -> np.ndarray:
    if length == 1:
        return picture
    way = np.zeros((length * 2 + 1, length * 2 + 1), np.float32)
    angle = rng.uniform(0, 3.14)
    dx, dy = length / 2 * math.cos(angle), length / 2 * math.sin(angle)
    start, end = (int(length - dx), int(length - dy)), (int(length + dx), int(length + dy))
    cv2.line(way, start, end, 1, 1, cv2.LINE_AA)
    return cv2.filter2D(picture, -1, way / way.sum())


def _noise(shape: tuple[int, ...], lens: Lens, rng: np.random.Generator) -> np.ndarray:
    spread = rng.uniform(*lens.noise)
    # OpenCV draws the 36 million numbers of a photograph several times faster than numpy.
    cv2.setRNGSeed(int(rng.integers(2**31)))
    noise = np.empty(shape, np.float32)
    cv2.randn(noise, (0, 0, 0), (spread,) * 3)
    return cv2.GaussianBlur(noise, (0, 0), 0.6) * np.float32(1.6) if lens.noise_is_coarse else noise


def store(picture: np.ndarray, lens: Lens, rng: np.random.Generator) -> tuple[np.ndarray, int]:
    """Store a picture as the device does and open it again; gives the JPEG quality too."""
    quality = int(rng.integers(*lens.jpeg_quality))
    options = [cv2.IMWRITE_JPEG_QUALITY, quality]
    stored = cv2.imencode(".jpg", picture[..., ::-1], options)[1]
    opened = cv2.imdecode(stored, cv2.IMREAD_COLOR)
    return np.ascontiguousarray(opened[..., ::-1]), quality
