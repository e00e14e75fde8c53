"""Light, lens, sensor and file of a photograph: all that happens after geometry."""

import cv2
import numpy as np

Notes = dict[str, object]


def light_map(
    size: tuple[int, int],
    *,
    unevenness: float,
    shadow: float,
    colour: float,
    rng: np.random.Generator,
) -> np.ndarray:
    """Light over an image of (width, height): float32 (rows, columns, 3) at 1/16 size."""
    width, height = size[0] // 16 + 2, size[1] // 16 + 2
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    angle = rng.uniform(0, 2 * np.pi)
    ramp = x * np.cos(angle) + y * np.sin(angle)
    light = 1 - unevenness * (0.5 - 0.5 * ramp) - unevenness * 0.5 * rng.random() * (x * x + y * y)
    light = np.repeat(light[..., None], 3, 2)
    first, second = (rng.normal(0, colour, 3) * (1.0, 0.4, 1.2) for _ in range(2))
    side = (0.5 + 0.5 * np.tanh(ramp * rng.uniform(0.5, 3)))[..., None]
    light *= 1 + first + (second - first) * side
    if rng.random() < shadow:
        light *= 1 - _shadow((height, width), rng)[..., None] * rng.uniform(0.2, 0.65)
    return np.clip(light, 0.08, 1.2).astype(np.float32)


