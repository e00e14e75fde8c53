"""The layout of a sheet from what its QR code says, without the kit that it was printed from.

The code names trainee, course, version, night, order, form of rating, language and page: all that
the places of the marks follow from. It does not say on which paper the sheet was printed, and need
not: on both, marks and tags stand at the same places of the same box.
"""

from sidelong.paper.language import runs_right_to_left
from sidelong.paper.large_sheet import lay_out_large_sheets
from sidelong.paper.night_sheets import sheet_name
from sidelong.paper.sheet import as_spare, lay_out_sheet
from sidelong.paper.sheet_areas import Paper
from sidelong.paper.sheet_page import sheet_page
from sidelong.training.layout import SheetPage
from sidelong.training.sheet_code import SPARE_NIGHT, SheetCode, booklet_key, marker_ids

MOST_ATTEMPTS = 4  # numbers among the markers that a booklet takes where earlier ones are taken


def rebuild_page(code: SheetCode, *, key: int, pdf_page: int = 0) -> SheetPage:
    """Lay out a sheet again from its code.

    Parameters
    ----------
    code : SheetCode
        What the sheet's QR code says.
    key : int
        The booklet's number among the markers, 0 to 9408; the code does not say it.
    pdf_page : int
        Place among the pages that are put together, from 0.

    Returns
    -------
    SheetPage
        In the frame of A4: a sheet on other paper lies in it moved by a few millimetres.
    """
    turned = runs_right_to_left(code.language)
    if code.part:
        sheets = lay_out_large_sheets(code.order, scale=code.scale, right_to_left=turned)
        sheet = sheets[code.part - 1]
    else:
        sheet = lay_out_sheet(code.order, scale=code.scale, right_to_left=turned)
    if code.night == SPARE_NIGHT:
        sheet = as_spare(sheet, right_to_left=turned)
    return sheet_page(
        sheet,
        paper=Paper.A4,
        page_id=sheet_name(
            code.trainee,
            course=code.course,
            version=code.version,
            night=code.night,
            part=code.part,
            booklet=code.booklet,
        ),
        pdf_page=pdf_page,
        code=code,
        markers=marker_ids(code.night, key),
    )


def likely_keys(code: SheetCode) -> tuple[int, ...]:
    """List the numbers among the markers that a sheet's booklet takes, the likeliest first.

    Parameters
    ----------
    code : SheetCode
        What its QR code says.

    Returns
    -------
    tuple of int
        Those of a booklet whose table has few others.
    """
    name = f"{code.trainee}/2" if code.part == 2 else code.trainee
    n_attempts = MOST_ATTEMPTS + code.booklet - 1  # each print of a plan version takes a number
    return tuple(
        booklet_key(name, code.course, code.version, attempt=attempt)
        for attempt in range(n_attempts)
    )
