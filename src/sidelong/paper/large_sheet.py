"""The large print of a night: two pages, all words at 18 points or more, the same marks.

Each position takes a block of its own: its head and words, the stair with its labels below, and
the question whether it went down. Three blocks fill the first page; the rest, the question about
the whole night and the boxes to write in stand on the second. Why a piece did not go down is
written in words in the notes, since a table of reasons has no room at this size.
"""

from collections.abc import Iterator, Sequence
from functools import cache
from types import MappingProxyType

from sidelong.paper.sheet import band_field, frame
from sidelong.paper.sheet_areas import (
    ALL_THE_SAME,
    BOX_WIDTH_MM,
    MARK_MM,
    Answer,
    Area,
    Sheet,
    around,
    in_reading_direction,
)
from sidelong.training.entry import Scale, WentDown, WhyNot, Written
from sidelong.training.layout import TargetKind
from sidelong.training.position import Position

N_PARTS = 2
FIRST_PART_SLOTS = 3
_LEFT, _WIDTH = 17.0, 150.6  # between the tags at the sides
_TOP, _PITCH = 27.0, 59.0
_RISE = 4.8
_ASK_WIDTH = 46.0
_ACROSS = (Position.LEFT, Position.CENTRE, Position.RIGHT)


def lay_out_large_sheets(
    order: Sequence[Position], *, scale: Scale | None, right_to_left: bool = False
) -> tuple[Sheet, Sheet]:
    """Lay out one night in large print.

    Parameters
    ----------
    order : sequence of Position
        Tonight's positions, slot 1 first; 1 to 5 of them.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record.
    right_to_left : bool
        Whether lines run from right to left.

    Returns
    -------
    tuple of Sheet
        Two pages; areas are named as by :func:`sidelong.paper.sheet.lay_out_sheet`, with
        ``pN.ask.rating``, ``pN.ask.went_down`` and ``pN.ask.why_not`` in every block.

    Raises
    ------
    ValueError
        If there are no positions, or one stands twice.
    """
    if not 1 <= len(order) <= len(Position) or len(set(order)) != len(order):
        raise ValueError("a sheet shows one to five positions, each once")
    listed = tuple(position for position in Position if position in order)
    first, second = (_place(listed, scale, right_to_left, part) for part in (1, 2))
    return Sheet(tuple(order), *first), Sheet(tuple(order), *second)


@cache
def _place(
    listed: tuple[Position, ...], scale: Scale | None, right_to_left: bool, part: int
) -> tuple[tuple[Answer, ...], MappingProxyType[str, Area]]:
    slots = range(1, len(listed) + 1)
    here = slots[:FIRST_PART_SLOTS] if part == 1 else slots[FIRST_PART_SLOTS:]
    areas = _head(part)
    answers = _skipped() if part == 1 else []
    for place, slot in enumerate(here):
        top = _TOP + _PITCH * place
        areas |= _block_areas(slot, top, scale)
        answers += _block_answers(slot, top, scale)
    if part == N_PARTS:
        top = _TOP + _PITCH * len(here) + 1.0
        areas |= _foot_areas(top, is_compared=len(listed) > 1)
        answers += [*_band_answers(listed, scale, top), *_written_answers(top)]
    return in_reading_direction(tuple(answers), areas, right_to_left=right_to_left)


def _head(part: int) -> dict[str, Area]:
    """Place the head line; safety words and who was there on the first page."""
    areas = frame()
    foot = areas["check"].x
    areas |= {
        "code": Area(_LEFT, 10.6, 64.0, 7.0),
        "piece": Area(_LEFT, 18.6, 77.0, 7.6),
        "check.label": Area(foot + areas["check"].w + 2, 246.6, 78.0, 7.4),
    }
    del areas["piece.drawing"], areas["safety"]
    if part == 1:
        areas["present.label"] = Area(_LEFT, 206.0, 106.0, 10.4)
        areas["present.box"] = Area(_LEFT + 106.6, 206.0, 44.0, 10.4)
        areas["safety"] = Area(foot, 218.6, BOX_WIDTH_MM - _LEFT - foot, 27.4)
    return areas


def _skipped() -> list[Answer]:
    label = Area(95.0, 0.4, 53.0, 21.6)
    return [Answer("skipped", "1", TargetKind.BOX, around(88.0, 7.5), label)]


