"""Where every mark of a printed sheet belongs: one truth for printing and for reading.

All lengths are millimetres on the true-size page, origin top left, x to the right, y down.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

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
        Whose night it is; None where the page is no night sheet.
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

    def __post_init__(self) -> None:
        """Refuse a page whose marks are not on it or cannot be told apart."""
        if not self.page_id or self.pdf_page < 0:
            raise ValueError("a page needs an id and a place in the PDF from 0")
        _refuse_unreal((self.width_mm, self.height_mm))
        for number in (self.course, self.version, self.night):
            if number is not None and number < 1:
                raise ValueError(f"page {self.page_id}: course, version and night count from 1")
        _refuse_twice((each.id for each in self.fields), f"page {self.page_id} has field")
        targets = [target for each in self.fields for target in each.targets]
        _refuse_twice((each.id for each in targets), f"page {self.page_id} has target")
        areas = [*(each.box for each in targets), *self.note_boxes, *self.free_boxes]
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
