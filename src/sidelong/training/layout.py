"""Where every mark of a printed sheet belongs: one truth for printing and for reading.

All lengths are millimetres on the true-size page, origin top left, x to the right, y down.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from sidelong.training.entry import Scale
from sidelong.training.position import Position

# Files hold thousandths of a millimetre: an area at the very edge may be rounded beyond it.
_SLACK_MM = 0.01


class TargetKind(StrEnum):
    """Shape of a printed outline."""

    CIRCLE = "circle"
    BOX = "box"


class FieldType(StrEnum):
    """What an answer on paper may be: at most one of several targets, or a single tick."""

    ONE_OF = "one_of"
    TICK = "tick"


@dataclass(frozen=True)
class Box:
    """A rectangle by its top left corner, mm: an area to write in."""

    x: float
    y: float
    w: float
    h: float

    def __post_init__(self) -> None:
        """Refuse a rectangle without an area."""
        _refuse_unreal((self.x, self.y, self.w, self.h))
        if not (self.w > 0 and self.h > 0):
            raise ValueError(f"a box of {self.w} x {self.h} mm has no area")

    def lies_within(self, width_mm: float, height_mm: float) -> bool:
        """Tell whether all of it is on a page of this size."""
        return (
            self.x >= -_SLACK_MM
            and self.y >= -_SLACK_MM
            and self.x + self.w <= width_mm + _SLACK_MM
            and self.y + self.h <= height_mm + _SLACK_MM
        )


@dataclass(frozen=True)
class Target:
    """One printed outline that can be marked.

    Parameters
    ----------
    id : str
        Unique on its page, for example ``p1.rating.3``.
    value : str
        The answer that a mark here gives.
    kind : TargetKind
        Shape of the outline.
    cx, cy : float
        Its centre, mm.
    w, h : float
        Outer size of the printed outline, mm.
    """

    id: str
    value: str
    kind: TargetKind
    cx: float
    cy: float
    w: float
    h: float

    def __post_init__(self) -> None:
        """Refuse a target without a name, an answer or an area."""
        if not self.id or not self.value:
            raise ValueError("a target needs an id and a value")
        _refuse_unreal((self.cx, self.cy, self.w, self.h))
        if not (self.w > 0 and self.h > 0):
            raise ValueError(f"target {self.id} of {self.w} x {self.h} mm has no area")

    @property
    def box(self) -> Box:
        """The rectangle around the outline."""
        return Box(self.cx - self.w / 2, self.cy - self.h / 2, self.w, self.h)


@dataclass(frozen=True)
class Field:
    """One question on a page.

    Parameters
    ----------
    id : str
        Unique on its page, for example ``p1.rating``.
    type : FieldType
        How many of its targets may be marked.
    targets : tuple of Target
        Its outlines; no value twice. A tick has one, with the value ``1``.
    """

    id: str
    type: FieldType
    targets: tuple[Target, ...]

    def __post_init__(self) -> None:
        """Refuse a question that cannot be answered in one way."""
        if not self.id or not self.targets:
            raise ValueError("a field needs an id and at least one target")
        _refuse_twice((target.value for target in self.targets), f"field {self.id} has value")
        is_tick = self.type is FieldType.TICK
        if is_tick and [target.value for target in self.targets] != ["1"]:
            raise ValueError(f"field {self.id} is a tick and needs one target with the value 1")


@dataclass(frozen=True)
class Marker:
    """One printed tag that helps a camera find the page.

    Parameters
    ----------
    id : int
        Number of the tag, from 0; see :mod:`sidelong.training.sheet_code`.
    box : Box
        Outer edge of its black border, mm.
    """

    id: int
    box: Box

    def __post_init__(self) -> None:
        """Refuse a number that no tag has."""
        if self.id < 0:
            raise ValueError(f"marker {self.id}: tags count from 0")


@dataclass(frozen=True)
class CheckLine:
    """The line whose printed length shows whether the page was printed at 100 %.

    Parameters
    ----------
    x1, y1, x2, y2 : float
        Its two ends, mm: where the line crosses the middle of the ticks at its ends.
    """

    x1: float
    y1: float
    x2: float
    y2: float

    def __post_init__(self) -> None:
        """Refuse a line without a length."""
        _refuse_unreal((self.x1, self.y1, self.x2, self.y2))
        if not self.length_mm > 0:
            raise ValueError("a check line needs a length")

    @property
    def length_mm(self) -> float:
        """Distance of its ends, mm."""
        return math.hypot(self.x2 - self.x1, self.y2 - self.y1)

    @property
    def box(self) -> Box:
        """A rectangle around it, 1 mm to each side."""
        left, top = min(self.x1, self.x2), min(self.y1, self.y2)
        width, height = abs(self.x2 - self.x1), abs(self.y2 - self.y1)
        return Box(left - 1, top - 1, width + 2, height + 2)


@dataclass(frozen=True)
class SheetPage:
    """One printed page.

    Parameters
    ----------
    page_id : str
        Unique in its layout; what a reader of the page reports.
    pdf_page : int
        Place in the PDF, from 0.
    width_mm, height_mm : float
        Size of the page.
    fields : tuple of Field
        Its questions, in reading order.
    note_boxes, free_boxes : tuple of Box
        Areas for notes, and for other writing such as the date.
    trainee : str
        The trainee's code; empty where the page belongs to nobody.
    course, version, night : int or None
        Whose night it is; None where the page is no night sheet. The spare sheet has no night
        until a person says which one it stands for.
    markers : tuple of Marker
        Its tags; no number twice.
    codes : tuple of Box
        Outer edges of its QR codes, quiet zone left out.
    check_line : CheckLine or None
        Where its check line lies.
    order : tuple of Position
        Positions from slot 1 on, as they are printed; empty where that is not known.
    scale : Scale or None
        Form of the rating; None where there is none.
    language : str
        BCP 47 tag that it is written in; empty where that is not known.
    part : int
        0 where a night stands on one page; 1 or 2 where the large print needs two. Fields of
        both parts together are those of the night.
    booklet : int
        Which one of those printed for the course, from 1.
    """

    page_id: str
    pdf_page: int
    width_mm: float
    height_mm: float
    fields: tuple[Field, ...]
    note_boxes: tuple[Box, ...] = ()
    free_boxes: tuple[Box, ...] = ()
    trainee: str = ""
    course: int | None = None
    version: int | None = None
    night: int | None = None
    markers: tuple[Marker, ...] = ()
    codes: tuple[Box, ...] = ()
    check_line: CheckLine | None = None
    order: tuple[Position, ...] = ()
    scale: Scale | None = None
    language: str = ""
    part: int = 0
    booklet: int = 1

    def __post_init__(self) -> None:
        """Refuse a page whose marks are not on it or cannot be told apart."""
        if not self.page_id or self.pdf_page < 0:
            raise ValueError("a page needs an id and a place in the PDF from 0")
        _refuse_unreal((self.width_mm, self.height_mm))
        if self.part not in (0, 1, 2):
            raise ValueError(f"page {self.page_id}: part {self.part} is not 0, 1 or 2")
        for number in (self.course, self.version, self.night, self.booklet):
            if number is not None and number < 1:
                what = "course, version, night and booklet count from 1"
                raise ValueError(f"page {self.page_id}: {what}")
        _refuse_twice((each.id for each in self.fields), f"page {self.page_id} has field")
        targets = [target for each in self.fields for target in each.targets]
        _refuse_twice((each.id for each in targets), f"page {self.page_id} has target")
        _refuse_twice((each.id for each in self.markers), f"page {self.page_id} has marker")
        _refuse_twice(self.order, f"page {self.page_id} has position")
        areas = [*(each.box for each in targets), *self.note_boxes]
        areas += [*self.free_boxes, *self.codes, *(each.box for each in self.markers)]
        areas += [] if self.check_line is None else [self.check_line.box]
        if not all(area.lies_within(self.width_mm, self.height_mm) for area in areas):
            raise ValueError(f"page {self.page_id} has an area that is not on the page")


@dataclass(frozen=True)
class Layout:
    """All pages of one PDF.

    Parameters
    ----------
    pdf : str
        Name of the PDF in the same folder.
    pages : tuple of SheetPage
        In the order of the PDF; other pages of the PDF are not listed.
    """

    pdf: str
    pages: tuple[SheetPage, ...]

    def __post_init__(self) -> None:
        """Refuse pages that cannot be told apart."""
        if not self.pdf or not self.pages:
            raise ValueError("a layout needs the name of its PDF and at least one page")
        if "/" in self.pdf or "\\" in self.pdf:
            raise ValueError("the PDF lies beside its layout: give its name without a folder")
        _refuse_twice((page.page_id for page in self.pages), "the layout has page")
        _refuse_twice((page.pdf_page for page in self.pages), "the layout has PDF page")


def _refuse_unreal(lengths: Iterable[float]) -> None:
    if not all(math.isfinite(length) for length in lengths):
        raise ValueError("a length is not a number")


def _refuse_twice(names: Iterable[object], where: str) -> None:
    seen: set[object] = set()
    for name in names:
        if name in seen:
            raise ValueError(f"{where} {name} twice")
        seen.add(name)
