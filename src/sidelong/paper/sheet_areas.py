"""What a sheet is made of: the two papers, rectangles in millimetres, answers, and names of areas.

Everything lies inside a box of 184.6 x 254.0 mm, centred on the page. It stays 12.7 mm away from
every edge of A4 and of Letter, so the same sheet prints at 100 % on both; only the offset of the
box differs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType

from sidelong.training.layout import TargetKind
from sidelong.training.position import Position

BOX_WIDTH_MM = 184.6
BOX_HEIGHT_MM = 254.0
MARK_MM = 8.0
CHECK_LINE_MM = 50.0
ALL_THE_SAME = "same"

# Write-in boxes by name: notes are kept as pictures, the others are typed by hand.
NOTE_BOXES = ("notes.box", "seen.box")
FREE_BOXES = ("date.box", "pieces.box", "present.box", "drawing.box", "night.box")
# Places of the tags: top left, top right, middle left, middle right, bottom left, bottom right.
TAG_PLACES = tuple(f"reserved.{i}" for i in range(6))
CODE_PLACES = ("reserved.6", "reserved.7")
TAG_MM, CODE_MM = 14.0, 16.0
TAG_QUIET_MM = TAG_MM / 8  # one cell; the family asks for no more


class Paper(StrEnum):
    """Paper that a sheet can be printed on at 100 %."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height, mm (ISO 216; ANSI/ASME Y14.1: 8.5 x 11 in)."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)

    @property
    def offset_mm(self) -> tuple[float, float]:
        """Left and top edge of the box that fits both papers, mm."""
        width, height = self.size_mm
        return ((width - BOX_WIDTH_MM) / 2, (height - BOX_HEIGHT_MM) / 2)


@dataclass(frozen=True)
class Area:
    """A rectangle in millimetres: left, top, width, height."""

    x: float
    y: float
    w: float
    h: float

    def mirrored(self) -> "Area":
        """Swap the two sides of the box."""
        return replace(self, x=BOX_WIDTH_MM - self.x - self.w)

    def moved(self, dx: float, dy: float) -> "Area":
        """Shift by so many millimetres."""
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True)
class Answer:
    """One printed answer: the mark, and where its words stand.

    Parameters
    ----------
    field, value : str
        Which answer it is.
    kind : TargetKind
        A circle where one of several is chosen, a box for a tick.
    mark : Area
        Outer edge of the printed outline.
    label : Area
        Room for the words.
    step : Area or None
        The step of the stair on which the mark stands.
    glyph : Area or None
        Room for a drawn head beside the mark.
    """

    field: str
    value: str
    kind: TargetKind
    mark: Area
    label: Area
    step: Area | None = None
    glyph: Area | None = None

    def mirrored(self) -> "Answer":
        """Swap the two sides of the box."""
        return replace(
            self,
            mark=self.mark.mirrored(),
            label=self.label.mirrored(),
            step=None if self.step is None else self.step.mirrored(),
            glyph=None if self.glyph is None else self.glyph.mirrored(),
        )


@dataclass(frozen=True)
class Sheet:
    """Where everything stands on one sheet, in millimetres from the corner of the box.

    Parameters
    ----------
    order : tuple of Position
        Tonight's positions, slot 1 first.
    answers : tuple of Answer
        All printed answers, in reading order.
    areas : mapping of str to Area
        Room for words, glyphs and write-in boxes, by name; see :func:`lay_out_sheet`.
    """

    order: tuple[Position, ...]
    answers: tuple[Answer, ...]
    areas: Mapping[str, Area]

    def of(self, field: str) -> tuple[Answer, ...]:
        """Give the answers of one field, in printed order."""
        return tuple(answer for answer in self.answers if answer.field == field)

    @property
    def slots(self) -> tuple[int, ...]:
        """Slots that stand on this page."""
        all_slots = range(1, len(self.order) + 1)
        return tuple(slot for slot in all_slots if f"p{slot}.row" in self.areas)

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields, in reading order."""
        return tuple(dict.fromkeys(answer.field for answer in self.answers))


def around(cx: float, cy: float) -> Area:
    """Give the outer edge of a mark by its centre."""
    return Area(cx - MARK_MM / 2, cy - MARK_MM / 2, MARK_MM, MARK_MM)


def in_reading_direction(
    answers: tuple[Answer, ...], areas: Mapping[str, Area], *, right_to_left: bool
) -> tuple[tuple[Answer, ...], MappingProxyType[str, Area]]:
    """Mirror a page for lines from right to left; heads, positions and tags keep their places."""
    if right_to_left:
        areas = {
            name: area if name in TAG_PLACES else area.mirrored() for name, area in areas.items()
        }
        answers = _unmirror_positions(tuple(answer.mirrored() for answer in answers))
    return answers, MappingProxyType(dict(areas))


def _unmirror_positions(answers: tuple[Answer, ...]) -> tuple[Answer, ...]:
    """Put left back on the left among the answers about the whole night, line by line."""
    moved = {}
    lines: dict[float, list[Answer]] = {}
    for answer in answers:
        if answer.glyph is not None:
            lines.setdefault(answer.mark.y, []).append(answer)
    for line in lines.values():
        for answer, place in zip(line, reversed(line), strict=True):
            there = replace(answer, mark=place.mark, label=place.label, glyph=place.glyph)
            moved[answer.value] = there
    return tuple(moved[a.value] if a.glyph is not None else a for a in answers)
