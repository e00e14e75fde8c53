"""All sheets of a photograph, with as much effort as it needs: by tags, or by codes."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from sidelong.paper.images import Photograph
from sidelong.paper.reading.blurred_tags import Told, tell_page, weigh_tags
from sidelong.paper.reading.coded_sheets import sheets_by_code
from sidelong.paper.reading.codes import find_codes
from sidelong.paper.reading.identity import SURE_MARGIN
from sidelong.paper.reading.mapping import fit_homography, polygon_area
from sidelong.paper.reading.sheets import (
    FoundSheet,
    PageIndex,
    box_corners,
    gather_sheets,
    with_more_tags,
)
from sidelong.paper.reading.squares import Frame, frame_of, place_sheets
from sidelong.paper.reading.tags import (
    FoundTag,
    Points,
    find_hidden_tags,
    find_shapes,
    find_tags,
    find_tags_near,
    merge,
    search_level,
)
from sidelong.training.sheet_code import N_TELLING

_MOSTLY_COVERED = 0.35  # of the photograph; with less there may be another sheet in it
_MOST_BLURRED = 4  # sheets of one photograph whose tags are weighed together
_LEAST_MARGIN = 3.0


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
    if not index.pages:
        return ()
    tags = find_tags(photograph, only_large=True)
    sheets = gather_sheets(tags, index)
    if not (_is_told(sheets, tags) and _is_covered(photograph, sheets)):
        tags = find_tags(photograph)
        sheets = gather_sheets(tags, index)
    sheets = _complete(photograph, sheets)
    weighed: tuple[FoundSheet, ...] | None = None
    for step, hidden in enumerate(_more_tags(photograph, sheets, tags)):
        tags = merge([*tags, *hidden])
        read = _complete(photograph, gather_sheets(tags, index))
        if weighed is None and not (_is_told(read, tags) and _is_covered(photograph, read)):
            weighed = tuple(_weigh_sheets(photograph, index, read, tags))
        sheets = _join(read, weighed or ())
        if _is_told(sheets, tags) and (step or _is_covered(photograph, sheets)):
            break
    if not _is_told(sheets, tags):
        codes = find_codes(photograph)
        shapes = find_shapes(photograph) if codes else ()
        coded = tuple(sheets_by_code(codes, index.pages, tags=tags, shapes=shapes))
        sheets = _join(sheets, coded)
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


def _weigh_sheets(
    photograph: Photograph,
    index: PageIndex,
    sheets: Sequence[FoundSheet],
    tags: Sequence[FoundTag],
) -> Iterator[FoundSheet]:
    """Find sheets by their dark squares beside those that are known, and weigh their tags."""
    known = [sheet for sheet in sheets if len(sheet.tags) >= N_TELLING]
    shapes: Sequence[Points] = find_shapes(photograph)
    frames = _frames(index)
    for _ in range(_MOST_BLURRED):
        shapes = [
            shape
            for shape in shapes
            if not any(sheet.covers(shape.mean(axis=0)) for sheet in known)
        ]
        made = [
            sheet
            for frame in frames
            for placement in place_sheets(shapes, frame, size=photograph.size)
            for sheet in _as_sheets(
                tell_page(weigh_tags(photograph, frame, placement)), frame, index, tags
            )
        ]
        if not made:
            return
        best = max(made, key=lambda sheet: sheet.margin or 0.0)
        known.append(best)
        yield best


def _as_sheets(
    told: Told, frame: Frame, index: PageIndex, tags: Sequence[FoundTag]
) -> Iterator[FoundSheet]:
    """Make the sheet of the page that is told, where there is such a page."""
    if told.margin < _LEAST_MARGIN or len(told.tags) < N_TELLING:
        return
    pages = [page for page in index.of_word(told.night, told.key) if frame_of(page) == frame]
    for page in pages[:1]:
        boxes = {marker.id: box_corners(marker.box) for marker in page.markers}
        corners = np.concatenate([boxes[tag.id] for tag in told.tags])
        seen = np.concatenate([tag.corners for tag in told.tags])
        homography = fit_homography(corners, seen)
        if homography is None:
            return
        sheet = FoundSheet(
            page, told.tags, homography, told.n_against, len(pages) == 1, told.margin
        )
        strange = [tag for tag in tags if tag.id not in boxes and sheet.covers(tag.centre)]
        yield replace(sheet, n_against=max(told.n_against, len(strange)))


def _frames(index: PageIndex) -> list[Frame]:
    """List the kinds of pages that may be met: mostly one."""
    frames = dict.fromkeys(frame_of(page) for page in index.pages)
    return [frame for frame in frames if frame is not None]


def _join(read: Sequence[FoundSheet], told: Sequence[FoundSheet]) -> tuple[FoundSheet, ...]:
    """Let what tells a page go before one or two tags that do not, where both lie at one place."""
    middles = [(sheet, sheet.corners.mean(axis=0)) for sheet in told]
    kept = [
        sheet
        for sheet in read
        if len(sheet.tags) >= N_TELLING or not any(sheet.covers(at) for _, at in middles)
    ]
    more = [sheet for sheet, at in middles if not any(other.covers(at) for other in kept)]
    return (*kept, *more)


def _is_told(sheets: Sequence[FoundSheet], tags: Sequence[FoundTag]) -> bool:
    """Tell whether there is a sheet, every one has enough tags, and no tags are left over."""
    own = {(tag.id, sheet.page.page_id) for sheet in sheets for tag in sheet.tags}
    pages = [sheet.page.page_id for sheet in sheets]
    n_left_over = sum(all((tag.id, page) not in own for page in pages) for tag in tags)
    are_enough = all(
        len(sheet.tags) >= N_TELLING and (sheet.margin is None or sheet.margin >= SURE_MARGIN)
        for sheet in sheets
    )
    return bool(sheets) and are_enough and n_left_over <= 1


def _is_covered(photograph: Photograph, sheets: Sequence[FoundSheet]) -> bool:
    """Tell whether the sheets fill so much of the photograph that no other has room in it."""
    width, height = photograph.size
    return sum(polygon_area(sheet.corners) for sheet in sheets) >= _MOSTLY_COVERED * width * height
