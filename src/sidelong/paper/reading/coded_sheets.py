"""Sheets by their QR codes, where their tags are covered or cut off.

A code names its page for certain. Where the page lies follows from both codes, from a code with a
tag or two, or from a code and the outline of the paper; a code of 16 mm alone says only roughly
where the other end of the page is.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from sidelong.paper.reading.codes import SeenCode, is_of_page
from sidelong.paper.reading.mapping import fit_homography, polygon_area, project
from sidelong.paper.reading.sheets import FoundSheet, box_corners
from sidelong.paper.reading.tags import FoundTag
from sidelong.training.layout import Box, SheetPage

Points = NDArray[np.float64]

_OFF_SIDES = 0.4  # how far corners may lie from where the plane has them, in sides of their square
_LEAST_OUTLINE = 20.0  # area of the paper, in areas of its code; really it has 240


def sheets_by_code(
    codes: Sequence[SeenCode],
    pages: Sequence[SheetPage],
    *,
    tags: Sequence[FoundTag],
    shapes: Sequence[Points],
) -> Iterator[FoundSheet]:
    """Place the sheets that codes name.

    Parameters
    ----------
    codes : sequence of SeenCode
        All that were read in a photograph.
    pages : sequence of SheetPage
        Pages that may be met.
    tags : sequence of FoundTag
        Tags that were read.
    shapes : sequence of ndarray, shape (4, 2)
        Shapes with four corners, clockwise, px: the outline of the paper may be one.

    Yields
    ------
    FoundSheet
        With the tags of it that lie in its plane, or none. A page of which three codes are seen
        lies there twice, and is left out.
    """
    by_page: dict[str, list[SeenCode]] = defaultdict(list)
    named = {}
    for seen in codes:
        matching = [page for page in pages if is_of_page(seen.code, page)]
        if matching:
            page = min(matching, key=lambda page: page.booklet != seen.code.booklet)
            by_page[page.page_id].append(seen)
            named[page.page_id] = page
    for page_id, seen_codes in by_page.items():
        page = named[page_id]
        if len(seen_codes) <= len(page.codes):
            sheet = _place(page, [seen.corners for seen in seen_codes], tags, shapes)
            if sheet is not None:
                yield sheet


def _place(
    page: SheetPage, codes: Sequence[Points], tags: Sequence[FoundTag], shapes: Sequence[Points]
) -> FoundSheet | None:
    """Try what the corners of the codes may be, and keep the plane that most else agrees with."""
    boxes = {marker.id: box_corners(marker.box) for marker in page.markers}
    own = [tag for tag in tags if tag.id in boxes]
    made: list[tuple[int, int, float, Points]] = []
    for anchors in _anchors(page, codes, shapes):
        corners = np.concatenate([on_page for on_page, _ in anchors])
        homography = fit_homography(corners, np.concatenate([seen for _, seen in anchors]))
        if homography is None or _worst(homography, anchors) > _OFF_SIDES:
            continue
        near = [tag for tag in own if _off(homography, boxes[tag.id], tag.corners) < 1.0]
        made.append((len(near), len(anchors), -_worst(homography, anchors), homography))
    if not made:
        return None
    _, _, _, homography = max(made, key=lambda each: each[:3])
    near = [tag for tag in own if _off(homography, boxes[tag.id], tag.corners) < 1.0]
    finer = _with_tags(homography, page, near, codes) if near else None
    if finer is not None:
        homography = finer
    sheet = FoundSheet(page, tuple(near), homography)
    strange = [tag for tag in tags if tag.id not in boxes and sheet.covers(tag.centre)]
    return FoundSheet(page, tuple(near), homography, n_against=len(strange))


Anchor = tuple[Points, Points]  # corners on the page, mm, and in the photograph, px


def _anchors(
    page: SheetPage, codes: Sequence[Points], shapes: Sequence[Points]
) -> Iterator[list[Anchor]]:
    """Say which code is which, with an outline around it and without."""
    places = [box_corners(box) for box in page.codes]
    whole = box_corners(Box(0.0, 0.0, page.width_mm, page.height_mm))
    if len(codes) > 1:
        for order in (places, places[::-1]):
            yield list(zip(order, codes, strict=False))
    for code in codes:
        large = [
            shape for shape in shapes if polygon_area(shape) > _LEAST_OUTLINE * polygon_area(code)
        ]
        for place in places:
            yield [(place, code)]
            for outline in large:
                for turn in range(4):
                    yield [(place, code), (whole, np.roll(outline, turn, axis=0))]


def _with_tags(
    homography: Points, page: SheetPage, tags: Sequence[FoundTag], codes: Sequence[Points]
) -> Points | None:
    boxes = {marker.id: box_corners(marker.box) for marker in page.markers}
    anchors = [(boxes[tag.id], tag.corners) for tag in tags]
    for code in codes:
        places = [box_corners(box) for box in page.codes]
        anchors.append((min(places, key=lambda place: _off(homography, place, code)), code))
    corners = np.concatenate([on_page for on_page, _ in anchors])
    return fit_homography(corners, np.concatenate([seen for _, seen in anchors]))


def _worst(homography: Points, anchors: Sequence[Anchor]) -> float:
    return max(_off(homography, on_page, seen) for on_page, seen in anchors)


def _off(homography: Points, on_page: Points, seen: Points) -> float:
    """Give the largest distance of corners from where a plane has them, in sides of a square."""
    side = float(np.sqrt(polygon_area(seen)))
    return float(np.abs(project(homography, on_page) - seen).max()) / max(side, 1e-6)
