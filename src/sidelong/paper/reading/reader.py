"""One photograph from pixels to readings: find, recognise, lay flat, cut, judge."""

import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sidelong.paper.images import Photograph, Pixels
from sidelong.paper.reading.codes import read_page_code
from sidelong.paper.reading.finding import find_sheets
from sidelong.paper.reading.identity import judge_identity
from sidelong.paper.reading.loose_ink import LooseInk
from sidelong.paper.reading.mapping import flat_mapping
from sidelong.paper.reading.marks import judge_fields, watched_places
from sidelong.paper.reading.patches import FieldContext, PageView, cut_patches, view_page
from sidelong.paper.reading.print_scale import measure_print_scale
from sidelong.paper.reading.reference import PrintedPages, cut_printed
from sidelong.paper.reading.registration import Likeness, bend_to_tags, confirm, register
from sidelong.paper.reading.sheets import FoundSheet, PageIndex
from sidelong.training.layout import Field, SheetPage, Target
from sidelong.training.reading import FieldReading, ImageReading, PageReading, PageStatus
from sidelong.training.sheet_code import N_TELLING

Judge = Callable[[Sequence[Pixels], Sequence[FieldContext]], Sequence[FieldReading]]
Places = Callable[[Field], Sequence[Target]]

_LEAST_REGISTERED = 0.35  # share of printed squares recognised; with less nothing is accepted


@dataclass(frozen=True)
class SheetSeen:
    """One sheet of a photograph: where it lies, and what it says.

    Parameters
    ----------
    view : PageView
        For cutting out what a person must look at.
    reading : PageReading
        What was read.
    number : int
        Which one of its page in the photograph, the surest being 1: a spare sheet may have been
        copied, or a night printed twice.
    """

    view: PageView
    reading: PageReading
    number: int = 1


class Reader:
    """Reads photographs of the pages of one layout.

    Parameters
    ----------
    index : PageIndex
        Pages that may be met.
    printed : PrintedPages
        What they look like.
    judge : callable
        Says what the fields of a page mean: takes patches and contexts by field.
    places : callable
        Lists where the judge of a field looks; its targets come first.
    """

    def __init__(
        self,
        index: PageIndex,
        *,
        printed: PrintedPages,
        judge: Judge = judge_fields,
        places: Places = watched_places,
    ) -> None:
        self._index = index
        self._places = places
        self._printed = printed
        self._judge = judge

    def read(self, photograph: Photograph) -> tuple[ImageReading, tuple[SheetSeen, ...]]:
        """Read one photograph.

        Parameters
        ----------
        photograph : Photograph
            A photograph or scan.

        Returns
        -------
        reading : ImageReading
            Every page once, the surest print of it; without pages where no sheet was found.
        seen : tuple of SheetSeen
            The same, and further prints of those pages, to cut from.
        """
        start = time.process_time()
        laid: dict[str, list[FoundSheet]] = defaultdict(list)
        seen = []
        for sheet in find_sheets(photograph, self._pages_in(photograph)):
            others = laid[sheet.page.page_id]
            if any(_is_same(sheet, other) for other in others):
                continue  # one sheet, found by some of its tags and again by others
            others.append(sheet)
            seen.append(replace(self._read_sheet(photograph, sheet), number=len(others)))
        pages = tuple(each.reading for each in seen if each.number == 1)
        seconds = time.process_time() - start
        return ImageReading(photograph.name, pages, seconds), tuple(seen)

    def _pages_in(self, photograph: Photograph) -> PageIndex:
        """Say which pages a photograph may show."""
        return self._index

    def _read_sheet(self, photograph: Photograph, sheet: FoundSheet) -> SheetSeen:
        page = sheet.page
        mapping = flat_mapping(sheet.homography, (page.width_mm, page.height_mm))
        mapping = bend_to_tags(mapping, sheet)
        original = self._printed.grey(page)
        mapping, likeness = register(mapping, photograph, page, original)
        # One code is witness enough where four tags agree; the other one only costs time.
        codes = page.codes[:1] if len(sheet.tags) > N_TELLING else page.codes
        code = read_page_code(photograph, mapping, codes)
        identity = judge_identity(sheet, code, share_found=likeness.share_found)
        view = view_page(photograph, sheet, mapping)
        # Without a single tag nobody knows how sharp the photograph is.
        is_measured = likeness.share_found >= _LEAST_REGISTERED and bool(sheet.tags)
        may_accept = identity.status is PageStatus.OK and is_measured
        placed = _well_placed(page, likeness)
        if may_accept and len(placed) < len(page.fields):
            placed = _well_placed(page, confirm(mapping, photograph, page, original))
        fields = {
            name: reading if may_accept and name in placed else replace(reading, accepted=False)
            for name, reading in self._judge_fields(view).items()
        }
        scale = measure_print_scale(photograph, mapping, page)
        status, confidence = identity.status, identity.confidence
        return SheetSeen(view, PageReading(page.page_id, status, confidence, fields, scale))

    def _judge_fields(self, view: PageView) -> dict[str, FieldReading]:
        places = [tuple(self._places(field)) for field in view.page.fields]
        together = [place for each in places for place in each]
        patches, visible = cut_patches(view, together)
        ends = np.cumsum([len(each) for each in places])[:-1]
        darkest = self._printed.darkest(view.page)
        printed = (
            [None] * len(places)
            if darkest is None
            else np.split(cut_printed(darkest, together), ends)
        )
        contexts = [
            FieldContext(field, view.quality, seen, original)
            for field, seen, original in zip(
                view.page.fields, np.split(visible, ends), printed, strict=True
            )
        ]
        readings = self._judge(np.split(patches, ends), contexts)
        read = dict(zip((field.id for field in view.page.fields), readings, strict=True))
        return read if darkest is None else _without_loose_ink(view, darkest, read)


def _well_placed(page: SheetPage, likeness: Likeness) -> set[str]:
    """Name the fields beside all of whose targets print was recognised."""
    # Elsewhere, in the dark of a curled edge, a mark may be read as its neighbour's.
    boxes = (*page.note_boxes, *page.free_boxes)
    placed = set()
    for field in page.fields:
        places = np.array([(target.cx, target.cy) for target in field.targets])
        if likeness.vouches_for(places, written_on=boxes).all():
            placed.add(field.id)
    return placed


def _without_loose_ink(
    view: PageView, darkest: Pixels, read: dict[str, FieldReading]
) -> dict[str, FieldReading]:
    """Leave a blank to a person if a mark lies beside its targets, on a word or a drawing."""
    blanks = [field for field in view.page.fields if _is_used_blank(read[field.id])]
    if not blanks:
        return read
    marked = {
        target.id
        for field in view.page.fields
        for target in field.targets
        if read[field.id].value == target.value
    }
    loose = LooseInk(view, darkest, marked=marked)
    doubtful = [field.id for field in blanks if loose.lies_at(field)]
    return read | {name: replace(read[name], accepted=False) for name in doubtful}


def _is_used_blank(reading: FieldReading) -> bool:
    return reading.accepted and not reading.value


def _is_same(sheet: FoundSheet, other: FoundSheet) -> bool:
    """Tell whether two sheets lie at one place."""
    middles = sheet.corners.mean(axis=0), other.corners.mean(axis=0)
    return other.covers(middles[0]) or sheet.covers(middles[1])
