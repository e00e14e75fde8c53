"""Which page a sheet is: its tags and its QR code must say the same, or a person decides.

Two pages share at most two markers. So three tags that fit one page of the layout, and no tag
against them, tell it; two do only where the QR code, which carries a check of its own, agrees.
Nothing is ever corrected. Tags that are too blurred to be read one by one are weighed together:
they tell the page where it is far before every other that can exist. A sheet without any tag is
told by a code at its place among print that was recognised.
"""

from dataclasses import dataclass

from sidelong.paper.reading.codes import is_of_page
from sidelong.paper.reading.sheets import FoundSheet
from sidelong.training.reading import PageStatus
from sidelong.training.sheet_code import N_TELLING, SheetCode

# Of 148 wrong placements of sheets of both generators none was 5 before the next page that can
# exist; 58 of 64 right ones were more than 10 before it.
SURE_MARGIN = 10.0
_WELL_RECOGNISED = 0.5
_SURE, _TOLD, _LIKELY, _DOUBTFUL = 0.9999, 0.999, 0.9, 0.5


@dataclass(frozen=True)
class Identity:
    """How sure it is which page a sheet is.

    Parameters
    ----------
    status : PageStatus
        ``ok`` or ``unsure_id``.
    confidence : float
        Chance that it is this page.
    """

    status: PageStatus
    confidence: float


def judge_identity(sheet: FoundSheet, code: SheetCode | None, *, share_found: float) -> Identity:
    """Weigh tags and code.

    Parameters
    ----------
    sheet : FoundSheet
        The sheet with its tags.
    code : SheetCode or None
        What its QR code says; None where it cannot be read.
    share_found : float
        Share of the page's print that was recognised, 0 to 1.

    Returns
    -------
    Identity
        Unsure wherever one witness contradicts another, or too few speak.
    """
    n_tags = len(sheet.tags)
    if code is not None and not is_of_page(code, sheet.page):
        return Identity(PageStatus.UNSURE_ID, _DOUBTFUL)
    if sheet.n_against or (code is None and not sheet.is_only):
        return Identity(PageStatus.UNSURE_ID, _DOUBTFUL)
    if not n_tags and share_found < _WELL_RECOGNISED:
        return Identity(PageStatus.UNSURE_ID, _LIKELY)
    if code is not None:
        return Identity(PageStatus.OK, _SURE)
    if sheet.margin is not None and sheet.margin < SURE_MARGIN:
        return Identity(PageStatus.UNSURE_ID, _LIKELY)
    if sheet.margin is not None:
        return Identity(PageStatus.OK, _TOLD)
    if n_tags > N_TELLING:
        return Identity(PageStatus.OK, _SURE)
    if n_tags == N_TELLING:
        return Identity(PageStatus.OK, _TOLD)
    return Identity(PageStatus.UNSURE_ID, _LIKELY)
