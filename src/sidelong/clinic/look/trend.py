"""The positions over the nights, one small panel each, as in the printed report.

Values come from :func:`sidelong.pathway.reports.compose_report` (``report.trend``), so page and
paper draw the same figures and say the same sentence to those who cannot see them.
"""

from collections.abc import Callable
from dataclasses import dataclass

from sidelong.clinic.look.glyphs import picture_attributes
from sidelong.paper.charts import TrendChart, TrendMark, TrendPanel, TrendPoint
from sidelong.paper.language import Language
from sidelong.training.position import Position

_WIDTH, _HEIGHT = 176, 120
_TOP, _BOTTOM = 4.0, 102.0
_DIGITS, _EDGE = 16.0, 4.0  # room for the digits of the rating, and on the other side
_INSET = 7.0
_MANY_NIGHTS = 16


@dataclass(frozen=True)
class DrawnPanel:
    """One position: its name, and its drawing as one ``svg`` element."""

    position: Position
    name: str
    svg: str


@dataclass(frozen=True)
class TrendCell:
    """One position on one night, in words.

    Parameters
    ----------
    name : str
        The position.
    rating : str
        The digit that was answered; empty where none was.
    outcome : str
        Shape of :func:`sidelong.clinic.look.marks.draw_mark`; empty where nothing was recorded.
    outcome_words : str
        What the shape means.
    estimate : str
        Expected rating and its interval; empty where there is none.
    """

    name: str
    rating: str
    outcome: str
    outcome_words: str
    estimate: str


@dataclass(frozen=True)
class TrendPicture:
    """All that ``parts/trend.html`` shows.

    Parameters
    ----------
    alt : str
        What the panels show, in words; the same sentence as in the PDF.
    low, high, night : str
        Words at the ends of the rating, and of the time axis.
    panels : tuple of DrawnPanel
        In listed order of the positions.
    legend : tuple of (shape, str)
        Marks and what they mean.
    rows : tuple of (int, tuple of TrendCell)
        The table behind: a row for each night.
    """

    alt: str
    low: str
    high: str
    night: str
    panels: tuple[DrawnPanel, ...]
    legend: tuple[tuple[str, str], ...]
    rows: tuple[tuple[int, tuple[TrendCell, ...]], ...]


def picture_trend(chart: TrendChart, *, language: Language) -> TrendPicture:
    """Draw the panels and lay out the table behind them.

    Parameters
    ----------
    chart : TrendChart
        Values and words of the chart.
    language : Language
        Time runs with its lines; says the table's cells.

    Returns
    -------
    TrendPicture
        For ``parts/trend.html``.
    """
    flipped = language.is_right_to_left
    panels = tuple(
        DrawnPanel(panel.position, panel.name, draw_panel(panel, chart=chart, flipped=flipped))
        for panel in chart.panels
    )
    words = dict(chart.legend)
    rows = tuple(
        (night, tuple(_cell(panel, night, words, language) for panel in chart.panels))
        for night in range(1, chart.n_nights + 1)
    )
    return TrendPicture(chart.alt, chart.low, chart.high, chart.night, panels, chart.legend, rows)


def draw_panel(panel: TrendPanel, *, chart: TrendChart, flipped: bool = False) -> str:
    """Draw one position over the nights: marks, the estimate's line, and its band.

    Parameters
    ----------
    panel : TrendPanel
        Points and marks of one position.
    chart : TrendChart
        The axes that all panels share.
    flipped : bool
        Whether time runs from right to left. The drawn head beside it is never flipped.

    Returns
    -------
    str
        One ``svg`` element without a name; the whole chart carries one sentence.
    """
    start = _EDGE if flipped else _DIGITS
    end = _WIDTH - (_DIGITS if flipped else _EDGE)

    def across(night: int) -> float:
        part = 0.5 if chart.n_nights == 1 else (night - 1) / (chart.n_nights - 1)
        span = end - start - 2 * _INSET
        return start + _INSET + (1 - part if flipped else part) * span

    drawn = [
        *_axes(start, end, chart, across, flipped=flipped),
        *_band(panel.points, across),
        *(_mark(mark, across(mark.night), _radius(chart)) for mark in panel.marks),
    ]
    attributes = f'class="panel" viewBox="0 0 {_WIDTH} {_HEIGHT}" {picture_attributes("")}'
    return f"<svg {attributes}>{''.join(drawn)}</svg>"


