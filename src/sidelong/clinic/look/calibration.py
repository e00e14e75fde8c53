"""What was said against what happened: one square, a mark for each group of similar chances.

A full disc lies where the share that happened agrees with what was said, a ring where it does not:
shape before colour. Short strokes along the foot show which chances were said at all.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sidelong.clinic.look.glyphs import picture_attributes
from sidelong.outcomes import CalibrationTable
from sidelong.pathway.promise_words import CalibrationRow, calibration_rows, describe_calibration

_SIZE = 300.0
_LEFT, _TOP, _FOOT = 44.0, 8.0, 40.0
_TICKS = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class CalibrationPicture:
    """All that ``parts/calibration.html`` shows.

    Parameters
    ----------
    alt : str
        What the plot shows, in words.
    svg : str
        One ``svg`` element without a name.
    rows : tuple of CalibrationRow
        The table behind.
    """

    alt: str
    svg: str
    rows: tuple[CalibrationRow, ...]


def picture_calibration(table: CalibrationTable, *, chances: Sequence[float]) -> CalibrationPicture:
    """Draw the groups of a calibration table.

    Parameters
    ----------
    table : CalibrationTable
        Shares and intervals by group.
    chances : sequence of float
        Every stated chance, in [0, 1], for the strokes along the foot.

    Returns
    -------
    CalibrationPicture
        For ``parts/calibration.html``.
    """
    drawn = draw_calibration(table, chances=chances)
    return CalibrationPicture(describe_calibration(table), drawn, calibration_rows(table))


def draw_calibration(table: CalibrationTable, *, chances: Sequence[float]) -> str:
    """Draw the square: the line of kept promises, a mark and an interval for each group.

    Parameters
    ----------
    table : CalibrationTable
        Shares and intervals by group.
    chances : sequence of float
        Every stated chance, in [0, 1].

    Returns
    -------
    str
        One ``svg`` element without a name; words and table stand beside it.
    """
    drawn = [*_frame(), *_strokes(chances), *_groups(table)]
    width, height = _LEFT + _SIZE + 20, _TOP + _SIZE + _FOOT
    attributes = f'viewBox="0 0 {width:g} {height:g}" {picture_attributes("")}'
    return f'<svg class="panel calibration" {attributes}>{"".join(drawn)}</svg>'


def _percent(share: float) -> int:
    return round(100 * float(share))


def _across(chance: float) -> float:
    return _LEFT + float(chance) * _SIZE


def _up(share: float) -> float:
    return _TOP + (1 - float(share)) * _SIZE


def _frame() -> Iterator[str]:
    for tick in _TICKS:
        yield f'<path d="M{_LEFT:g} {_up(tick):g} H{_LEFT + _SIZE:g}" class="hair"/>'
        yield (
            f'<text x="{_LEFT - 6:g}" y="{_up(tick) + 5:g}" text-anchor="end">'
            f"{_percent(tick)}</text>"
        )
        yield (
            f'<text x="{_across(tick):g}" y="{_TOP + _SIZE + 28:g}" text-anchor="middle">'
            f"{_percent(tick)}</text>"
        )
    corner = f"M{_across(0):g} {_up(0):g} L{_across(1):g} {_up(1):g}"
    yield f'<path d="{corner}" class="dashed"/>'
    yield f'<path d="M{_LEFT:g} {_TOP:g} V{_up(0):g} H{_LEFT + _SIZE:g}" class="ground"/>'


def _strokes(chances: Sequence[float]) -> Iterator[str]:
    foot = _up(0)
    lines = " ".join(f"M{_across(chance):.1f} {foot + 2:g} v8" for chance in chances)
    if lines:
        yield f'<path d="{lines}" class="said"/>'


def _groups(table: CalibrationTable) -> Iterator[str]:
    for group in range(table.n.size):
        x = _across(table.stated[group])
        low, high = _up(table.lower[group]), _up(table.upper[group])
        ends = f"M{x - 5:.1f} {low:.1f} h10 M{x - 5:.1f} {high:.1f} h10"
        yield f'<path d="M{x:.1f} {low:.1f} V{high:.1f} {ends}" class="interval"/>'
        kind = "full" if table.agrees[group] else "ring"
        y = _up(table.share[group])
        yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6.5" class="{kind}"/>'
