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


@dataclass(frozen=True)
class CalibrationMark:
    """One group of similar chances: what was said, and the share that happened with its interval.

    Parameters
    ----------
    said, share, lower, upper : float
        In [0, 1].
    agrees : bool
        A full disc where the interval holds what was said, else a ring.
    """

    said: float
    share: float
    lower: float
    upper: float
    agrees: bool

    def __post_init__(self) -> None:
        """Refuse an interval that does not hold its share."""
        if not 0.0 <= self.lower <= self.share <= self.upper <= 1.0:
            raise ValueError("the interval of a share does not hold it, or leaves 0..1")


@dataclass(frozen=True)
class CalibrationChart:
    """A square: what was said across, what happened upward, and the line of kept promises.

    Parameters
    ----------
    alt : str
        What the square shows, in words.
    across, up : str
        Words of the axes.
    marks : tuple of CalibrationMark
        By ascending chance.
    chances : tuple of float
        Every stated chance, in [0, 1]: a short stroke each along the foot.
    legend : tuple of (shape, str)
        Shapes are ``first``, a full disc, and ``later``, a ring.
    """

    alt: str
    across: str
    up: str
    marks: tuple[CalibrationMark, ...]
    chances: tuple[float, ...]
    legend: tuple[tuple[str, str], ...]

    def __post_init__(self) -> None:
        """Refuse a chart that says nothing to those who cannot see it."""
        if not self.alt or not self.marks:
            raise ValueError("a chart needs an alternative text and at least one mark")
