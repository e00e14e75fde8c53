"""One photograph from pixels to readings: find, recognise, lay flat, cut, judge."""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.images import Photograph, Pixels
from sidelong.paper.reading.codes import read_page_code
from sidelong.paper.reading.identity import judge_identity
from sidelong.paper.reading.mapping import flat_mapping, project
from sidelong.paper.reading.marks import judge_fields, watched_places
from sidelong.paper.reading.patches import FieldContext, PageView, cut_patches, view_page
from sidelong.paper.reading.print_scale import measure_print_scale
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.registration import bend_to_tags, register
from sidelong.paper.reading.sheets import FoundSheet, PageIndex, gather_sheets, with_more_tags
from sidelong.paper.reading.tags import (
    FoundTag,
    find_hidden_tags,
    find_tags,
    find_tags_near,
    merge,
    search_level,
)
from sidelong.training.layout import Field, Target
from sidelong.training.reading import FieldReading, ImageReading, PageReading, PageStatus
from sidelong.training.sheet_code import N_TELLING

Judge = Callable[[Sequence[Pixels], Sequence[FieldContext]], Sequence[FieldReading]]
Places = Callable[[Field], Sequence[Target]]

_LEAST_REGISTERED = 0.35  # share of printed squares recognised; with less nothing is accepted
_MOSTLY_COVERED = 0.35  # of the photograph; with less there may be another sheet in it


@dataclass(frozen=True)
class SheetSeen:
    """One sheet of a photograph: where it lies, and what it says.

    Parameters
    ----------
    view : PageView
        For cutting out what a person must look at.
    reading : PageReading
        What was read.
    """

    view: PageView
    reading: PageReading


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
            Without pages where no sheet was found.
        seen : tuple of SheetSeen
            The same pages, to cut from.
        """
        start = time.process_time()
        seen: dict[str, SheetSeen] = {}
        for sheet in find_sheets(photograph, self._index):
            page = self._read_sheet(photograph, sheet)
            # The surest sheet comes first; a second print of the same page is left to a person.
            seen.setdefault(page.reading.page_id, page)
        pages = tuple(each.reading for each in seen.values())
        seconds = time.process_time() - start
        return ImageReading(photograph.name, pages, seconds), tuple(seen.values())

    def _read_sheet(self, photograph: Photograph, sheet: FoundSheet) -> SheetSeen:
        page = sheet.page
        mapping = flat_mapping(sheet.homography, (page.width_mm, page.height_mm))
        mapping = bend_to_tags(mapping, sheet)
        mapping, likeness = register(mapping, photograph, page, self._printed.grey(page))
        # One code is witness enough where four tags agree; the other one only costs time.
        codes = page.codes[:1] if len(sheet.tags) > N_TELLING else page.codes
        identity = judge_identity(sheet, read_page_code(photograph, mapping, codes))
        view = view_page(photograph, sheet, mapping)
        may_accept = identity.status is PageStatus.OK and (
            likeness.share_found >= _LEAST_REGISTERED
        )
        fields = {
            name: reading if may_accept else replace(reading, accepted=False)
            for name, reading in self._judge_fields(view).items()
        }
        scale = measure_print_scale(photograph, mapping, page)
        status, confidence = identity.status, identity.confidence
        return SheetSeen(view, PageReading(page.page_id, status, confidence, fields, scale))

    def _judge_fields(self, view: PageView) -> dict[str, FieldReading]:
        places = [tuple(self._places(field)) for field in view.page.fields]
        patches, visible = cut_patches(view, [place for each in places for place in each])
        ends = np.cumsum([len(each) for each in places])[:-1]
        contexts = [
            FieldContext(field, view.quality, seen)
            for field, seen in zip(view.page.fields, np.split(visible, ends), strict=True)
        ]
        readings = self._judge(np.split(patches, ends), contexts)
        names = (field.id for field in view.page.fields)
        return dict(zip(names, readings, strict=True))


def find_sheets(photograph: Photograph, index: PageIndex) -> tuple[FoundSheet, ...]:
    """Find all sheets of a photograph, with as much effort as it needs.

    Parameters
    ----------
    photograph : Photograph
        A photograph or scan.
    index : PageIndex
        Pages that may be met.

    Returns
    -------
    tuple of FoundSheet
        The surest first.
    """
    tags = find_tags(photograph)
    sheets = _complete(photograph, gather_sheets(tags, index))
    for step, hidden in enumerate(_more_tags(photograph, sheets, tags)):
        tags = merge([*tags, *hidden])
        sheets = _complete(photograph, gather_sheets(tags, index))
        if _is_told(sheets, tags) and (step or _is_covered(photograph, sheets)):
            break
    return tuple(sorted(sheets, key=lambda sheet: -len(sheet.tags)))


def _more_tags(
    photograph: Photograph, sheets: Sequence[FoundSheet], tags: Sequence[FoundTag]
) -> Iterator[tuple[FoundTag, ...]]:
    """Search further where sheets are missing or poor, and once where there is room for more."""
    if not _is_told(sheets, tags):
        yield from find_hidden_tags(photograph)
    elif not _is_covered(photograph, sheets):
        yield next(find_hidden_tags(photograph))


def _complete(photograph: Photograph, sheets: Sequence[FoundSheet]) -> tuple[FoundSheet, ...]:
    """Look again for the tags of a sheet that were missed, where they must be."""
    finer = max(1, search_level(photograph) // 2)
    completed = []
    for sheet in sheets:
        inside = [
            corners
            for corners in sheet.missing().values()
            if (corners > 0).all() and (corners < np.array(photograph.size)).all()
        ]
        more = find_tags_near(photograph, inside, reduced_by=finer) if inside else ()
        completed.append(with_more_tags(sheet, more))
    return tuple(completed)


def _is_told(sheets: Sequence[FoundSheet], tags: Sequence[FoundTag]) -> bool:
    """Tell whether there is a sheet, every one has enough tags, and no tags are left over."""
    own = {id(tag) for sheet in sheets for tag in sheet.tags}
    n_left_over = sum(id(tag) not in own for tag in tags)
    return bool(sheets) and min(len(sheet.tags) for sheet in sheets) > 2 and n_left_over <= 1


def _is_covered(photograph: Photograph, sheets: Sequence[FoundSheet]) -> bool:
    """Tell whether the sheets fill so much of the photograph that no other has room in it."""
    width, height = photograph.size
    return sum(_area(sheet) for sheet in sheets) >= _MOSTLY_COVERED * width * height


def _area(sheet: FoundSheet) -> float:
    """Give the area that a page takes in the photograph, px."""
    width, height = sheet.page.width_mm, sheet.page.height_mm
    corners: NDArray[np.float64] = project(
        sheet.homography, np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    )
    x, y = corners.T
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
