"""What is known of a lead's old spreadsheet: its columns, words, scale and order."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from sidelong.exchange.columns import CellFault
from sidelong.training.position import Position

BEST, DATE, ORDER = "best", "date", "order"
SAME = "all the same"


@dataclass(frozen=True)
class RatingScale:
    """Numbers of the old scale, and how they become ratings.

    Parameters
    ----------
    hardest, easiest : float
        Ends of the old scale; which one is larger does not matter.
    cuts : tuple of float
        Four numbers between the ends, from the hard to the easy side: up to the first is a
        rating of 1. Empty for equal steps: the nearest rating is taken, and the one nearer to
        the middle where two are as near.
    """

    hardest: float
    easiest: float
    cuts: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a scale without a direction and cuts that do not ascend."""
        if not all(map(math.isfinite, (self.hardest, self.easiest, *self.cuts))):
            raise ValueError("an end or a cut is not a number")
        if self.hardest == self.easiest:
            raise ValueError("hardest and easiest are the same number")
        inner = [self._ease(cut) for cut in self.cuts]
        if self.cuts and (len(inner) != 4 or inner != sorted(set(inner))):
            raise ValueError("cuts must be four numbers from the hard to the easy side")
        if any(not 0 < each < 1 for each in inner):
            raise ValueError("cuts must lie between the ends of the scale")

    def rate(self, number: float) -> int:
        """Give the rating for a number of the old scale.

        Parameters
        ----------
        number : float
            Between the two ends.

        Returns
        -------
        int
            1 very hard to 5 very easy.

        Raises
        ------
        ValueError
            If the number is not on the scale.
        """
        ease = self._ease(number)
        if not 0 <= ease <= 1:
            raise ValueError(f"{number:g} is not within the ends of the scale")
        if self.cuts:
            return 1 + sum(ease > self._ease(cut) for cut in self.cuts)
        distance = 4 * ease - 2
        steps = abs(distance)
        whole = int(steps)
        # Exactly between two ratings goes to the one nearer to the middle.
        whole += steps - whole > 0.5
        return 3 + (whole if distance > 0 else -whole)

    def _ease(self, number: float) -> float:
        """Place of a number on the way from hardest, 0, to easiest, 1."""
        return (number - self.hardest) / (self.easiest - self.hardest)


@dataclass(frozen=True)
class SheetMapping:
    """How an old spreadsheet translates.

    Parameters
    ----------
    file : str
        The mapping file's name, for messages.
    is_wide : bool
        True for a row per night with a group of columns per position, False for a row per piece.
    header_row : int
        Row of the header.
    columns : mapping of str to str
        Theirs by ours; beside our columns ``best``, ``date`` and ``order``.
    groups : mapping of Position to mapping of str to str
        Theirs by ours for every position of a wide sheet.
    slots : str or tuple of Position
        Where the order of a night comes from: ``column``, ``order``, ``plans``, ``rows``, or the
        same positions every night.
    fixed : mapping of str to str
        Cells that the sheet lacks and that are the same everywhere.
    words : mapping of str to mapping of str to str
        For a column of ours, what their words mean.
    scale : RatingScale or None
        How their numbers become ratings.
    dates, times : str
        Formats in the notation of :meth:`datetime.datetime.strptime`; empty for ISO 8601.
    zone : ZoneInfo or None
        Time zone of times without an offset.
    blanks : frozenset of str
        Words that mean an empty cell.
    fill_down : frozenset of str
        Columns of ours whose empty cells repeat the cell above.
    ignored : tuple of str
        Columns of theirs that are left out.
    """

    file: str
    is_wide: bool
    header_row: int
    columns: Mapping[str, str]
    groups: Mapping[Position, Mapping[str, str]]
    slots: str | tuple[Position, ...]
    fixed: Mapping[str, str]
    words: Mapping[str, Mapping[str, str]]
    scale: RatingScale | None = None
    dates: str = ""
    times: str = ""
    zone: ZoneInfo | None = None
    blanks: frozenset[str] = frozenset()
    fill_down: frozenset[str] = frozenset()
    ignored: tuple[str, ...] = field(default=())

    @property
    def theirs(self) -> tuple[str, ...]:
        """Every column of the old spreadsheet that is used, each once."""
        grouped = (name for group in self.groups.values() for name in group.values())
        return tuple(dict.fromkeys((*self.columns.values(), *grouped)))


def same_word(text: str) -> str:
    """Bring a word to the form in which words are compared: case and blanks do not count."""
    return " ".join(text.split()).casefold()


@dataclass
class OldRow:
    """A row of entries in the making: cells are completed night by night.

    Parameters
    ----------
    number : int
        The old spreadsheet's row.
    cells : dict of str to str or CellFault
        Text by our column, or what was wrong with theirs.
    labels : dict of str to str
        Their name by our column.
    """

    number: int
    cells: dict[str, str | CellFault]
    labels: dict[str, str]
