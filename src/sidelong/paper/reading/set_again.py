"""What a page looks like where its PDF is missing: set again, with the words it probably has.

Words are most of what a curled sheet is laid flat by. All of them but a site's own names for the
positions, its emergency number and the size of the piece follow from what a layout or a sheet's
code says; a word that is different is a square that is not found, and is left out.
"""

from dataclasses import replace
from pathlib import Path

from sidelong.paper.booklet import make_sheet_again
from sidelong.paper.images import Pixels
from sidelong.paper.reading.reference import PrintedPages, open_printed_pages
from sidelong.problems import Refused
from sidelong.training.layout import SheetPage
from sidelong.training.protocol import Protocol


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

    def grey(self, page: SheetPage) -> Pixels:
        """Give one page in grey, as :meth:`PrintedPages.grey` does."""
        try:
            pdf = make_sheet_again(page, protocol=self._protocol)
        except Refused:  # a language that this version does not have
            pdf = None
        if pdf is None:
            return super().grey(page)
        return PrintedPages(pdf).grey(replace(page, pdf_page=0))


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
