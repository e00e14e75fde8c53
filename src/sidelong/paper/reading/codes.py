"""QR codes on a photographed sheet: which page they name."""

import contextlib
from collections.abc import Iterator, Sequence

import numpy as np
import zxingcpp

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
    for reduced_by in (2, 1):
        found = tuple(_read(np.ascontiguousarray(photograph.level(reduced_by)[:, :, 1])))
        if found:
            return found
    return ()


def is_of_page(code: SheetCode, page: SheetPage) -> bool:
    """Tell whether a code is the one that is printed on a page."""
    named = (page.trainee, page.course or 1, page.version or 1, printed_night(page), page.part)
    return named == (code.trainee, code.course, code.version, code.night, code.part)


def printed_night(page: SheetPage) -> int | None:
    """Give the night that a page's code names: the spare sheet has a number of its own there."""
    if page.night is not None:
        return page.night
    told = recognise_markers(marker.id for marker in page.markers)
    return None if told is None else told[0]


def _read(grey: Pixels) -> Iterator[SheetCode]:
    """Read codes of ours; those of other makers, and damaged ones, are left out."""
    found = zxingcpp.read_barcodes(
        grey,
        formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode),
        try_rotate=True,
        try_downscale=True,
    )
    for each in found:
        with contextlib.suppress(ValueError):
            yield read_payload(each.text)
