"""What a page looks like where its PDF is missing: set again, with the words it probably has.

Words are most of what a curled sheet is laid flat by. All of them but a site's own names for the
positions, its emergency number and the size of the piece follow from what a layout or a sheet's
code says; a word that is different is a square that is not found, and is left out. A blank beside
it shows ink that should not be there, and goes to a person.
"""

from dataclasses import replace
from pathlib import Path

from sidelong.paper.booklet import make_sheet_again
from sidelong.paper.images import Pixels
from sidelong.paper.reading.reference import (
    REFERENCE_PX_PER_MM,
    PrintedPages,
    open_printed_pages,
)
from sidelong.problems import Refused
from sidelong.training.layout import SheetPage
from sidelong.training.protocol import Protocol

_CAUTIONS_MM = 2.5  # how far they reach up above the lowest markers


class PagesSetAgain(PrintedPages):
    """The pages of a kit whose PDF is not at hand.

    Parameters
    ----------
    protocol : Protocol
        Whose words are taken.
    """

    def __init__(self, protocol: Protocol) -> None:
        super().__init__(None)
        self._protocol = protocol
        self._last: tuple[SheetPage, Pixels | None] | None = None  # it is asked for twice

    def render(self, page: SheetPage) -> Pixels | None:
        """Give one page in colour, as :meth:`PrintedPages.render` does."""
        if self._last is None or self._last[0] != page:
            self._last = page, self._set(page)
        return self._last[1]

    def darkest(self, page: SheetPage) -> Pixels | None:
        """Give the darkest of the three channels of one page; its foot is black.

        Parameters
        ----------
        page : SheetPage
            Which one.

        Returns
        -------
        ndarray of uint8, shape (rows, columns), or None
            As :meth:`PrintedPages.darkest` gives it. A site's own cautions and number stand at
            the foot: any ink there may be print.
        """
        darkest = super().darkest(page)
        if darkest is not None and page.markers:
            lowest = max(marker.box.y for marker in page.markers)
            darkest[round((lowest - _CAUTIONS_MM) * REFERENCE_PX_PER_MM) :] = 0
        return darkest

    def _set(self, page: SheetPage) -> Pixels | None:
        try:
            pdf = make_sheet_again(page, protocol=self._protocol)
        except Refused:  # a language that this version does not have
            return None
        return None if pdf is None else PrintedPages(pdf).render(replace(page, pdf_page=0))


def open_or_set_again(path: Path, *, protocol: Protocol) -> PrintedPages:
    """Open a kit's PDF; where it is missing or damaged, pages are set again.

    Parameters
    ----------
    path : Path
        Where it should lie.
    protocol : Protocol
        Whose words are taken where it does not.

    Returns
    -------
    PrintedPages
        Ready to lay photographs on.
    """
    printed = open_printed_pages(path)
    return printed if printed.has_pdf else PagesSetAgain(protocol)