def _shadow(shape: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """Shadow of a hand, a head or the phone: 0..1 with soft edges."""
    height, width = shape
    mask = np.zeros(shape, np.float32)
    t = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    for _ in range(int(rng.integers(1, 3))):
        centre = rng.uniform((-0.1, -0.1), (1.1, 1.1)) * (width, height)
        radius = rng.uniform(0.15, 0.6) * max(shape)
        wave = 1 + 0.25 * np.sin(t * rng.integers(1, 5) + rng.uniform(0, 6))
        outline = centre + np.stack([np.cos(t), np.sin(t)], 1) * (radius * wave)[:, None]
        cv2.fillPoly(mask, [outline.astype(np.int32).reshape(-1, 1, 2)], 1.0)
    return cv2.GaussianBlur(mask, (0, 0), rng.uniform(0.5, 0.08 * max(shape)))


def shine(pixels: np.ndarray, light: np.ndarray) -> np.ndarray:
    """Light an image in bands, so that no large float image is held."""
    height, width = pixels.shape[:2]
    big = cv2.resize(np.clip(light * 200, 0, 255).astype(np.uint8), (width, height))
    return cv2.multiply(pixels, big, scale=1 / 200)


def blur(
    pixels: np.ndarray, *, sigma: float, motion: float, rng: np.random.Generator
) -> np.ndarray:
    """Defocus by ``sigma`` px and shake by ``motion`` px."""
    out = cv2.GaussianBlur(pixels, (0, 0), sigma) if sigma > 0.25 else pixels
    if motion > 1.2:
        out = cv2.filter2D(out, -1, motion_kernel(motion, rng.uniform(0, np.pi)))
    return out


def motion_kernel(length: float, angle: float) -> np.ndarray:
    """Kernel of a straight shake, float32, sums to one."""
    side = int(np.ceil(length)) | 1
    kernel = np.zeros((side, side), np.float32)
    reach = np.array([np.cos(angle), np.sin(angle)]) * (length - 1) / 2
    ends = [
        tuple(((side // 2 + sign * reach) * 16).round().astype(int).tolist()) for sign in (-1, 1)
    ]
    cv2.line(kernel, *ends, 1.0, 1, cv2.LINE_AA, 4)
    return kernel / max(float(kernel.sum()), 1e-6)


def sensor_noise(pixels: np.ndarray, *, sigma: float, rng: np.random.Generator) -> np.ndarray:
    """Add noise of the sensor, part of it coarse and coloured as left by a phone's smoothing."""
    if sigma < 0.3:
        return pixels
    height, width = pixels.shape[:2]
    tile = min(1024, height, width)
    fine = rng.normal(0, sigma, (tile, tile, 3)).astype(np.float32)
    if rng.random() < 0.5:  # grey noise
        fine[:] = fine.mean(2, keepdims=True) * 1.4
    grain = rng.choice([1.0, 1.0, 1.6, 2.5])
    if grain > 1:
        fine = cv2.GaussianBlur(fine, (0, 0), grain * 0.5) * grain
    noise = np.clip(fine, -120, 120).round().astype(np.int16)
    out = np.empty_like(pixels)
    for y in range(0, height, tile):
        for x in range(0, width, tile):
            part = pixels[y : y + tile, x : x + tile]
            rows, columns = part.shape[:2]
            shift = rng.integers(0, tile, 2)
            moved = np.roll(noise, shift, (0, 1))[:rows, :columns]
            out[y : y + tile, x : x + tile] = cv2.add(part, moved, dtype=cv2.CV_8U)
    return out


def sharpen(pixels: np.ndarray, amount: float) -> np.ndarray:
    """Sharpen as phones do."""
    soft = cv2.GaussianBlur(pixels, (0, 0), 1.2)
    return cv2.addWeighted(pixels, 1 + amount, soft, -amount, 0)


def expose(pixels: np.ndarray, *, gain: float, gamma: float) -> np.ndarray:
    """Expose brighter or darker, with a tone curve."""
    levels = np.arange(256) / 255
    table = np.clip((levels * gain) ** gamma * 255, 0, 255).round().astype(np.uint8)
    return cv2.LUT(pixels, table)


def through_jpeg(pixels: np.ndarray, quality: int) -> np.ndarray:
    """Write and read as JPEG."""
    written = cv2.imencode(".jpg", pixels[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.ascontiguousarray(cv2.imdecode(written, cv2.IMREAD_COLOR)[:, :, ::-1])


def background(size: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """A table, a cloth, a bed: RGB uint8 for (width, height); it may be white too."""
    width, height = size
    small = (width // 8 + 1, height // 8 + 1)
    colour = rng.uniform(20, 245, 3) * 0.4 + rng.uniform(20, 245) * 0.6
    kind = rng.choice(["wood", "cloth", "plain", "patches", "print"])
    texture = rng.normal(0, 1, (small[1], small[0])).astype(np.float32)
    if kind == "wood":
        texture = cv2.GaussianBlur(texture, (0, 0), sigmaX=40, sigmaY=0.8) * 9
    elif kind == "cloth":
        y, x = np.mgrid[: small[1], : small[0]].astype(np.float32)
        step = rng.uniform(3, 14)
        texture = np.sin(x * 2 * np.pi / step) * np.sin(y * 2 * np.pi / step) + texture * 0.3
    elif kind == "patches":
        texture = np.sign(cv2.GaussianBlur(texture, (0, 0), rng.uniform(4, 25))) * 1.5
    elif kind == "print":
        stripes = (rng.random((small[1], 1)) < 0.5) & (texture > 0.2)
        texture = np.where(stripes, -3.0, 0.0).astype(np.float32)
    shade = texture[..., None] * rng.uniform(3, 22)
    ground = np.clip(colour + shade, 0, 255).astype(np.uint8)
    big = cv2.resize(ground, size, interpolation=cv2.INTER_LINEAR)
    return sensor_noise(big, sigma=rng.uniform(0, 6), rng=rng)


def finger(pixels: np.ndarray, reach: float, rng: np.random.Generator) -> None:
    """Lay a fingertip over the edge of the image, reaching in by a share of its width, in place."""
    height, width = pixels.shape[:2]
    side = int(rng.integers(4))
    along = rng.uniform(0.1, 0.9)
    length, breadth = reach * max(height, width), rng.uniform(0.022, 0.04) * max(height, width)
    bases = [
        (along * width, 0),
        (width, along * height),
        (along * width, height),
        (0, along * height),
    ]
    base = np.array(bases[side])
    inward = np.array([(0, 1), (-1, 0), (0, -1), (1, 0)][side], float) + rng.normal(0, 0.3, 2)
    tip = base + inward / np.hypot(*inward) * length
    skin = np.array([224, 180, 150]) * rng.uniform(0.35, 1.05) * rng.uniform(0.93, 1.07, 3)
    mask = np.zeros((height // 4 + 1, width // 4 + 1), np.uint8)
    ends = [tuple((point / 4).astype(int).tolist()) for point in (base - inward * 50, tip)]
    cv2.line(mask, *ends, 255, max(int(breadth * 2 / 4), 2), cv2.LINE_AA)
    soft = cv2.resize(cv2.GaussianBlur(mask, (0, 0), 2), (width, height))
    ys, xs = np.nonzero(mask)
    if not len(ys):
        return
    rows = slice(max(ys.min() * 4 - 40, 0), ys.max() * 4 + 40)
    columns = slice(max(xs.min() * 4 - 40, 0), xs.max() * 4 + 40)
    part = pixels[rows, columns].astype(np.float32)
    cover = soft[rows, columns, None].astype(np.float32) / 255
    shade = 0.75 + 0.25 * cover
    pixels[rows, columns] = np.clip(part * (1 - cover) + skin * shade * cover, 0, 255).astype(
        np.uint8
    )
