"""How likely a piece goes down, before which position may be best: drawn into the table itself."""

from dataclasses import dataclass

from sidelong.clinic.look.marks import draw_pieces, draw_share
from sidelong.paper.language import Language
from sidelong.paper.report import ChanceRow, ChanceTable
from sidelong.training.estimate import Estimate


@dataclass(frozen=True)
class DrawnChances:
    """One position: its words, ten pieces, and its share of being the best.

    Parameters
    ----------
    row : ChanceRow
        The words.
    pieces, share : str
        ``svg`` elements without names; the words beside them say the same.
    is_ahead : bool
        Whether it has the largest chance of being the best among those that may be suggested.
    """

    row: ChanceRow
    pieces: str
    share: str
    is_ahead: bool


@dataclass(frozen=True)
class ChancesPicture:
    """All that ``parts/chances.html`` shows."""

    heading: str
    sentences: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[DrawnChances, ...]


def picture_chances(
    table: ChanceTable, *, estimate: Estimate, language: Language
) -> ChancesPicture:
    """Draw the chances of one report.

    Parameters
    ----------
    table : ChanceTable
        ``report.chances``.
    estimate : Estimate
        The estimate that the report was composed from.
    language : Language
        Rows of pieces fill with its lines.

    Returns
    -------
    ChancesPicture
        For ``parts/chances.html``.

    Raises
    ------
    ValueError
        If table and estimate do not name the same positions in the same order.
    """
    if [row.position for row in table.rows] != [each.position for each in estimate.positions]:
        raise ValueError("the table of chances and the estimate must name the same positions")
    open_to = [each.p_best for each in estimate.positions if each.may_recommend]
    most = max(open_to, default=None)
    rows = []
    for row, each in zip(table.rows, estimate.positions, strict=True):
        is_ahead = each.may_recommend and each.p_best == most and len(table.rows) > 1
        pieces = draw_pieces(row.first_try, flipped=language.is_right_to_left)
        rows.append(DrawnChances(row, pieces, draw_share(each.p_best, is_ahead=is_ahead), is_ahead))
    return ChancesPicture(table.heading, table.sentences, table.columns, tuple(rows))