def _block_areas(slot: int, top: float, scale: Scale | None) -> dict[str, Area]:
    areas = {
        "row": Area(_LEFT, top, _WIDTH, _PITCH - 2.0),
        "number": Area(_LEFT, top + 2.5, 9.0, 12.0),
        "glyph": Area(_LEFT + 10.0, top + 1.0, 15.0, 16.1),
        "word": Area(_LEFT + 28.0, top + 0.2, 40.0, 9.0),
        "side": Area(_LEFT + 28.0, top + 11.4, 47.0, 7.0),
    }
    if scale is None:
        areas["ask.went_down"] = Area(_LEFT, top + 18.4, _ASK_WIDTH, 12.4)
        areas["ask.why_not"] = Area(_LEFT, top + 32.4, _ASK_WIDTH, 12.4)
    else:
        areas["ask.rating"] = Area(_LEFT + 76.0, top + 1.6, _WIDTH - 76.0, 14.0)
        areas["ask.went_down"] = Area(_LEFT, top + 46.0, _ASK_WIDTH, 12.4)
    return {f"p{slot}.{name}": area for name, area in areas.items()}


def _block_answers(slot: int, top: float, scale: Scale | None) -> Iterator[Answer]:
    left, width = _LEFT + _ASK_WIDTH + 1.0, _WIDTH - _ASK_WIDTH - 1.0
    if scale is None:
        yield from _beside(f"p{slot}.went_down", tuple(WentDown), top + 24.6, left, width / 3)
        for line in (0, 1):
            reasons, cy = tuple(WhyNot)[2 * line : 2 * line + 2], top + 38.6 + 13.2 * line
            yield from _beside(f"p{slot}.why_not", reasons, cy, left, width / 2)
        return
    pitch = _WIDTH / scale
    for i, rating in enumerate(scale.ratings):
        x, cy = _LEFT + i * pitch, top + 25.6 - _RISE * (rating - 1) / 4
        under = cy + MARK_MM / 2 + 0.5
        yield Answer(
            field=f"p{slot}.rating",
            value=str(rating),
            kind=TargetKind.CIRCLE,
            mark=around(x + pitch / 2, cy),
            label=Area(x + 0.3, top + 31.6, pitch - 0.6, 13.6),
            step=Area(x, under, pitch, top + 31.0 - under),
        )
    yield from _beside(f"p{slot}.went_down", tuple(WentDown), top + 52.2, left, width / 3)


def _beside(
    field: str, values: Sequence[str], cy: float, left: float, pitch: float
) -> Iterator[Answer]:
    """Set marks in a line, each with its words beside it."""
    for i, value in enumerate(values):
        x = left + i * pitch
        label = Area(x + 9.4, cy - 6.2, pitch - 9.8, 12.4)
        yield Answer(field, str(value), TargetKind.CIRCLE, around(x + 4.4, cy), label)


def _band_answers(listed: Sequence[Position], scale: Scale | None, top: float) -> Iterator[Answer]:
    """Ask about the whole night in two lines: left, centre and right, then the others."""
    if len(listed) == 1:
        return
    across = [position.value for position in listed if position in _ACROSS]
    others = [position.value for position in listed if position not in _ACROSS]
    others += [] if scale is None else [ALL_THE_SAME]
    cell = _WIDTH / 3
    for line, values in enumerate((across, others)):
        for i, value in enumerate(values):
            x, cy = _LEFT + cell * i, top + 15.0 + 13.4 * line
            glyph = None if value == ALL_THE_SAME else Area(x + 10.0, cy - 6.3, 11.7, 12.6)
            words = x + (10.0 if glyph is None else 22.4)
            label = Area(words, cy - 6.3, x + cell - words - 0.4, 12.6)
            mark = around(x + 4.4, cy)
            yield Answer(band_field(scale), value, TargetKind.CIRCLE, mark, label, glyph=glyph)


def _written_answers(top: float) -> Iterator[Answer]:
    yield from _beside("written", tuple(Written), top + 51.4, _LEFT, _WIDTH / 3)


def _foot_areas(top: float, *, is_compared: bool) -> dict[str, Area]:
    foot, notes = frame()["check"].x, top + 71.4
    areas = {
        "ask.written": Area(_LEFT, top + 36.4, _WIDTH, 7.4),
        "date.label": Area(_LEFT, top + 59.4, 20.0, 10.4),
        "date.box": Area(_LEFT + 20.0, top + 59.4, 50.0, 10.4),
        "pieces.label": Area(_LEFT + 76.0, top + 59.4, 44.0, 10.4),
        "pieces.box": Area(_LEFT + 120.0, top + 59.4, 30.6, 10.4),
        "notes.label": Area(_LEFT, notes, _WIDTH, 7.4),
        "notes.box": Area(foot, notes + 7.6, BOX_WIDTH_MM - _LEFT - foot, 238.0 - notes),
    }
    if is_compared:
        areas["ask.band"] = Area(_LEFT, top + 0.4, _WIDTH, 7.4)
    return areas
