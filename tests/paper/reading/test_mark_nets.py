"""The networks' arithmetic against SciPy's, and the file of their arrays."""

import hashlib
import zipfile

import numpy as np
from scipy.signal import correlate

from sidelong.paper.reading.mark_nets import (
    ARRAYS,
    SIDE_PX,
    VIEWS,
    look,
    page_ink,
    shrink_patches,
    stored_nets,
    usual_target,
)

DIGEST = "3b6bb029b18534082f9276170ab2031e8bc546e2ac81520110006aca04eebf42"
LARGEST_BYTES = 1_000_000


def test_arrays_are_the_ones_that_the_card_describes() -> None:
    content = ARRAYS.read_bytes()
    assert hashlib.sha256(content).hexdigest() == DIGEST
    assert len(content) < LARGEST_BYTES


def test_arrays_hold_numbers_and_no_pickles() -> None:
    with zipfile.ZipFile(ARRAYS) as stored:
        headers = [stored.read(name)[:128] for name in stored.namelist()]
    assert len(headers) == 26
    assert all(b"'<f2'" in header or b"'<f4'" in header for header in headers)
    assert all(np.isfinite(array).all() for array in stored_nets().values())


def _layer(x: np.ndarray, weight: np.ndarray, bias: np.ndarray, stride: int) -> np.ndarray:
    """Convolve one channel after the other, at every place, and keep every other one."""
    pad = weight.shape[0] // 2
    wide = np.pad(x, ((pad, pad), (pad, pad), (0, 0)))
    out = np.stack(
        [
            sum(
                correlate(wide[:, :, i], weight[:, :, i, o], mode="valid")
                for i in range(x.shape[2])
            )
            for o in range(weight.shape[3])
        ],
        axis=2,
    )
    return np.maximum(out[::stride, ::stride] + bias, 0)


def test_networks_multiply_as_scipy_does() -> None:
    rng = np.random.default_rng(3)
    small = rng.integers(0, 255, (2, SIDE_PX, SIDE_PX, 3), dtype=np.uint8)
    usual = rng.integers(100, 255, (SIDE_PX, SIDE_PX, 3), dtype=np.uint8)
    arrays = stored_nets()
    got = look(small, usual, 72.0, plainly_empty=2.0)
    for place, view in enumerate(VIEWS):
        parts = [(240.0 - part.astype(float)) / 90.0 for part in (small[1], usual)]
        if view == "extremes":
            parts = [np.stack([part.max(2), part.min(2)], 2) for part in parts]
        x = np.concatenate(parts, 2)
        for number, stride in enumerate((2, 2, 1, 2)):
            x = _layer(
                x, arrays[f"{view}.{number}.weight"], arrays[f"{view}.{number}.bias"], stride
            )
        x = np.concatenate([x.ravel(), [0.8, 1.0]])  # 72 of 90 grey levels
        x = np.maximum(x @ arrays[f"{view}.4.weight"] + arrays[f"{view}.4.bias"], 0)
        logits = x @ arrays[f"{view}.5.weight"] + arrays[f"{view}.5.bias"]
        chances = np.exp(logits - logits.max())
        assert np.allclose(np.exp(got[place, 1]), chances / chances.sum(), atol=1e-4)


def test_shrinking_takes_the_mean_of_four() -> None:
    patches = np.random.default_rng(1).integers(0, 256, (3, 84, 84, 3), dtype=np.uint8)
    small = shrink_patches(patches)
    assert small.shape == (3, SIDE_PX, SIDE_PX, 3)
    assert abs(float(small[2, 5, 7, 1]) - patches[2, 10:12, 14:16, 1].mean()) <= 0.5


def test_the_usual_target_is_an_empty_one_where_most_are() -> None:
    small = np.full((9, SIDE_PX, SIDE_PX, 3), 240, np.uint8)
    small[:4, 10:30, 10:30] = 20
    assert (usual_target(small) == 240).all()


def test_the_second_network_is_asked_only_where_the_first_is_unsure() -> None:
    """As one photograph after the other, so as both everywhere, but for plainly empty places."""
    rng = np.random.default_rng(4)
    usual = np.full((SIDE_PX, SIDE_PX, 3), 240, np.uint8)
    small = np.repeat(usual[None], 20, axis=0)
    small[3, 12:30, 12:30] = rng.integers(0, 90, (18, 18, 3), dtype=np.uint8)
    everywhere, spared = look(small, usual, 0.0, plainly_empty=2.0), look(small, usual, 0.0)
    assert np.allclose(spared[1], everywhere[1], atol=1e-5)
    assert np.allclose(spared[0, 3], everywhere[0, 3], atol=1e-4)


def test_ink_of_a_page_is_that_of_its_marks_and_not_of_one_rubbed_out() -> None:
    usual = np.full((SIDE_PX, SIDE_PX, 3), 240, np.uint8)
    small = np.repeat(usual[None], 12, axis=0)
    assert page_ink(small, usual) == 0.0
    for place in range(5):
        small[place, 13:29, 13:29] = 240 - 150
    small[5, 13:29, 13:29] = 240 - 40
    assert page_ink(small, usual) == 150.0
