"""The table of first real doses: one row for each course, to be laid against its estimate."""

from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.plans import COURSE, TRAINEE
from sidelong.exchange.rows import find_code_twins, find_repeats, group_rows
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.piece import LARGEST_MM, Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, SeenBy

_SEEN = ("yes", "no")


def _choice(name: str, choices: Iterable[str], says: str, *, is_known: bool = True) -> Column:
    return Column(
        name=name,
        kind=Kind.CHOICE,
        choices=tuple(choices),
        is_required=is_known,
        may_be_blank=not is_known,
        says=says,
    )


DOSE_COLUMNS = (
    TRAINEE,
    COURSE,
    Column(name="given_on", kind=Kind.DATE, says="Day of the first real dose, at the site."),
    Column(
        name="position",
        kind=Kind.CHOICE,
        choices=tuple(Position),
        may_be_blank=True,
        says="The position that was used; empty where nobody knows: then it is counted, and laid "
        "against nothing.",
    ),
    _choice("kind", DoseKind, "What it was; never a brand, and no medicine by name."),
    _choice("shape", Shape, "Its outline."),
    Column(
        name="largest_mm",
        kind=Kind.NUMBER,
        above=0,
        most=LARGEST_MM,
        says="Its largest dimension, mm.",
    ),
    _choice("seen_by", SeenBy, "Whether staff saw it; what home says is a report, counted apart."),
    _choice("went_down", WentDown, "Whether it went down at the first try, at a later one or not."),
    _choice(
        "why_not",
        (each for each in WhyNot if each is not WhyNot.NOT_TRIED),
        "Only where it did not go down.",
        is_known=False,
    ),
    Column(
        name="rating",
        kind=Kind.INTEGER,
        least=1,
        most=5,
        is_required=False,
        may_be_blank=True,
        says="How easy it felt, 1 very hard to 5 very easy.",
    ),
    _choice("whole", _SEEN, "Swallowed whole; empty where not known.", is_known=False),
    _choice("unchewed", _SEEN, "Not chewed; empty where not known.", is_known=False),
    _choice("unaided", _SEEN, "Without help; empty where not known.", is_known=False),
)


def read_doses(path: Path, *, today: date) -> tuple[FirstDose, ...]:
    """Read first doses, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        The table.
    today : date
        No dose was taken later.

    Returns
    -------
    tuple of FirstDose
        In the table's order; none where there is a header alone.

    Raises
    ------
    Refused
        If a cell is wrong, a course stands twice, answers contradict each other, or a day lies in
        the future.
    """
    scan = scan_table(path, DOSE_COLUMNS, may_be_empty=True)
    faults = [*scan.faults, *find_code_twins(scan.rows)]
    for (trainee, course), rows in group_rows(
        scan.rows, ("trainee", "course"), blanks={"course": 1}
    ).items():
        faults += find_repeats(rows, "trainee", of=f"course {course} of {trainee}")
    doses = []
    for row in scan.rows:
        if row["given_on"] is not None and row["given_on"] > today:
            what, remedy = "the day lies in the future", "Correct the day."
            faults.append(row.problem("given_on", what, remedy, kind="first-dose"))
        if not row.faulty:
            dose, contradictions = _try_dose(row)
            doses.append(dose)
            faults += contradictions
    if faults:
        raise Refused(faults)
    return tuple(dose for dose in doses if dose is not None)


def write_doses(path: Path, doses: Iterable[FirstDose]) -> None:
    """Write first doses, one row each.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    doses : iterable of FirstDose
        In the order in which they are to stand.
    """
    write_table(path, DOSE_COLUMNS, map(_cells, doses))


def _try_dose(row: Row) -> tuple[FirstDose | None, tuple[Problem, ...]]:
    """Make a dose, or give every answer of the row that contradicts another one."""
    try:
        return _dose(row), ()
    except Refused as refused:
        said = (
            row.problem(each.where, each.what, each.remedy, kind="first-dose")
            for each in refused.problems
        )
        return None, tuple(said)


def _dose(row: Row) -> FirstDose:
    return FirstDose(
        trainee=row["trainee"],
        course=row["course"] or 1,
        given_on=row["given_on"],
        position=Position(row["position"]) if row["position"] else None,
        kind=DoseKind(row["kind"]),
        shape=Shape(row["shape"]),
        largest_mm=row["largest_mm"],
        seen_by=SeenBy(row["seen_by"]),
        went_down=WentDown(row["went_down"]),
        why_not=WhyNot(row["why_not"]) if row["why_not"] else None,
        rating=row["rating"],
        **{name: _is_so(row[name]) for name in ("whole", "unchewed", "unaided")},
    )


def _is_so(word: str | None) -> bool | None:
    return None if word is None else word == "yes"


def _cells(dose: FirstDose) -> dict[str, Value]:
    return {
        "trainee": dose.trainee,
        "course": dose.course,
        "given_on": dose.given_on,
        "position": dose.position,
        "kind": dose.kind,
        "shape": dose.shape,
        "largest_mm": dose.largest_mm,
        "seen_by": dose.seen_by,
        "went_down": dose.went_down,
        "why_not": dose.why_not,
        "rating": dose.rating,
        **dict(_answers(dose)),
    }


def _answers(dose: FirstDose) -> Iterator[tuple[str, Value]]:
    for name in ("whole", "unchewed", "unaided"):
        answer = getattr(dose, name)
        yield name, None if answer is None else _SEEN[0] if answer else _SEEN[1]
