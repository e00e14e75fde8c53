"""Two small networks that look at the surroundings of a target, in plain NumPy.

One sees the lightest and the darkest channel alone, the other colour; the second is asked only
where the first does not plainly see an empty target, which saves half of the time. Their arrays
come from ``research/marks/train.py``; ``docs/method/marks.md`` says on what they were trained.
"""

from collections.abc import Mapping
from enum import IntEnum
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.lib.stride_tricks import as_strided
from numpy.typing import NDArray

from sidelong.paper.images import Pixels, darkest_channel

Numbers = NDArray[np.float32]

ARRAYS = Path(__file__).with_name("mark_nets.npz")
VIEWS = ("colour", "extremes")
SIDE_PX = 42
_PAPER, _INK = 240.0, 90.0
_STRIDES = (2, 2, 1, 2)
_PLAINLY_EMPTY, _PLAINLY_EMPTY_GAP = 0.9995, 0.99999
_FULL_INK, _LEAST_INK, _FEWEST_INKED = 90.0, 16.0, 3
_INSIDE_MM, _PX_PER_MM = 3.2, 3.0  # an outline is 4 mm away from its centre
_AXIS = (np.arange(SIDE_PX) + 0.5) / _PX_PER_MM - SIDE_PX / _PX_PER_MM / 2
_INSIDE = np.hypot(*np.meshgrid(_AXIS, _AXIS)) < _INSIDE_MM
_PORTION = 8  # patches at a time, so that a layer stays in the processor's cache


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


def page_ink(small: Pixels, usual: Pixels) -> float:
    """Tell how dark the ink of a page's marks is, before anything is known of them.

    A pale mark is a pencil's on one page and a rubbed out one on another.

    Parameters
    ----------
    small : ndarray of uint8, shape (n_targets, 42, 42, 3)
        All targets of a page, gaps left out.
    usual : ndarray of uint8, shape (42, 42, 3)
        As :func:`usual_target` gives it.

    Returns
    -------
    float
        How much darker than bare paper, grey levels: of the inked insides of outlines, one that a
        third of them surpass; 0 where fewer than three are inked.
    """
    darker = -darkest_channel(small - usual.astype(np.int16)).astype(np.float32)
    smooth = np.stack([cv2.blur(each, (3, 3)) for each in darker])
    depths = np.percentile(smooth[:, _INSIDE], 90, axis=1)
    inked = depths[depths > _LEAST_INK]
    return float(np.percentile(inked, 66)) if len(inked) >= _FEWEST_INKED else 0.0


def look(
    small: Pixels,
    usual: Pixels,
    ink: float,
    nets: Mapping[str, Numbers] | None = None,
    *,
    gaps: NDArray[np.bool_] | None = None,
    plainly_empty: float = _PLAINLY_EMPTY,
) -> Numbers:
    """Say what each patch shows, by each network on its own.

    Parameters
    ----------
    small : ndarray of uint8, shape (n, 42, 42, 3)
        As :func:`shrink_patches` gives them, bare paper at 240.
    usual : ndarray of uint8, shape (42, 42, 3)
        As :func:`usual_target` gives it for the same page.
    ink : float
        As :func:`page_ink` gives it for the same page.
    nets : mapping of str to ndarray, optional
        Arrays; those that ship with the program by default.
    gaps : ndarray of bool, shape (n,), optional
        Which patches are no targets; a mark there is rare, and the word of one network on them
        counts for both only where it is all but certain.
    plainly_empty : float
        Where the network of extremes gives an empty target at least this chance, its word counts
        for both; above 1 both look everywhere.

    Returns
    -------
    ndarray of float32, shape (2, n, 5)
        Logarithms of chances, by network (as in ``VIEWS``), patch and :class:`Sight`.
    """
    arrays = stored_nets() if nets is None else nets
    told = np.array([ink / _FULL_INK, ink > 0], np.float32)
    extremes = _log_chances(
        _extremes(small), _extremes(usual[None]), told, arrays=arrays, view="extremes"
    )
    colour = extremes.copy()
    sure = np.full(len(small), plainly_empty)
    if gaps is not None:
        sure[gaps] = max(plainly_empty, _PLAINLY_EMPTY_GAP)
    asked = np.flatnonzero(extremes[:, Sight.EMPTY] < np.log(sure))
    colour[asked] = _log_chances(small[asked], usual[None], told, arrays=arrays, view="colour")
    return np.stack([colour, extremes])


def _extremes(small: Pixels) -> Pixels:
    brightest = np.maximum(np.maximum(small[..., 0], small[..., 1]), small[..., 2])
    return np.stack([darkest_channel(small), brightest], axis=-1)


def _log_chances(
    small: Pixels, usual: Pixels, told: Numbers, *, arrays: Mapping[str, Numbers], view: str
) -> Numbers:
    first, channels = arrays[f"{view}.0.weight"], small.shape[3]
    # The first layer is linear, and the usual target is the same for all: once is enough.
    beside = _convolve(_scaled(usual), first[:, :, channels:], stride=_STRIDES[0])
    beside += arrays[f"{view}.0.bias"]
    logits = np.empty((len(small), len(Sight)), np.float32)
    for start in range(0, len(small), _PORTION):
        portion = slice(start, start + _PORTION)
        x = _convolve(_scaled(small[portion]), first[:, :, :channels], stride=_STRIDES[0])
        logits[portion] = _upper_layers(np.maximum(x + beside, 0.0), told, arrays, view=view)
    logits -= logits.max(axis=1, keepdims=True, initial=-np.inf)
    return np.asarray(logits - np.log(np.exp(logits).sum(axis=1, keepdims=True)), np.float32)


def _scaled(pixels: Pixels) -> Numbers:
    return (np.float32(_PAPER) - pixels) / np.float32(_INK)


def _upper_layers(
    x: Numbers, told: Numbers, arrays: Mapping[str, Numbers], *, view: str
) -> Numbers:
    for place, stride in enumerate(_STRIDES[1:], start=1):
        weight, bias = arrays[f"{view}.{place}.weight"], arrays[f"{view}.{place}.bias"]
        x = np.maximum(_convolve(x, weight, stride=stride) + bias, 0.0)
    x = np.concatenate([x.reshape(len(x), -1), np.tile(told, (len(x), 1))], axis=1)
    x = np.maximum(x @ arrays[f"{view}.4.weight"] + arrays[f"{view}.4.bias"], 0.0)
    return np.asarray(x @ arrays[f"{view}.5.weight"] + arrays[f"{view}.5.bias"], np.float32)


def _convolve(x: Numbers, weight: Numbers, *, stride: int) -> Numbers:
    """Convolve (n, rows, columns, in) with (k, k, in, out), padded to keep its size."""
    side, _, _, n_out = weight.shape
    pad = side // 2
    n, rows, columns, n_in = x.shape
    padded = np.zeros((n, rows + 2 * pad, columns + 2 * pad, n_in), np.float32)
    padded[:, pad : pad + rows, pad : pad + columns] = x
    out_rows, out_columns = (rows - 1) // stride + 1, (columns - 1) // stride + 1
    # A row of a window lies in one piece, all its channels together: copied so, it is quickest.
    image, down, across, channel = padded.strides
    windows = as_strided(
        padded,
        (n, out_rows, out_columns, side, side * n_in),
        (image, down * stride, across * stride, down, channel),
        writeable=False,
    )
    flat = windows.reshape(n * out_rows * out_columns, -1) @ weight.reshape(-1, n_out)
    return flat.reshape(n, out_rows, out_columns, n_out)
