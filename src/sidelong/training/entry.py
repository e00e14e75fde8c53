"""What was recorded at home: answers, rows and entries.

An entry is one night of one trainee. It keeps a row per position that was tried, so that a night
that was stopped early, or half forgotten, is recorded as it was and nothing is filled in.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum, StrEnum

from sidelong.training.position import Position


class WentDown(StrEnum):
    """Whether a piece was swallowed, and how soon."""

    FIRST = "first"
    LATER = "later"
    NO = "no"


class WhyNot(StrEnum):
    """Why a piece did not go down."""

    SPAT_OUT = "spat_out"
    MELTED = "melted"
    REFUSED = "refused"
    NOT_TRIED = "not_tried"


class Written(StrEnum):
    """When the entry was written, in the family's own words."""

    SAME_EVENING = "same_evening"
    NEXT_DAY = "next_day"
    LATER = "later"


class RatedBy(StrEnum):
    """Who judged how easy it felt."""

    TRAINEE = "trainee"
    SUPPORTER = "supporter"


class Source(StrEnum):
    """How the entry reached the clinic."""

    SHEET = "sheet"
    DIARY = "diary"
    TYPED = "typed"


class Scale(IntEnum):
    """How many answers the trainee is offered; fixed for the course.

    The answers of every form are a subset of the five, so that one column holds all of them:
    five answers from 8 years, four from 5 to 7 (easy or hard, then a little or a lot), three as a
    fallback, two when only the first question was answered.
    """

    FIVE = 5
    FOUR = 4
    THREE = 3
    TWO = 2

    @property
    def ratings(self) -> tuple[int, ...]:
        """The ratings that this form can give, hardest first."""
        return _RATINGS[self]


_RATINGS = {
    Scale.FIVE: (1, 2, 3, 4, 5),
    Scale.FOUR: (1, 2, 4, 5),
    Scale.THREE: (1, 3, 5),
    Scale.TWO: (2, 4),
}


@dataclass(frozen=True)
class EntryRow:
    """One position of one night, as recorded.

    Parameters
    ----------
    slot : int
        Place in the night's order, 1..5.
    position : Position
        Where the head was.
    piece_mm : float or None
        Largest dimension of the piece, mm; None where it was not recorded.
    rating : int or None
        How easy it felt, 1 very hard to 5 very easy; None where blank.
    went_down : WentDown or None
        None where blank.
    why_not : WhyNot or None
        Only where it did not go down.
    rated_by : RatedBy or None
        None where it was not recorded.
    piece : str
        Code of the piece in the site's list; empty where it was not recorded.
    """

    slot: int
    position: Position
    piece_mm: float | None = None
    rating: int | None = None
    went_down: WentDown | None = None
    why_not: WhyNot | None = None
    rated_by: RatedBy | None = None
    piece: str = ""

    def __post_init__(self) -> None:
        """Refuse values outside their range."""
        if not 1 <= self.slot <= len(Position):
            raise ValueError(f"slot {self.slot} is not within 1..{len(Position)}")
        if self.rating is not None and not 1 <= self.rating <= 5:
            raise ValueError(f"rating {self.rating} is not within 1..5")
        if self.piece_mm is not None and not self.piece_mm > 0:
            raise ValueError(f"a piece of {self.piece_mm} mm cannot be")


@dataclass(frozen=True)
class Entry:
    """One night of one trainee.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    night : int
        The sheet's number, from 1.
    rows : tuple of EntryRow
        One per position that was tried, by slot; no position and no slot twice.
    felt_best : Position or None
        The evening's favourite; None where none was named.
    all_the_same : bool
        The trainee answered "all the same", which is an answer and not a blank.
    course, version : int
        Course of the trainee and plan version within it, from 1.
    scale : Scale
        Form of the rating that was offered.
    scale_is_said : bool
        Whether that was recorded; else five answers are taken for granted.
    written_at : datetime or None
        When it was written, with an offset.
    written : Written or None
        When it was written, in the family's words.
    source : Source or None
        How it reached the clinic.
    site, band : str
        Kept where the table has them, else empty.
    """

    trainee: str
    night: int
    rows: tuple[EntryRow, ...]
    felt_best: Position | None = None
    all_the_same: bool = False
    course: int = 1
    version: int = 1
    scale: Scale = Scale.FIVE
    scale_is_said: bool = True
    written_at: datetime | None = None
    written: Written | None = None
    source: Source | None = None
    site: str = ""
    band: str = ""

    def __post_init__(self) -> None:
        """Refuse an entry that contradicts itself."""
        if self.night < 1:
            raise ValueError(f"night {self.night} is not a sheet number")
        positions = [row.position for row in self.rows]
        if len(set(positions)) != len(positions):
            raise ValueError(f"night {self.night} has a position twice")
        slots = [row.slot for row in self.rows]
        if slots != sorted(set(slots)):
            raise ValueError(f"night {self.night} has a slot twice or out of order")
        if self.felt_best is not None and self.felt_best not in positions:
            raise ValueError(f"night {self.night} names a favourite that was not tried")
        if self.felt_best is not None and self.all_the_same:
            raise ValueError(f"night {self.night} names a favourite and says all the same")
        if self.written_at is not None and self.written_at.tzinfo is None:
            raise ValueError("written_at needs an offset")
