"""Which sheets a photograph shows: tags gathered by page, and checked against one plane each.

A page is a set of six numbers at six places. Tags belong to one sheet when a single homography
carries their places on the page to where they were seen; so two sheets of one photograph, or of
two booklets, stay apart. A tag that stands where the page has another number speaks against it.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from sidelong.paper.reading.mapping import fit_homography, project
from sidelong.paper.reading.tags import FoundTag
from sidelong.training.layout import Box, Marker, SheetPage
from sidelong.training.sheet_code import N_PLACES, recognise_markers

Points = NDArray[np.float64]

_FAR_MM = 7.0  # lens and curl move a tag less; the next place is a hundred away
_MOST_TRIED = 12


@dataclass(frozen=True)
class FoundSheet:
    """One sheet in a photograph.

    Parameters
    ----------
    page : SheetPage
        The page that most of its tags belong to.
    tags : tuple of FoundTag
        Tags of this page that lie in one plane.
    homography : ndarray of float, shape (3, 3)
        From mm on the page to px.
    n_against : int
        Tags that lie at a place of this sheet and are not this page's.
    is_only : bool
        Whether no other page has as many of these tags.
    margin : float or None
        Where the tags were weighed together: by how much this page is before the next one. None
        where each was read alone.
    """

    page: SheetPage
    tags: tuple[FoundTag, ...]
    homography: Points
    n_against: int = 0
    is_only: bool = True
    margin: float | None = None

    @property
    def corners(self) -> Points:
        """Corners of the page in the photograph, px, shape (4, 2)."""
        return project(
            self.homography, box_corners(Box(0.0, 0.0, self.page.width_mm, self.page.height_mm))
        )

    def covers(self, point: Points) -> bool:
        """Tell whether a place of the photograph lies on it."""
        outline = self.corners.astype(np.float32)
        x, y = (float(each) for each in point)
        return cv2.pointPolygonTest(outline, (x, y), False) >= 0

    def missing(self) -> dict[int, Points]:
        """Give the markers that were not seen, with their expected corners, px."""
        seen = {tag.id for tag in self.tags}
        return {
            marker.id: project(self.homography, box_corners(marker.box))
            for marker in self.page.markers
            if marker.id not in seen
        }


class PageIndex:
    """The pages of a layout by the numbers of their markers.

    Parameters
    ----------
    pages : sequence of SheetPage
        All that may be met.
    """

    def __init__(self, pages: Sequence[SheetPage]) -> None:
        self.pages = tuple(pages)
        self.by_id = {page.page_id: page for page in pages}
        self._by_marker: dict[int, list[int]] = {}
        self._by_word: dict[tuple[int, int], list[SheetPage]] = {}
        for place, page in enumerate(pages):
            for marker in page.markers:
                self._by_marker.setdefault(marker.id, []).append(place)
            word = recognise_markers(marker.id for marker in page.markers)
            if word is not None:
                self._by_word.setdefault(word, []).append(page)

    def of_word(self, night: int, key: int) -> Sequence[SheetPage]:
        """List pages whose markers say this night and booklet: mostly one, or none."""
        return self._by_word.get((night, key), ())

    def likely_pages(self, tags: Iterable[FoundTag]) -> list[tuple[SheetPage, int]]:
        """List pages that have some of these tags, most first, with how many."""
        votes = Counter(
            place
            for number in {tag.id for tag in tags}
            for place in self._by_marker.get(number, ())
        )
        best = votes.most_common(_MOST_TRIED)
        return [(self.pages[place], count) for place, count in best]


def gather_sheets(tags: Sequence[FoundTag], index: PageIndex) -> tuple[FoundSheet, ...]:
    """Sort tags into sheets, the surest first.

    Parameters
    ----------
    tags : sequence of FoundTag
        All tags of a photograph.
    index : PageIndex
        Pages that may be met.

    Returns
    -------
    tuple of FoundSheet
        Each with at least two tags.
    """
    left = list(tags)
    sheets: list[FoundSheet] = []
    while left:
        made = _match_pages(index, left)
        if not made:
            break
        best = max(made, key=lambda sheet: (len(sheet.tags), -sheet.n_against))
        rivals = [
            sheet
            for sheet in made
            if sheet.page is not best.page
            and len(sheet.tags) >= len(best.tags)
            and {id(tag) for tag in sheet.tags} & {id(tag) for tag in best.tags}
        ]
        taken = {id(tag) for tag in (*best.tags, *_at_places(best, left))}
        left = [tag for tag in left if id(tag) not in taken]
        sheets.append(FoundSheet(best.page, best.tags, best.homography, best.n_against, not rivals))
    return tuple(sheets)


def _match_pages(index: PageIndex, tags: Sequence[FoundTag]) -> list[FoundSheet]:
    """Match pages, as long as one can have as many tags as the best so far."""
    made: list[FoundSheet] = []
    for page, count in index.likely_pages(tags):
        if count < max([2, *(len(sheet.tags) for sheet in made)]):
            break
        sheet = match_page(page, tags)
        if sheet is not None:
            made.append(sheet)
    return made


def match_page(page: SheetPage, tags: Sequence[FoundTag]) -> FoundSheet | None:
    """Find the largest set of a page's tags that lie in one plane.

    Parameters
    ----------
    page : SheetPage
        The page.
    tags : sequence of FoundTag
        Tags of a photograph, of this page and of others.

    Returns
    -------
    FoundSheet or None
        None where no two of them fit.
    """
    markers = {marker.id: marker for marker in page.markers}
    own = [tag for tag in tags if tag.id in markers]
    best: list[FoundTag] = []
    for pair in combinations(own, 2):
        if pair[0].id == pair[1].id:
            continue
        homography = _fit(pair, markers)
        if homography is None:
            continue
        fitting = _fitting(own, markers, homography)
        if len(fitting) > len(best):
            best = fitting
        if len(best) == len(own):
            break  # all of them lie in one plane: no other pair can find more
    if len(best) < 2:
        return None
    homography = _fit(best, markers)
    if homography is None:
        return None
    sheet = FoundSheet(page, tuple(best), homography)
    return FoundSheet(page, tuple(best), homography, len(_at_places(sheet, tags)))


def with_more_tags(sheet: FoundSheet, more: Sequence[FoundTag]) -> FoundSheet:
    """Look at a sheet again with tags that were found later."""
    again = match_page(sheet.page, [*sheet.tags, *more])
    if again is None or len(again.tags) < len(sheet.tags):
        return sheet
    return FoundSheet(again.page, again.tags, again.homography, again.n_against, sheet.is_only)


def box_corners(box: Box) -> Points:
    """Give the corners of a rectangle: top left, top right, bottom right, bottom left."""
    x0, y0, x1, y1 = box.x, box.y, box.x + box.w, box.y + box.h
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def _fit(tags: Iterable[FoundTag], markers: Mapping[int, Marker]) -> Points | None:
    chosen = list(tags)
    page = np.concatenate([box_corners(markers[tag.id].box) for tag in chosen])
    return fit_homography(page, np.concatenate([tag.corners for tag in chosen]))


def _fitting(
    tags: Sequence[FoundTag], markers: Mapping[int, Marker], homography: Points
) -> list[FoundTag]:
    """Keep the tags that lie where a plane puts them, each number once."""
    kept: dict[int, tuple[float, FoundTag]] = {}
    for tag in tags:
        box = markers[tag.id].box
        expected = project(homography, box_corners(box))
        px_per_mm = tag.side_px / box.w
        off_mm = float(np.abs(expected - tag.corners).max()) / px_per_mm
        if off_mm <= _FAR_MM and (tag.id not in kept or off_mm < kept[tag.id][0]):
            kept[tag.id] = (off_mm, tag)
    return [tag for _, tag in kept.values()]


def _at_places(sheet: FoundSheet, tags: Iterable[FoundTag]) -> list[FoundTag]:
    """List tags that lie on a place of the sheet and are not this page's."""
    own = {id(tag) for tag in sheet.tags}
    against = []
    for tag in tags:
        if id(tag) in own:
            continue
        for marker in sheet.page.markers:
            middle = project(sheet.homography, box_corners(marker.box)).mean(axis=0)
            same_place = tag.id % N_PLACES == marker.id % N_PLACES
            if same_place and float(np.abs(middle - tag.centre).max()) < 0.7 * tag.side_px:
                against.append(tag)
                break
    return against