def _up(rating: float) -> float:
    return _BOTTOM - (rating - 0.6) / 4.8 * (_BOTTOM - _TOP)


def _radius(chart: TrendChart) -> float:
    return 2.6 if chart.n_nights > _MANY_NIGHTS else 3.6


def _axes(
    start: float,
    end: float,
    chart: TrendChart,
    across: Callable[[int], float],
    *,
    flipped: bool,
) -> list[str]:
    label_x = end + 5 if flipped else start - 5
    anchor = "start" if flipped else "end"
    lines = [
        f'<path d="M{start:g} {_up(step):.1f} H{end:g}" class="hair"/>' for step in range(1, 6)
    ]
    digits = [
        f'<text x="{label_x:g}" y="{_up(step) + 4:.1f}" text-anchor="{anchor}">{step}</text>'
        for step in (1, 3, 5)
    ]
    nights = (1,) if chart.n_nights == 1 else (1, chart.n_nights)
    ends = [
        f'<text x="{across(night):.1f}" y="{_HEIGHT - 4}" text-anchor="middle">{night}</text>'
        for night in nights
    ]
    ground = f'<path d="M{start:g} {_BOTTOM:g} H{end:g}" class="ground"/>'
    return [*lines, ground, *digits, *ends]


def _band(points: tuple[TrendPoint, ...], across: Callable[[int], float]) -> list[str]:
    if not points:
        return []
    upper = [f"{across(point.night):.1f} {_up(point.upper):.1f}" for point in points]
    lower = [f"{across(point.night):.1f} {_up(point.lower):.1f}" for point in reversed(points)]
    middle = [f"{across(point.night):.1f} {_up(point.expected):.1f}" for point in points]
    return [
        f'<path d="M{" L".join([*upper, *lower])} Z" class="band"/>',
        f'<path d="M{" L".join(middle)}" class="middle"/>',
    ]


def _mark(mark: TrendMark, x: float, r: float) -> str:
    y = _BOTTOM if mark.rating is None else _up(mark.rating)
    if mark.outcome == "no":
        path = f"M{x - r:.1f} {y - r:.1f} l{2 * r} {2 * r} m0 {-2 * r} l{-2 * r} {2 * r}"
        return f'<path d="{path}" class="stroke"/>'
    if mark.outcome == "unknown":
        size = f'width="{2 * r}" height="{2 * r}"'
        return f'<rect x="{x - r:.1f}" y="{y - r:.1f}" {size} class="pale"/>'
    kind = "full" if mark.outcome == "first" else "ring"
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r}" class="{kind}"/>'


def _cell(panel: TrendPanel, night: int, words: dict[str, str], language: Language) -> TrendCell:
    marks = [mark for mark in panel.marks if mark.night == night]
    points = [point for point in panel.points if point.night == night]
    mark = marks[0] if marks else None
    estimate = ""
    if points:
        estimate = language.say("{expected} ({lower} to {upper})").format(
            expected=f"{points[0].expected:.1f}",
            lower=f"{points[0].lower:.1f}",
            upper=f"{points[0].upper:.1f}",
        )
    return TrendCell(
        name=panel.name,
        rating="" if mark is None or mark.rating is None else str(mark.rating),
        outcome="" if mark is None else mark.outcome,
        outcome_words="" if mark is None else words.get(mark.outcome, mark.outcome),
        estimate=estimate,
    )
