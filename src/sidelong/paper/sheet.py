"""The geometry of a night sheet in millimetres: one truth for printing it and for reading it.

Answers are marks of 8 mm, their centres 13 mm or more apart. Six tags of 14 mm
(corners and sides) and two QR codes of 16 mm help a camera to find and name the page; around each
lies a quiet zone in which nothing else is printed.

Where lines run from right to left the sheet is mirrored as a whole, but a head is never mirrored,
the positions of "felt best" keep left on the left, and the tags keep their places.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache
from types import MappingProxyType

from sidelong.paper.sheet_areas import (
    ALL_THE_SAME,
    BOX_HEIGHT_MM,
    BOX_WIDTH_MM,
    CHECK_LINE_MM,
    CODE_MM,
    MARK_MM,
    TAG_MM,
    Answer,
    Area,
    Sheet,
    around,
    in_reading_direction,
)
from sidelong.paper.sheet_areas import Paper as Paper  # what callers ask for beside a sheet
from sidelong.training.entry import Scale, WentDown, WhyNot, Written
from sidelong.training.layout import TargetKind
from sidelong.training.position import Position

_ROWS_TOP = 27.0
_ROWS_BOTTOM = 147.0
_ROW_HEIGHT = 24.0
_LOOSEST_ROW = 30.0
_ANSWERS_LEFT = 59.0  # where the answers of a row begin, right of number, glyph and word
_BAND = 148.5  # top of the question that belongs to the whole night
_FOOT = 174.5  # top of the lower part
_RISE = 5.2  # from the lowest to the highest step of the stair
_SAME_WIDTH = 23.0  # room for "all the same", beside its mark
_GUTTER = 17.0  # kept free at both sides where a marker stands


def lay_out_sheet(
    order: Sequence[Position], *, scale: Scale | None, right_to_left: bool = False
) -> Sheet:
    """Lay out one night.

    Parameters
    ----------
    order : sequence of Position
        Tonight's positions, slot 1 first; 1 to 5 of them.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record (at 4 years).
    right_to_left : bool
        Whether lines run from right to left.

    Returns
    -------
    Sheet
        Areas are named ``title``, ``code``, ``piece``, ``piece.drawing``, ``ask.rating``,
        ``ask.went_down``, ``ask.why_not``, ``ask.band``; per slot ``pN.number``, ``pN.glyph``,
        ``pN.word``, ``pN.side``, ``pN.row`` and, over the reasons, ``pN.head``; write-in boxes
        ``NAME.box`` with ``NAME.label``; ``ask.written``, ``safety``, ``check``,
        ``check.label``, the squares ``reserved.0`` to ``reserved.5`` for tags, ``reserved.6``
        and ``reserved.7`` for codes.

    Raises
    ------
    ValueError
        If there are no positions, or one stands twice.
    """
    if not 1 <= len(order) <= len(Position) or len(set(order)) != len(order):
        raise ValueError("a sheet shows one to five positions, each once")
    listed = tuple(position for position in Position if position in order)
    answers, areas = _places(listed, scale, right_to_left)
    return Sheet(tuple(order), answers, areas)


@cache
def _places(
    listed: tuple[Position, ...], scale: Scale | None, right_to_left: bool
) -> tuple[tuple[Answer, ...], Mapping[str, Area]]:
    """Place everything; which position stands in which slot moves nothing."""
    n = len(listed)
    areas = frame() | _row_areas(n) | _foot_areas(n, scale)
    answers = [*_skipped(), *_row_answers(n, scale), *_band_answers(listed, scale)]
    answers += _why_not_answers(n) if scale is not None else []
    answers += _written_answers()
    return in_reading_direction(tuple(answers), areas, right_to_left=right_to_left)


def frame() -> dict[str, Area]:
    """Place what every sheet has: head line, safety line, check line, tags and codes."""
    right, bottom, side = BOX_WIDTH_MM - TAG_MM, BOX_HEIGHT_MM - TAG_MM, 154.5
    squares = [(x, y, TAG_MM) for y in (0.0, side, bottom) for x in (0.0, right)]
    beside = TAG_MM + 3.5  # from the edge: beside a tag, both quiet zones between them
    # At opposite corners, so that one shadow or fold does not take both codes.
    squares += [(BOX_WIDTH_MM - beside - CODE_MM, 0.0, CODE_MM)]
    squares += [(beside, BOX_HEIGHT_MM - CODE_MM, CODE_MM)]
    reserved = {f"reserved.{i}": Area(x, y, s, s) for i, (x, y, s) in enumerate(squares)}
    foot = beside + CODE_MM + 3.1
    return reserved | {
        "title": Area(_GUTTER, 0.0, 62.0, 10.5),
        "code": Area(_GUTTER, 10.5, 62.0, 5.0),
        "piece.drawing": Area(0.0, 16.0, 27.0, 10.0),
        "piece": Area(27.6, 16.0, 31.0, 10.0),
        "safety": Area(foot, 237.9, BOX_WIDTH_MM - _GUTTER - foot, 12.0),
        "check": Area(foot, 251.9, CHECK_LINE_MM, 0.0),
        "check.label": Area(foot + CHECK_LINE_MM + 2, 249.9, 75.0, 4.0),
    }


def as_spare(sheet: Sheet, *, right_to_left: bool = False) -> Sheet:
    """Make room for the number of the night that a spare sheet stands for.

    Parameters
    ----------
    sheet : Sheet
        The sheet, or the first page of a large one.
    right_to_left : bool
        Whether lines run from right to left.

    Returns
    -------
    Sheet
        With ``night.label`` and ``night.box`` where tonight's piece stood.
    """
    label, box = Area(0.0, 16.2, 40.0, 10.0), Area(41.0, 16.1, 16.0, 10.2)
    if "piece.drawing" not in sheet.areas:
        label, box = Area(_GUTTER, 18.4, 62.0, 7.6), Area(81.2, 16.4, 11.0, 10.2)
    areas = {name: area for name, area in sheet.areas.items() if not name.startswith("piece")}
    areas |= {name: area for name, area in sheet.areas.items() if name.startswith("pieces")}
    more = {"night.label": label, "night.box": box}
    turned = {name: area.mirrored() if right_to_left else area for name, area in more.items()}
    return replace(sheet, areas=MappingProxyType(areas | turned))


def _row_tops(n: int) -> list[float]:
    pitch = min(_LOOSEST_ROW, (_ROWS_BOTTOM - _ROWS_TOP) / n)
    return [_ROWS_TOP + i * pitch + (pitch - _ROW_HEIGHT) / 2 for i in range(n)]


def _row_areas(n: int) -> dict[str, Area]:
    areas: dict[str, Area] = {}
    for slot, top in enumerate(_row_tops(n), start=1):
        areas |= {
            f"p{slot}.row": Area(0.0, top, BOX_WIDTH_MM, _ROW_HEIGHT),
            f"p{slot}.number": Area(0.0, top + 4, 6.5, 10.0),
            f"p{slot}.glyph": Area(7.0, top + 1.4, 19.8, 21.2),
            f"p{slot}.word": Area(28.0, top + 0.8, 30.0, 14.2),
            f"p{slot}.side": Area(28.0, top + 17.0, 30.0, 6.0),
        }
    end = _row_tops(n)[-1] + _ROW_HEIGHT
    if _ROWS_BOTTOM - end > 20:
        areas["drawing.label"] = Area(0.0, end + 4.0, BOX_WIDTH_MM, 5.0)
        areas["drawing.box"] = Area(0.0, end + 9.5, BOX_WIDTH_MM, _ROWS_BOTTOM - end - 10.0)
    return areas


def _row_answers(n: int, scale: Scale | None) -> Iterator[Answer]:
    for slot, top in enumerate(_row_tops(n), start=1):
        if scale is None:
            yield from _spread(f"p{slot}.went_down", tuple(WentDown), top, 59.0, 15.5)
            yield from _spread(f"p{slot}.why_not", tuple(WhyNot), top, 108.6, 19.0)
        else:
            yield from _stair(f"p{slot}.rating", scale, top)
            yield from _spread(f"p{slot}.went_down", tuple(WentDown), top, 143.0, 13.86)


def _stair(field: str, scale: Scale, top: float) -> Iterator[Answer]:
    """Set one mark to each step of a rising stair, hardest and lowest first."""
    pitch = 80.0 / scale
    for i, rating in enumerate(scale.ratings):
        left = _ANSWERS_LEFT + i * pitch
        cy = top + 9.7 - _RISE * (rating - 1) / 4
        under = cy + MARK_MM / 2 + 0.5
        yield Answer(
            field=field,
            value=str(rating),
            kind=TargetKind.CIRCLE,
            mark=around(left + pitch / 2, cy),
            label=Area(left + 0.3, top + 15.7, pitch - 0.6, 8.0),
            step=Area(left, under, pitch, top + 15.1 - under),
        )


def _spread(
    field: str, values: Sequence[str], top: float, left: float, pitch: float
) -> Iterator[Answer]:
    """Set marks in a row with their words below."""
    for i, value in enumerate(values):
        x = left + i * pitch
        label = Area(x + 0.3, top + 12.9, pitch - 0.6, 9.5)
        yield Answer(field, str(value), TargetKind.CIRCLE, around(x + pitch / 2, top + 7.4), label)


def _skipped() -> list[Answer]:
    label = Area(90.5, 1.0, 57.0, 13.0)
    return [Answer("skipped", "1", TargetKind.BOX, around(84.0, 7.5), label)]


def band_field(scale: Scale | None) -> str:
    """Name the question about the whole night: what felt best, or what tomorrow brings."""
    return "tomorrow" if scale is None else "felt_best"


def _band_answers(listed: Sequence[Position], scale: Scale | None) -> Iterator[Answer]:
    """Ask about the whole night; one position alone leaves nothing to compare."""
    if len(listed) == 1:
        return
    values = [str(position) for position in listed]
    values += [ALL_THE_SAME] if scale is not None else []
    last = 0.0 if scale is None else _SAME_WIDTH
    cell = min(30.0, (BOX_WIDTH_MM - 2 * _GUTTER - last) / len(listed))
    left = (BOX_WIDTH_MM - cell * len(listed) - last) / 2
    for i, value in enumerate(values):
        x = left + i * cell
        glyph = None if value == ALL_THE_SAME else Area(x + 10.4, _BAND + 7.1, 11.7, 12.6)
        label = Area(x, _BAND + 20.2, cell, 5.0)
        if glyph is None:
            label = Area(x + 10.0, _BAND + 8.6, _SAME_WIDTH - 10.0, 10.0)
        mark = around(x + 5.0, _BAND + 13.4)
        yield Answer(band_field(scale), value, TargetKind.CIRCLE, mark, label, glyph=glyph)


def _why_not_answers(n: int) -> Iterator[Answer]:
    """Set reasons against slots; a slot's reasons stand below one another."""
    for slot in range(1, n + 1):
        for line, reason in enumerate(WhyNot):
            cy = _FOOT + 16.5 + 13.0 * line
            mark = around(40.0 + 13.0 * (slot - 1), cy)
            label = Area(0.0, cy - 5.0, 33.0, 10.0)
            yield Answer(f"p{slot}.why_not", str(reason), TargetKind.CIRCLE, mark, label)


