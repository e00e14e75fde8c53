"""What the charts of staff documents show, as values; ``charts.typ`` draws them.

Every chart carries an alternative text that says what it shows, and stands beside a table with the
same figures. Marks differ by shape, never by colour alone.
"""

from dataclasses import dataclass
from typing import Literal

from sidelong.training.position import Position

Outcome = Literal["first", "later", "no", "unknown"]
NightState = Literal["full", "part", "none"]


@dataclass(frozen=True)
class TrendPoint:
    """One night of one line: rating 1..5 and its interval."""

    night: int
    expected: float
    lower: float
    upper: float

    def __post_init__(self) -> None:
        """Refuse an interval that does not hold its middle."""
        if not self.lower <= self.expected <= self.upper:
            raise ValueError(f"night {self.night}: the interval does not hold the expected rating")


@dataclass(frozen=True)
class TrendMark:
    """One answer as it was recorded; the shape says whether the piece went down."""

    night: int
    rating: int | None
    outcome: Outcome


@dataclass(frozen=True)
class TrendPanel:
    """One position over the nights."""

    position: Position
    name: str
    points: tuple[TrendPoint, ...]
    marks: tuple[TrendMark, ...]


@dataclass(frozen=True)
class TrendChart:
    """One small panel per position, all on the same axes.

    Parameters
    ----------
    alt : str
        What the panels show, in words.
    n_nights : int
        Length of the time axis, >= 1.
    low, high : str
        Words at the lower and upper end of the rating.
    night : str
        Word under the time axis.
    legend : tuple of (shape, str)
        Shapes are ``first``, ``later``, ``no``, ``unknown`` and ``band``.
    panels : tuple of TrendPanel
        In listed order of the positions.
    """

    alt: str
    n_nights: int
    low: str
    high: str
    night: str
    legend: tuple[tuple[str, str], ...]
    panels: tuple[TrendPanel, ...]

    def __post_init__(self) -> None:
        """Refuse a chart that says nothing to those who cannot see it."""
        if not self.alt or self.n_nights < 1:
            raise ValueError("a chart needs an alternative text and at least one night")


@dataclass(frozen=True)
class NightStrip:
    """A box per night: full, part or none written down.

    Parameters
    ----------
    alt : str
        What the boxes show, in words.
    states : tuple of str
        ``full``, ``part`` or ``none`` per night, night 1 first.
    legend : tuple of (state, str)
        The words for each state.
    """

    alt: str
    states: tuple[NightState, ...]
    legend: tuple[tuple[str, str], ...]
