"""QR codes on a photographed sheet: which page they name, and where they lie."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import zxingcpp
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels
from sidelong.paper.reading.flattening import lay_flat
from sidelong.paper.reading.mapping import PageMapping
from sidelong.training.layout import Box, SheetPage
from sidelong.training.sheet_code import SheetCode, read_payload, recognise_markers

Points = NDArray[np.float64]

_AROUND_MM = 5.0
_CROP_PX_PER_MM = 6.0


@dataclass(frozen=True)
class FoundCode:
    """One QR code of ours in a photograph.

    Parameters
    ----------
    code : SheetCode
        What it says; its check was right.
    corners : ndarray of float, shape (4, 2)
        Printed top left, top right, bottom right, bottom left, px of the whole photograph.
    """

    code: SheetCode
    corners: Points


def find_codes(photograph: Photograph, *, reduced_by: int) -> tuple[FoundCode, ...]:
    """Find our QR codes anywhere in a photograph.

    Parameters
    ----------
    photograph : Photograph
        Where to look.
    reduced_by : int
        Which copy to look in.

    Returns
    -------
    tuple of FoundCode
        Codes of other makers, and damaged ones, are left out.
    """
    grey = np.ascontiguousarray(photograph.level(reduced_by)[:, :, 1])
    return tuple(
        FoundCode(code, (corners + 0.5) * reduced_by - 0.5) for code, corners in _read(grey)
    )


def read_page_code(
    photograph: Photograph, mapping: PageMapping, boxes: Sequence[Box]
) -> SheetCode | None:
    """Read the first code that can be read at the places where a page has them.

    Parameters
    ----------
    photograph : Photograph
        The photograph.
    mapping : PageMapping
        Where the page lies in it.
    boxes : sequence of Box
        Places of its codes, mm.

    Returns
    -------
    SheetCode or None
        None where none of them can be read.
    """
    for box in boxes:
        side = 2 * _AROUND_MM
        around = Box(box.x - _AROUND_MM, box.y - _AROUND_MM, box.w + side, box.h + side)
        scale = min(_CROP_PX_PER_MM, mapping.px_per_mm(np.array([box.x, box.y])))
        crop = lay_flat(photograph, mapping, area=around, px_per_mm=max(scale, 3.0), channel=1)
        for code, _ in _read(crop):
            return code
    return None


def is_of_page(code: SheetCode, page: SheetPage) -> bool:
    """Tell whether a code is the one that is printed on a page."""
    named = (page.trainee, page.course or 1, page.version or 1, printed_night(page))
    return named == (code.trainee, code.course, code.version, code.night)


def printed_night(page: SheetPage) -> int | None:
    """Give the night that a page's code names: the spare sheet has a number of its own there."""
    if page.night is not None:
        return page.night
    told = recognise_markers(marker.id for marker in page.markers)
    return None if told is None else told[0]


def _read(grey: Pixels) -> Iterator[tuple[SheetCode, Points]]:
    found = zxingcpp.read_barcodes(
        grey,
        formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode),
        try_rotate=True,
        try_downscale=True,
    )
    for each in found:
        try:
            code = read_payload(each.text)
        except ValueError:
            continue
        place = each.position
        corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
        yield code, np.array([[corner.x, corner.y] for corner in corners], float)