def _written_answers() -> Iterator[Answer]:
    for i, written in enumerate(Written):
        cx = 108.2 + 27.0 * i
        label = Area(cx + 5.2, _FOOT + 37.9, 17.2, 10.0)
        yield Answer("written", str(written), TargetKind.CIRCLE, around(cx, _FOOT + 42.9), label)


def _foot_areas(n: int, scale: Scale | None) -> dict[str, Area]:
    areas = {
        "date.label": Area(104.0, _FOOT, 40.0, 5.0),
        "date.box": Area(104.0, _FOOT + 5.0, 40.0, 10.4),
        "pieces.label": Area(148.0, _FOOT, 36.6, 5.0),
        "pieces.box": Area(148.0, _FOOT + 5.0, 36.6, 10.4),
        "present.label": Area(104.0, _FOOT + 17.0, 80.6, 5.0),
        "present.box": Area(104.0, _FOOT + 22.0, 80.6, 10.4),
        "ask.written": Area(104.0, _FOOT + 33.0, 80.6, 4.8),
        "notes.label": Area(104.0, _FOOT + 48.2, 66.0, 4.4),
        "notes.box": Area(104.0, _FOOT + 52.7, 80.6, 10.0),
    }
    if n > 1:
        areas["ask.band"] = Area(_GUTTER, _BAND + 0.5, BOX_WIDTH_MM - 2 * _GUTTER, 6.4)
    if scale is None:
        areas["ask.went_down"] = Area(59.0, 16.5, 46.5, 9.5)
        areas["ask.why_not"] = Area(108.6, 18.7, 76.0, 7.3)
        areas["seen.label"] = Area(0.0, _FOOT, 98.0, 10.0)
        areas["seen.box"] = Area(0.0, _FOOT + 11.0, 98.0, 49.5)
        return areas
    areas["ask.rating"] = Area(_ANSWERS_LEFT, 16.5, 80.0, 9.8)
    areas["ask.went_down"] = Area(143.0, 18.7, 41.6, 7.6)
    areas["ask.why_not"] = Area(0.0, _FOOT, 98.0, 5.5)
    for slot in range(1, n + 1):
        areas[f"p{slot}.head"] = Area(33.5 + 13.0 * (slot - 1), _FOOT + 5.6, 13.0, 6.0)
    return areas
