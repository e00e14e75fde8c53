"""Two small networks that look at the surroundings of a target, in plain NumPy.

One sees colour, the other the lightest and the darkest channel alone. Their arrays come from
``research/marks/train.py``; ``docs/method/marks.md`` says on what they were trained.
"""

from collections.abc import Mapping
from enum import IntEnum
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels

Numbers = NDArray[np.float32]

ARRAYS = Path(__file__).with_name("mark_nets.npz")
VIEWS = ("colour", "extremes")
SIDE_PX = 42
_PAPER, _INK = 240.0, 90.0
_STRIDES = (2, 2, 1, 2)


class Sight(IntEnum):
    """What a place on a sheet shows: the columns of the networks' answer."""

    EMPTY = 0
    MARKED = 1
    CANCELLED = 2
    ERASED = 3
    DOUBTFUL = 4


def shrink_patches(patches: Pixels) -> Pixels:
    """Halve patches: the mean of two by two pixels.

    Parameters
    ----------
    patches : ndarray of uint8, shape (n, 84, 84, 3)
        14 mm at 6 px/mm.

    Returns
    -------
    ndarray of uint8, shape (n, 42, 42, 3)
        At 3 px/mm.
    """
    wide = patches.astype(np.uint16)
    rows = wide[:, 0::2] + wide[:, 1::2]
    return ((rows[:, :, 0::2] + rows[:, :, 1::2] + 2) // 4).astype(np.uint8)


@cache
def stored_nets() -> Mapping[str, Numbers]:
    """Read the arrays that ship with the program."""
    with np.load(ARRAYS, allow_pickle=False) as stored:
        return {name: stored[name].astype(np.float32) for name in stored.files}


def usual_target(small: Pixels) -> Pixels:
    """Give the median of a page's targets: what an empty one looks like on this very sheet.

    Parameters
    ----------
    small : ndarray of uint8, shape (n_targets, 42, 42, 3)
        All targets of a page, gaps left out; most of them are empty.

    Returns
    -------
    ndarray of uint8, shape (42, 42, 3)
        Pixel by pixel.
    """
    return np.asarray(np.median(small, axis=0), np.uint8)


def look(small: Pixels, usual: Pixels, nets: Mapping[str, Numbers] | None = None) -> Numbers:
    """Say what each patch shows, by each network on its own.

    Parameters
    ----------
    small : ndarray of uint8, shape (n, 42, 42, 3)
        As :func:`shrink_patches` gives them, bare paper at 240.
    usual : ndarray of uint8, shape (42, 42, 3)
        As :func:`usual_target` gives it for the same page.
    nets : mapping of str to ndarray, optional
        Arrays; those that ship with the program by default.

    Returns
    -------
    ndarray of float32, shape (2, n, 5)
        Logarithms of chances, by network, patch and :class:`Sight`.
    """
    arrays = stored_nets() if nets is None else nets
    both = [(np.float32(_PAPER) - part) / np.float32(_INK) for part in (small, usual[None])]
    extremes = [np.stack([part.max(axis=3), part.min(axis=3)], axis=3) for part in both]
    return np.stack(
        [
            _log_chances(seen, beside, arrays, view=view)
            for (seen, beside), view in zip((both, extremes), VIEWS, strict=True)
        ]
    )


def _log_chances(
    x: Numbers, beside: Numbers, arrays: Mapping[str, Numbers], *, view: str
) -> Numbers:
    first, channels = arrays[f"{view}.0.weight"], x.shape[3]
    # The first layer is linear, and the usual target is the same for all: once is enough.
    x = _convolve(x, first[:, :, :channels], stride=_STRIDES[0])
    x += _convolve(beside, first[:, :, channels:], stride=_STRIDES[0])
    x = np.maximum(x + arrays[f"{view}.0.bias"], 0.0)
    for place, stride in enumerate(_STRIDES[1:], start=1):
        weight, bias = arrays[f"{view}.{place}.weight"], arrays[f"{view}.{place}.bias"]
        x = np.maximum(_convolve(x, weight, stride=stride) + bias, 0.0)
    x = x.reshape(len(x), -1)
    x = np.maximum(x @ arrays[f"{view}.4.weight"] + arrays[f"{view}.4.bias"], 0.0)
    logits = x @ arrays[f"{view}.5.weight"] + arrays[f"{view}.5.bias"]
    logits = logits - logits.max(axis=1, keepdims=True)
    return np.asarray(logits - np.log(np.exp(logits).sum(axis=1, keepdims=True)), np.float32)


def _convolve(x: Numbers, weight: Numbers, *, stride: int) -> Numbers:
    """Convolve (n, rows, columns, in) with (k, k, in, out), padded to keep its size."""
    side, _, _, n_out = weight.shape
    pad = side // 2
    n, rows, columns, n_in = x.shape
    padded = np.zeros((n, rows + 2 * pad, columns + 2 * pad, n_in), np.float32)
    padded[:, pad : pad + rows, pad : pad + columns] = x
    out_rows, out_columns = (rows - 1) // stride + 1, (columns - 1) // stride + 1
    spread = np.empty((n, out_rows, out_columns, side, side, n_in), np.float32)
    for i in range(side):
        for j in range(side):
            reach = (out_rows - 1) * stride, (out_columns - 1) * stride
            spread[:, :, :, i, j] = padded[
                :, i : i + reach[0] + 1 : stride, j : j + reach[1] + 1 : stride
            ]
    flat = spread.reshape(n * out_rows * out_columns, -1) @ weight.reshape(-1, n_out)
    return flat.reshape(n, out_rows, out_columns, n_out)
