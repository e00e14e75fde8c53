"""The table of estimates: one row for every trainee and position.

Numbers are rounded once, by :func:`as_written`; whoever prints an estimate beside its table rounds
with the same function first, so that page and table show equal numbers.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.plans import POSITION, TRAINEE
from sidelong.exchange.rows import find_code_twins, find_differences, find_repeats, group_rows
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.estimate import Estimate, FurtherNights, PositionEstimate, Verdict
from sidelong.training.position import Position

DECIMALS = 4
_UNITS = 10**DECIMALS


def _number(name: str, says: str, *, least: float, most: float) -> Column:
    return Column(name=name, kind=Kind.NUMBER, least=least, most=most, decimals=DECIMALS, says=says)


ESTIMATE_COLUMNS = (
    TRAINEE,
    POSITION,
    _number("p_best", "Chance that this position is the best; sums to 1.", least=0, most=1),
    _number("p_first_try", "Chance that a piece goes down first try.", least=0, most=1),
    _number(
        "expected_rating",
        "Expected rating on the 1..5 scale, first night after the last one planned.",
        least=1,
        most=5,
    ),
    _number("sd", "Standard deviation of that rating.", least=0, most=4),
    _number("lower", "Lower end of its 90 % interval.", least=1, most=5),
    _number("upper", "Upper end of its 90 % interval.", least=1, most=5),
    Column(
        name="nights_used",
        kind=Kind.INTEGER,
        least=0,
        says="Nights with at least one answer.",
    ),
    Column(
        name="verdict",
        kind=Kind.CHOICE,
        choices=tuple(Verdict),
        says="The answer in a word; the same in all rows of a trainee.",
    ),
)


@dataclass(frozen=True)
class WrittenEstimate:
    """What the table says of one trainee.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    positions : tuple of PositionEstimate
        In the table's order.
    nights_used : int
        Nights with at least one answer.
    verdict : Verdict
        The answer in a word.
    """

    trainee: str
    positions: tuple[PositionEstimate, ...]
    nights_used: int
    verdict: Verdict


def as_written(estimate: Estimate) -> Estimate:
    """Round an estimate to what the table holds: four decimals, chances that sum to 1.

    Chances of being best are rounded down, and the units that are left over go to the largest
    remainders, so that they still sum to exactly 1. Figures that pages show beside the table are
    rounded to as many digits, so that equal ones look equal.

    Parameters
    ----------
    estimate : Estimate
        As computed.

    Returns
    -------
    Estimate
        The same estimate with rounded numbers; rounding it again changes nothing.
    """
    chances = _share_out([each.p_best for each in estimate.positions])
    ahead = _share_out([each.chance_ahead for each in estimate.positions])
    return replace(
        estimate,
        positions=tuple(
            replace(
                each,
                p_best=chance,
                p_ahead=None if each.p_ahead is None else among_open,
                p_first_try=round(each.p_first_try, DECIMALS),
                expected_rating=round(each.expected_rating, DECIMALS),
                sd=round(each.sd, DECIMALS),
                lower=round(each.lower, DECIMALS),
                upper=round(each.upper, DECIMALS),
            )
            for each, chance, among_open in zip(estimate.positions, chances, ahead, strict=True)
        ),
        p_better=tuple(_rounded(chance) for chance in estimate.p_better),
        own_share=_rounded(estimate.own_share),
        further=None if estimate.further is None else _rounded_ahead(estimate.further),
    )


def write_estimates(path: Path, estimates: Iterable[Estimate]) -> None:
    """Write estimates whole, or not at all, rounded by :func:`as_written`.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    estimates : iterable of Estimate
        In the order in which they are to stand.
    """
    rounded = (as_written(estimate) for estimate in estimates)
    write_table(path, ESTIMATE_COLUMNS, (row for each in rounded for row in _rows(each)))


def read_estimates(path: Path) -> tuple[WrittenEstimate, ...]:
    """Read a table of estimates, or refuse it with every fault in it.

    Parameters
    ----------
    path : Path
        A table as :func:`write_estimates` writes it.

    Returns
    -------
    tuple of WrittenEstimate
        In the table's order.

    Raises
    ------
    Refused
        If a cell is wrong, a position twice, or a trainee's chances do not sum to 1.
    """
    scan = scan_table(path, ESTIMATE_COLUMNS)
    groups = group_rows(scan.rows, ("trainee",)).values()
    faults = [*scan.faults, *find_code_twins(scan.rows)]
    for rows in groups:
        faults += _find_faults(rows)
    if faults:
        raise Refused(faults)
    return tuple(_make_estimate(rows) for rows in groups)


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, DECIMALS)


def _rounded_ahead(further: FurtherNights) -> FurtherNights:
    return replace(
        further,
        highest_now=round(further.highest_now, DECIMALS),
        highest_then=round(further.highest_then, DECIMALS),
        another=round(further.another, DECIMALS),
    )


def _share_out(chances: Sequence[float]) -> list[float]:
    """Round chances that sum to 1 so that they still do, by largest remainders."""
    # A hair is added because 0.3 * 10000 may come out just below 3000.
    units = [int(chance * _UNITS + 1e-6) for chance in chances]
    remainders = [chance * _UNITS - whole for chance, whole in zip(chances, units, strict=True)]
    left = _UNITS - sum(units)
    order = sorted(range(len(units)), key=lambda place: (-remainders[place], place))
    for place in order[: max(left, 0)]:
        units[place] += 1
    return [each / _UNITS for each in units]


def _rows(estimate: Estimate) -> Iterator[dict[str, Value]]:
    for each in estimate.positions:
        yield {
            "trainee": estimate.trainee,
            "position": each.position,
            "p_best": float(each.p_best),
            "p_first_try": float(each.p_first_try),
            "expected_rating": float(each.expected_rating),
            "sd": float(each.sd),
            "lower": float(each.lower),
            "upper": float(each.upper),
            "nights_used": estimate.nights_used,
            "verdict": estimate.verdict,
        }


def _find_faults(rows: Sequence[Row]) -> Iterator[Problem]:
    code = rows[0]["trainee"]
    yield from find_repeats(rows, "position", of=code)
    yield from find_differences(rows, ("nights_used", "verdict"), within="a trainee")
    if any(row.faulty for row in rows):
        return
    total = sum(row["p_best"] for row in rows)
    # Each of five numbers may be half a unit off where another program rounded them.
    if abs(total - 1) > len(Position) / _UNITS:
        what = f"the chances of {code} sum to {total:.4f}"
        yield rows[0].problem("p_best", what, "They must sum to 1; is a row missing?")
    for row in rows:
        if not row["lower"] <= row["expected_rating"] <= row["upper"]:
            what = "the interval does not hold the expected rating"
            yield row.problem("lower", what, "Write the table again with the estimate command.")


def _make_estimate(rows: Sequence[Row]) -> WrittenEstimate:
    return WrittenEstimate(
        trainee=rows[0]["trainee"],
        positions=tuple(
            PositionEstimate(
                position=Position(row["position"]),
                p_best=row["p_best"],
                p_first_try=row["p_first_try"],
                expected_rating=row["expected_rating"],
                sd=row["sd"],
                lower=row["lower"],
                upper=row["upper"],
            )
            for row in rows
        ),
        nights_used=rows[0]["nights_used"],
        verdict=Verdict(rows[0]["verdict"]),
    )
