"""Setting up a reader: for one layout, or for whatever sheets say about themselves."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from time import process_time

import cv2
import numpy as np

from sidelong.paper.images import Photograph
from sidelong.paper.reading.codes import find_codes, read_page_code
from sidelong.paper.reading.mapping import flat_mapping
from sidelong.paper.reading.marks import judge_fields, watched_places
from sidelong.paper.reading.reader import Judge, Places, Reader, SheetSeen
from sidelong.paper.reading.rebuilding import likely_keys, rebuild_page
from sidelong.paper.reading.reference import PrintedPages, open_printed_pages
from sidelong.paper.reading.sheets import PageIndex, match_page
from sidelong.paper.reading.tags import FoundTag, find_tags
from sidelong.training.layout import Layout, SheetPage
from sidelong.training.position import Position
from sidelong.training.reading import ImageReading
from sidelong.training.sheet_code import (
    EXAMPLE_NIGHT,
    N_TELLING,
    SheetCode,
    marker_ids,
    recognise_markers,
)


def open_reader(layout: Layout, *, folder: Path) -> Reader:
    """Set up a reader with the classifier that ships with the program.

    Parameters
    ----------
    layout : Layout
        Pages that may be met.
    folder : Path
        Where the layout lies; its PDF beside it makes curled sheets easier to lay flat.

    Returns
    -------
    Reader
        Ready for photographs.
    """
    # Pictures are small: threads of OpenCV would wait for each other more than they work.
    cv2.setNumThreads(1)
    printed = open_printed_pages(folder / layout.pdf)
    return Reader(PageIndex(layout.pages), printed=printed)


class CodeReader:
    """Reads sheets without a layout: each is laid out again from its QR code.

    Parameters
    ----------
    judge : callable
        As of :class:`Reader`.
    places : callable
        As of :class:`Reader`.
    """

    def __init__(self, *, judge: Judge = judge_fields, places: Places = watched_places) -> None:
        cv2.setNumThreads(1)
        self._judge = judge
        self._places = places
        self.pages: dict[str, SheetPage] = {}

    def read(self, photograph: Photograph) -> tuple[ImageReading, tuple[SheetSeen, ...]]:
        """Read one photograph.

        Parameters
        ----------
        photograph : Photograph
            A photograph or scan.

        Returns
        -------
        reading : ImageReading
            Without pages where no code of ours could be read.
        seen : tuple of SheetSeen
            The same pages, to cut from.
        """
        start = process_time()
        pages = dict(self._pages_of(photograph))
        if not pages:
            return ImageReading(photograph.name, (), process_time() - start), ()
        index = PageIndex(tuple(pages.values()))
        printed = PrintedPages(None)
        reader = Reader(index, printed=printed, judge=self._judge, places=self._places)
        reading, seen = reader.read(photograph)
        for page in reading.pages:
            known = pages[page.page_id]
            self.pages.setdefault(page.page_id, replace(known, pdf_page=len(self.pages)))
        return replace(reading, seconds=process_time() - start), seen

    def _pages_of(self, photograph: Photograph) -> Iterator[tuple[str, SheetPage]]:
        """Lay out every sheet whose code can be read in the photograph."""
        tags = find_tags(photograph)
        codes = [seen.code for seen in find_codes(photograph)] or [*_by_tags(photograph, tags)]
        for place, code in enumerate(dict.fromkeys(codes)):
            if code.night != EXAMPLE_NIGHT:
                page = rebuild_page(code, key=_key_of(code, tags), pdf_page=place)
                yield page.page_id, page


def _key_of(code: SheetCode, tags: Sequence[FoundTag]) -> int:
    """Find the booklet's number whose markers are seen; the likeliest one where none are."""
    seen = {tag.id for tag in tags}
    keys = [*likely_keys(code)]
    told = recognise_markers(seen)
    if told is not None and told[0] == code.night:
        keys.append(told[1])
    return max(keys, key=lambda key: len(seen & set(marker_ids(code.night, key))))


def _by_tags(photograph: Photograph, tags: Sequence[FoundTag]) -> Iterator[SheetCode]:
    """Read a code that is too small to be found, where the tags of a single sheet say it is."""
    told = recognise_markers({tag.id for tag in tags})
    if told is None or len(tags) < N_TELLING:
        return
    night, key = told
    for language in ("en", "ar"):  # where lines run from right to left the codes change sides
        blank = SheetCode("X", 1, 1, night, tuple(Position), language)
        page = rebuild_page(blank, key=key)
        sheet = match_page(page, tags)
        if sheet is not None:
            size = (page.width_mm, page.height_mm)
            mapping = flat_mapping(np.asarray(sheet.homography), size)
            code = read_page_code(photograph, mapping, page.codes)
            if code is not None and code.night == night:
                yield code
                return
