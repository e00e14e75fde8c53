"""What a page should look like, in grey: rendered from the kit's PDF, or drawn from its layout."""

from collections.abc import Callable, Sequence
from pathlib import Path

import cv2
import numpy as np
import pypdfium2 as pdfium

from sidelong.paper.images import Pixels, darkest_channel
from sidelong.paper.reading.mark_nets import SIDE_PX
from sidelong.training.layout import SheetPage, Target, TargetKind

REFERENCE_PX_PER_MM = 3.0

Reference = Callable[[SheetPage], Pixels]


class PrintedPages:
    """The pages of a kit, rendered when they are asked for.

    Parameters
    ----------
    pdf : bytes or None
        The kit's PDF; None where it is not at hand, and pages are drawn from their layout.

    Raises
    ------
    pdfium.PdfiumError
        If it is no PDF.
    """

    def __init__(self, pdf: bytes | None) -> None:
        self._document = None if pdf is None else pdfium.PdfDocument(pdf)
        self._rendered: tuple[int, Pixels] | None = None  # the last one: it is asked for twice

    @property
    def has_pdf(self) -> bool:
        """Whether pages are as they were printed."""
        return self._document is not None

    def grey(self, page: SheetPage) -> Pixels:
        """Give one page in grey.

        Parameters
        ----------
        page : SheetPage
            Which one.

        Returns
        -------
        ndarray of uint8, shape (rows, columns)
            ``REFERENCE_PX_PER_MM`` pixels a millimetre.
        """
        rendered = self.render(page)
        return draw_page(page) if rendered is None else as_grey(rendered)

    def darkest(self, page: SheetPage) -> Pixels | None:
        """Give the darkest of the three channels of one page.

        Parameters
        ----------
        page : SheetPage
            Which one.

        Returns
        -------
        ndarray of uint8, shape (rows, columns), or None
            ``REFERENCE_PX_PER_MM`` pixels a millimetre; None where only its layout is known: a page
            drawn from that has no words.
        """
        rendered = self.render(page)
        return None if rendered is None else darkest_channel(rendered)

    def render(self, page: SheetPage) -> Pixels | None:
        """Give one page in colour.

        Parameters
        ----------
        page : SheetPage
            Which one.

        Returns
        -------
        ndarray of uint8, shape (rows, columns, 3), or None
            ``REFERENCE_PX_PER_MM`` pixels a millimetre, RGB; None where no PDF is at hand.
        """
        if self._document is None or page.pdf_page >= len(self._document):
            return None
        if self._rendered is None or self._rendered[0] != page.pdf_page:
            scale = REFERENCE_PX_PER_MM * 25.4 / 72
            bitmap = self._document[page.pdf_page].render(scale=scale, rev_byteorder=True)
            pixels, shape = bitmap.to_numpy()[:, :, :3], _shape(page)
            if pixels.shape[:2] != shape:
                pixels = cv2.resize(pixels, shape[::-1])
            self._rendered = page.pdf_page, np.array(pixels, np.uint8)
        return self._rendered[1]


def as_grey(pixels: Pixels) -> Pixels:
    """Take the green channel: it sees the pale orange of the outlines, and least noise."""
    return np.ascontiguousarray(pixels[:, :, 1])


def cut_printed(darkest: Pixels, places: Sequence[Target]) -> Pixels:
    """Cut the surroundings of places out of a printed page, as patches show them.

    Parameters
    ----------
    darkest : ndarray of uint8, shape (rows, columns)
        As :meth:`PrintedPages.darkest` gives it.
    places : sequence of Target
        Where.

    Returns
    -------
    ndarray of uint8, shape (n_places, 42, 42)
        3 px to the millimetre; white off the page.
    """
    margin, size = SIDE_PX, (SIDE_PX, SIDE_PX)
    wide = np.pad(darkest, margin, constant_values=255)
    middles = [
        (
            place.cx * REFERENCE_PX_PER_MM + margin - 0.5,
            place.cy * REFERENCE_PX_PER_MM + margin - 0.5,
        )
        for place in places
    ]
    return np.stack([np.asarray(cv2.getRectSubPix(wide, size, at), np.uint8) for at in middles])


def draw_page(page: SheetPage) -> Pixels:
    """Draw outlines, boxes and markers of a page, without words.

    Parameters
    ----------
    page : SheetPage
        Where everything lies.

    Returns
    -------
    ndarray of uint8, shape (rows, columns)
        ``REFERENCE_PX_PER_MM`` pixels a millimetre.
    """
    # Drawn four times as fine, so that lines a third of a millimetre thin come out grey.
    finer = 4
    scale = REFERENCE_PX_PER_MM * finer
    rows, columns = _shape(page)
    canvas = np.full((rows * finer, columns * finer), 255, np.uint8)
    thin = round(0.35 * scale)
    for field in page.fields:
        for target in field.targets:
            middle = (round(target.cx * scale), round(target.cy * scale))
            half = (round((target.w - 0.35) / 2 * scale), round((target.h - 0.35) / 2 * scale))
            if target.kind is TargetKind.CIRCLE:
                cv2.ellipse(canvas, middle, half, 0, 0, 360, 131, thin)
            else:
                corner = (middle[0] - half[0], middle[1] - half[1])
                cv2.rectangle(canvas, (*corner, 2 * half[0], 2 * half[1]), 131, thin)
    for box in (*page.note_boxes, *page.free_boxes):
        x, y, w, h = (round(each * scale) for each in (box.x, box.y, box.w, box.h))
        cv2.rectangle(canvas, (x, y, w, h), 48, thin)
    for marker in page.markers:
        box = marker.box
        x, y, w, h = (round(each * scale) for each in (box.x, box.y, box.w, box.h))
        cv2.rectangle(canvas, (x, y, w, h), 0, -1)
    return np.asarray(cv2.resize(canvas, (columns, rows), interpolation=cv2.INTER_AREA), np.uint8)


def open_printed_pages(path: Path) -> PrintedPages:
    """Open a kit's PDF; where it is missing or damaged, pages are drawn from their layout."""
    try:
        return PrintedPages(path.read_bytes())
    except (OSError, pdfium.PdfiumError):
        return PrintedPages(None)


def _shape(page: SheetPage) -> tuple[int, int]:
    rows = round(page.height_mm * REFERENCE_PX_PER_MM)
    return rows, round(page.width_mm * REFERENCE_PX_PER_MM)
