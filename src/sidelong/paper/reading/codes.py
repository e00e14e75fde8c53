"""QR codes on a photographed sheet: which page they name."""

import contextlib
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

_AROUND_MM = 5.0
_CROP_PX_PER_MM = 6.0


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
        for code in _read(crop):
            return code
    return None


def read_codes(photograph: Photograph) -> tuple[SheetCode, ...]:
    """Read all codes of ours anywhere in a photograph, to name what no page was found for.

    Parameters
    ----------
    photograph : Photograph
        The photograph.

    Returns
    -------
    tuple of SheetCode
        Empty where none can be read; a code twice where a sheet shows it twice.
    """
    return tuple(each.code for each in find_codes(photograph))


@dataclass(frozen=True)
class SeenCode:
    """One code in a photograph.

    Parameters
    ----------
    code : SheetCode
        What it says.
    corners : ndarray of float, shape (4, 2)
        Its outer corners, px of the whole photograph: those printed top left, top right, bottom
        right, bottom left.
    """

    code: SheetCode
    corners: NDArray[np.float64]


def find_codes(photograph: Photograph) -> tuple[SeenCode, ...]:
    """Find all codes of ours in a photograph: in a copy half as fine, else in the whole.

    Parameters
    ----------
    photograph : Photograph
        The photograph.

    Returns
    -------
    tuple of SeenCode
        Empty where none can be read.
    """
    for level in (2, 1):
        grey = np.ascontiguousarray(photograph.level(level)[:, :, 1])
        found = tuple(
            SeenCode(code, (corners + 0.5) * level - 0.5) for code, corners in _find(grey)
        )
        if found:
            return found
    return ()


def is_of_page(code: SheetCode, page: SheetPage) -> bool:
    """Tell whether a code is the one that is printed on a page."""
    named = (page.trainee, page.course or 1, page.version or 1, printed_night(page), page.part)
    is_named = named == (code.trainee, code.course, code.version, code.night, code.part)
    # Codes of later booklets used to say nothing about that; 1 speaks against none of them.
    return is_named and code.booklet in (1, page.booklet)


def printed_night(page: SheetPage) -> int | None:
    """Give the night that a page's code names: the spare sheet has a number of its own there."""
    if page.night is not None:
        return page.night
    told = recognise_markers(marker.id for marker in page.markers)
    return None if told is None else told[0]


def _read(grey: Pixels) -> Iterator[SheetCode]:
    for code, _ in _find(grey):
        yield code


def _find(grey: Pixels) -> Iterator[tuple[SheetCode, NDArray[np.float64]]]:
    """Find codes of ours with their corners; those of other makers, and damaged ones, not."""
    found = zxingcpp.read_barcodes(
        grey,
        formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode),
        try_rotate=True,
        try_downscale=True,
    )
    for each in found:
        at = each.position
        ends = (at.top_left, at.top_right, at.bottom_right, at.bottom_left)
        with contextlib.suppress(ValueError):
            yield read_payload(each.text), np.array([(end.x, end.y) for end in ends], float)
