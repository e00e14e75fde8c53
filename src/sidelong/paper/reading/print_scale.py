"""Whether a sheet was printed at true size: only a scan can tell.

A scan is flat, as large as a sheet of paper, and its pixels are a known part of an inch. A
photograph knows no millimetres, and says so.
"""

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph
from sidelong.paper.reading.mapping import PageMapping
from sidelong.training.layout import SheetPage

Points = NDArray[np.float64]

_MM_PER_INCH = 25.4
_PAPERS_MM = ((210.0, 297.0), (215.9, 279.4), (215.9, 297.0))  # A4, Letter, a flatbed's glass
_USUAL_DPI = (75, 100, 120, 150, 200, 240, 300, 400, 600)
_OFF_PAPER_MM = 6.0
_FLAT = 0.004  # a page held to glass differs less in scale from corner to corner
_STRAIGHT_MM = 0.6


def measure_print_scale(
    photograph: Photograph, mapping: PageMapping, page: SheetPage
) -> float | None:
    """Measure how large a sheet was printed.

    Parameters
    ----------
    photograph : Photograph
        A photograph or scan.
    mapping : PageMapping
        Where the page lies in it, refined.
    page : SheetPage
        The page.

    Returns
    -------
    float or None
        Printed length over true length; None where the image does not tell.
    """
    dpi = scan_dpi(photograph.size, photograph.dpi)
    if dpi is None:
        return None
    places = _places(page)
    seen = mapping.to_photograph(places)
    fitted, off_px = _fit_similarity(places, seen)
    if not _is_flat(mapping, places) or off_px > _STRAIGHT_MM * fitted:
        return None
    return float(fitted * _MM_PER_INCH / dpi)


def scan_dpi(size: tuple[int, int], claimed: float | None) -> float | None:
    """Tell the resolution of a scan of one sheet; None where the image is something else.

    Parameters
    ----------
    size : tuple of int
        Width and height, px.
    claimed : float or None
        Resolution in the file. Cameras write one as well, that means nothing: it is believed
        only where it makes the image as large as a sheet of paper.

    Returns
    -------
    float or None
        Dots per inch. Without a claim, the usual resolution at which the image is as large as a
        sheet of paper to a pixel or two.
    """
    if claimed is not None:
        return claimed if _is_paper(size, claimed, off_mm=_OFF_PAPER_MM) else None
    fitting = [dpi for dpi in _USUAL_DPI if _is_paper(size, dpi, off_mm=2 * _MM_PER_INCH / dpi)]
    return float(fitting[0]) if fitting else None


def _is_paper(size: tuple[int, int], dpi: float, *, off_mm: float) -> bool:
    short, long = sorted(side * _MM_PER_INCH / dpi for side in size)
    return any(abs(short - a) <= off_mm and abs(long - b) <= off_mm for a, b in _PAPERS_MM)


def _places(page: SheetPage) -> Points:
    """Give places all over the printed part of a page, mm; shape (n, 2)."""
    x, y = np.meshgrid(
        np.linspace(0.1, 0.9, 5) * page.width_mm, np.linspace(0.1, 0.9, 7) * page.height_mm
    )
    return np.stack([x.ravel(), y.ravel()], axis=1)


def _is_flat(mapping: PageMapping, places: Points) -> bool:
    scales = np.array([mapping.px_per_mm(place) for place in places])
    return float(np.ptp(scales)) <= _FLAT * float(np.mean(scales))


def _fit_similarity(places: Points, seen: Points) -> tuple[float, float]:
    """Fit one scale and turn by least squares: px per mm, and the largest distance left, px."""
    a = (places - places.mean(axis=0)) @ (1, 1j)
    b = (seen - seen.mean(axis=0)) @ (1, 1j)
    turn = np.vdot(a, b) / np.vdot(a, a)
    return float(abs(turn)), float(np.abs(b - turn * a).max())
