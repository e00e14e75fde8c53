"""What a camera looks for on a sheet, drawn: six tags and two QR codes.

Both are drawn as vectors in black on white: the printed edge lies where ``sheet.py`` says. A QR
code takes the smallest version that holds its text at level M, since a larger cell helps a
blurred photograph more than a higher level does; only a text too long for cells of 0.45 mm at
level M is set at level L. What room is left goes to the highest level that fits.
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache

import segno

from sidelong.paper.sheet_areas import (
    BOX_HEIGHT_MM,
    BOX_WIDTH_MM,
    CODE_MM,
    CODE_PLACES,
    TAG_PLACES,
    Area,
    Sheet,
)
from sidelong.paper.tag_patterns import TAG_PATTERNS
from sidelong.training.sheet_code import SheetCode, write_payload

Cells = tuple[tuple[bool, ...], ...]  # rows of a square pattern, True where it is black

LEAST_CELL_MM = 0.45
_TAG_CELLS = 8  # six of the pattern and a black border on both sides
QUIET_CELLS = 4  # around a QR code (ISO/IEC 18004)


def draw_codes(sheet: Sheet, *, markers: Sequence[int], code: SheetCode) -> str:
    """Draw tags and QR codes of one page.

    Parameters
    ----------
    sheet : Sheet
        Where they stand.
    markers : sequence of int
        Numbers of the six tags, by place.
    code : SheetCode
        What the QR codes say.

    Returns
    -------
    str
        SVG; one unit is one millimetre, from the corner of the box.
    """
    blacks = [
        _black(tag_cells(marker), sheet.areas[place])
        for place, marker in zip(TAG_PLACES, markers, strict=True)
    ]
    cells = code_cells(write_payload(code))
    blacks += [_black(cells, sheet.areas[place]) for place in CODE_PLACES]
    size = f'viewBox="0 0 {BOX_WIDTH_MM} {BOX_HEIGHT_MM}"'
    path = "".join(blacks)
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><path d="{path}" fill="#000"/></svg>'


@lru_cache(maxsize=1024)
def tag_cells(marker: int) -> Cells:
    """Lay out the cells of one tag of the family 36h11.

    Parameters
    ----------
    marker : int
        Its number, 0 to 586.

    Returns
    -------
    tuple of tuple of bool
        8 rows of 8 cells, True where black.
    """
    pattern = TAG_PATTERNS[marker]
    inner = range(1, _TAG_CELLS - 1)
    return tuple(
        tuple(
            row not in inner
            or column not in inner
            or not pattern >> (35 - 6 * (row - 1) - (column - 1)) & 1
            for column in range(_TAG_CELLS)
        )
        for row in range(_TAG_CELLS)
    )


@lru_cache(maxsize=4096)  # a kit prints the codes of its booklets again
def code_cells(payload: str) -> Cells:
    """Lay out the cells of a QR code.

    Parameters
    ----------
    payload : str
        Its text, in the alphanumeric mode of QR codes.

    Returns
    -------
    tuple of tuple of bool
        Rows of cells, True where black; quiet zone left out.
    """
    made = segno.make_qr(payload, mode="alphanumeric", error="m")
    if CODE_MM / len(made.matrix) < LEAST_CELL_MM:
        made = segno.make_qr(payload, mode="alphanumeric", error="l")
    return tuple(tuple(bool(cell) for cell in row) for row in made.matrix)


def _black(cells: Cells, area: Area) -> str:
    """Draw the black cells as part of one path, which leaves no seam between rows."""
    side = area.w / len(cells)
    return "".join(
        f"M{area.x + start * side:.3f} {area.y + row * side:.3f}"
        f"h{(end - start) * side:.3f}v{side:.3f}h{(start - end) * side:.3f}z"
        for row, line in enumerate(cells)
        for start, end in _runs(line)
    )


def _runs(line: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Find where black begins and ends."""
    start = None
    for column, is_black in enumerate([*line, False]):
        if is_black and start is None:
            start = column
        if not is_black and start is not None:
            yield start, column
            start = None
