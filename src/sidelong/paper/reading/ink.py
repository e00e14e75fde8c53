"""What ink there is around a target: how dark, how large, and whether light has washed it out."""

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Pixels, darkest_channel
from sidelong.paper.reading.mark_nets import SIDE_PX
from sidelong.paper.reading.patches import PATCH_MM

FAINTEST = 20.0
"""Grey levels by which a mark is darker than an empty target, at least."""

_INK_SHARE, _AROUND_SHARE = 0.96, 0.85
_WORDS = 16  # grey levels of print
_FAINTEST_OUTLINE = 4.0  # grey levels: a scanner that drops the colour shows none anywhere

_DISC_MM, _NEAR_MM, _INSIDE_MM = 5.0, 6.3, 3.2  # an outline is 4 mm away from its centre
_AXIS = (np.arange(SIDE_PX) + 0.5) * PATCH_MM / SIDE_PX - PATCH_MM / 2
_DISTANCE = np.hypot(*np.meshgrid(_AXIS, _AXIS))
_DISC = _DISTANCE < _DISC_MM
_NEAR = _DISTANCE < _NEAR_MM
_INSIDE = _DISTANCE < _INSIDE_MM
_OUTLINE = _NEAR & ~_INSIDE


def measure_ink(
    small: Pixels, usual: Pixels, printed: Pixels | None = None
) -> tuple[float, float, float]:
    """Tell how dark a mark is, how large a far paler part (rubbed out, perhaps), and the rest.

    Parameters
    ----------
    small : ndarray of uint8, shape (42, 42, 3)
        Surroundings of the marked target, 3 px to the millimetre.
    usual : ndarray of uint8, shape (42, 42, 3)
        The usual target of the page.
    printed : ndarray of uint8, shape (42, 42), optional
        The surroundings as they were printed: with them rings around a target are measured too.

    Returns
    -------
    tuple of float
        How much darker than an empty target, grey levels; area of the paler part and of the rest,
        mm2.
    """
    darker = -darkest_channel(small - usual.astype(np.int16))
    depth = max(quantile(darker[_DISC], _INK_SHARE), 0.0)
    if printed is not None:
        words = cv2.dilate(np.uint8(255) - printed, np.ones((3, 3), np.uint8)) > _WORDS
        around = _NEAR & ~_DISC & ~words
        depth = max(depth, quantile(darker[around], _AROUND_SHARE))
    smooth = cv2.blur(darker.astype(np.float32), (2, 2))
    full = quantile(smooth[_NEAR], _INK_SHARE)
    pale = (smooth > 0.1 * full + 5) & (smooth < 0.5 * full) & _NEAR
    # Every stroke has pale edges; what is left after these are taken away is an area.
    core = cv2.erode(pale.astype(np.uint8), np.ones((3, 3), np.uint8))
    dark = (smooth >= 0.5 * full) & (smooth > FAINTEST / 2) & _NEAR
    per_mm2 = (SIDE_PX / PATCH_MM) ** 2
    return depth, float(core.sum()) / per_mm2, float(dark.sum()) / per_mm2


def ink_inside(small: Pixels) -> NDArray[np.float64]:
    """Tell how dark the darkest spot inside each outline is against its paper.

    Parameters
    ----------
    small : ndarray of uint8, shape (n, 42, 42, 3)
        Surroundings of targets.

    Returns
    -------
    ndarray of float, shape (n,)
        Grey levels, 0 or more.
    """
    # One below the other: insides lie too far from the edges to see their neighbours.
    column = cv2.blur(small.reshape(-1, SIDE_PX, 3), (3, 3)).reshape(small.shape)
    dark = -darkest_channel(column[:, _INSIDE]).astype(np.int16)
    darkest, median = np.percentile(dark, (97, 50), axis=1)
    return np.asarray(darkest - median, float)


def outlines_seen(small: Pixels, usual: Pixels) -> NDArray[np.float64]:
    """Tell which share of the usual outline is seen around each target.

    Where light has washed an outline out, it has washed a pencil's mark out with it.

    Parameters
    ----------
    small : ndarray of uint8, shape (n, 42, 42, 3)
        Surroundings of targets.
    usual : ndarray of uint8, shape (42, 42, 3)
        The usual target of the page.

    Returns
    -------
    ndarray of float, shape (n,)
        About 1 where it is seen as usual or lies under ink, 0 where it is not seen; 1 everywhere
        if the page shows no outlines at all.
    """
    usual_paper = _paper_inside(usual[None])
    usual_outline = _darker_around(usual[None], usual_paper)[0]
    strength = float(np.square(usual_outline).sum())
    if strength < usual_outline.size * _FAINTEST_OUTLINE**2:
        return np.ones(len(small))
    paper = _paper_inside(small)
    seen = (_darker_around(small, paper) * usual_outline).sum(axis=(1, 2)) / strength
    is_inked = (usual_paper - paper).max(axis=1) > FAINTEST
    return np.where(is_inked, 1.0, seen)


def quantile(values: NDArray[np.generic], share: float) -> float:
    """Give one quantile, as numpy's own does of any array, but ten times as fast.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One value or more.
    share : float
        0 to 1.

    Returns
    -------
    float
        Between two values it is interpolated.
    """
    place = share * (values.size - 1)
    lower = int(place)
    upper = min(lower + 1, values.size - 1)
    ordered = np.partition(values, (lower, upper))
    low, high = float(ordered[lower]), float(ordered[upper])
    return low + (place - lower) * (high - low)


def _paper_inside(small: Pixels) -> NDArray[np.float32]:
    """Give the paper inside targets, shape (n, 3)."""
    return np.asarray(np.median(small[:, _INSIDE], axis=1), np.float32)


def _darker_around(small: Pixels, paper: NDArray[np.float32]) -> NDArray[np.float32]:
    """Give how much darker what lies around targets is than their paper, shape (n, n_px, 3)."""
    darker: NDArray[np.float32] = np.maximum(paper[:, None] - small[:, _OUTLINE], 0.0)
    return darker
