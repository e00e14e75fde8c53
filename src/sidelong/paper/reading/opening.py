"""Setting up a reader: for one layout, or for whatever sheets say about themselves."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from sidelong.paper.images import Photograph
from sidelong.paper.reading.codes import find_codes, read_page_code
from sidelong.paper.reading.mapping import flat_mapping
from sidelong.paper.reading.marks import judge_fields, watched_places
from sidelong.paper.reading.reader import Judge, Places, Reader
from sidelong.paper.reading.rebuilding import likely_keys, rebuild_page
from sidelong.paper.reading.set_again import PagesSetAgain, open_or_set_again
from sidelong.paper.reading.sheets import PageIndex, Points, match_page
from sidelong.paper.reading.tags import FoundTag, find_tags
from sidelong.training.layout import Layout, SheetPage
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.sheet_code import (
    EXAMPLE_NIGHT,
    N_TELLING,
    SheetCode,
    marker_ids,
    recognise_markers,
)


def open_reader(layout: Layout, *, folder: Path, protocol: Protocol) -> Reader:
    """Set up a reader with the classifier that ships with the program.

    Parameters
    ----------
    layout : Layout
        Pages that may be met.
    folder : Path
        Where the layout lies, with its PDF.
    protocol : Protocol
        Whose words pages are set again with where the PDF is missing.

    Returns
    -------
    Reader
        Ready for photographs.
    """
    # Pictures are small: threads of OpenCV would wait for each other more than they work.
    cv2.setNumThreads(1)
    printed = open_or_set_again(folder / layout.pdf, protocol=protocol)
    return Reader(PageIndex(layout.pages), printed=printed)


class CodeReader(Reader):
    """Reads sheets without a layout: each is laid out again from its QR code.

    Parameters
    ----------
    protocol : Protocol
        Whose words pages are set again with, to lay photographs on them.
    judge, places : callable
        As of :class:`Reader`.
    """

    def __init__(
        self, protocol: Protocol, *, judge: Judge = judge_fields, places: Places = watched_places
    ) -> None:
        cv2.setNumThreads(1)
        printed = PagesSetAgain(protocol)
        super().__init__(PageIndex(()), printed=printed, judge=judge, places=places)
        self.pages: dict[str, SheetPage] = {}

    def _pages_in(self, photograph: Photograph) -> PageIndex:
        """Lay out every sheet whose code can be read in the photograph."""
        index = PageIndex([*_rebuild_pages(photograph)])
        for page in index.pages:
            self.pages.setdefault(page.page_id, replace(page, pdf_page=len(self.pages)))
        return index


def _rebuild_pages(photograph: Photograph) -> Iterator[SheetPage]:
    tags = find_tags(photograph)
    codes: list[tuple[SheetCode, Points | None]] = [
        (seen.code, seen.corners.mean(axis=0)) for seen in find_codes(photograph)
    ]
    codes = codes or [(code, None) for code in _by_tags(photograph, tags)]
    keyed = ((code, _key_of(code, at, tags)) for code, at in codes if code.night != EXAMPLE_NIGHT)
    for code, key in dict.fromkeys(keyed):
        yield rebuild_page(code, key=key)


def _key_of(code: SheetCode, at: Points | None, tags: Sequence[FoundTag]) -> int:
    """Find the booklet's number whose markers are seen; the likeliest one where none are."""
    seen = {tag.id for tag in tags}
    keys = [*likely_keys(code)]
    told = recognise_markers(seen)
    if told is not None and told[0] == code.night:
        keys.append(told[1])
    n_seen = {key: len(seen & set(marker_ids(code.night, key))) for key in keys}
    fitting = [key for key in keys if n_seen[key] >= N_TELLING]
    if at is not None and len(fitting) > 1:  # sheets of several booklets: which has this code?
        for key in fitting:
            sheet = match_page(rebuild_page(code, key=key), tags)
            if sheet is not None and sheet.covers(at):
                return key
    return max(keys, key=lambda key: n_seen[key])


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
