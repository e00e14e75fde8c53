"""The table of plans: one row for every trainee, night and slot, in the order of enrolment."""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.rows import (
    find_code_twins,
    find_differences,
    find_repeats,
    first_filled,
    group_rows,
)
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.plan import AllocationRecord, Night, Plan
from sidelong.training.position import Position, in_listed_order

TRAINEE = Column(name="trainee", kind=Kind.CODE, says="The trainee's code; never a name.")
NIGHT = Column(
    name="night", kind=Kind.INTEGER, least=1, most=366, says="Number of the sheet, from 1."
)
SLOT = Column(
    name="slot",
    kind=Kind.INTEGER,
    least=1,
    most=len(Position),
    says="Place in the night's order, from 1.",
)
POSITION = Column(
    name="position",
    kind=Kind.CHOICE,
    choices=tuple(Position),
    says="Head position; left and right are the trainee's own.",
)


def optional(name: str, kind: Kind, says: str) -> Column:
    """Describe a column that a table may lack and whose cells may be empty."""
    return Column(name=name, kind=kind, says=says, is_required=False, may_be_blank=True)


SITE = optional("site", Kind.LABEL, "Where the trainee practises.")
BAND = optional("band", Kind.LABEL, "Age band that the site uses.")
COURSE, VERSION = (
    Column(
        name=name,
        kind=Kind.INTEGER,
        least=1,
        most=99,
        is_required=False,
        may_be_blank=True,
        says=says,
    )
    for name, says in (
        ("course", "Course of the trainee, from 1; 1 where empty."),
        ("version", "Version of the plan within the course, from 1; 1 where empty."),
    )
)
PLAN_COLUMNS = (
    TRAINEE,
    NIGHT,
    SLOT,
    POSITION,
    Column(
        name="piece_mm",
        kind=Kind.NUMBER,
        above=0,
        most=50,
        says="Largest dimension of the night's piece, mm; the same in all slots of a night.",
    ),
    SITE,
    BAND,
    COURSE,
    VERSION,
    optional("piece", Kind.CODE, "Code of the piece in the site's list."),
    optional("start", Kind.DATE, "First evening, where one was agreed."),
    optional("protocol_version", Kind.LABEL, "Version of the signed protocol."),
    optional("stream", Kind.LABEL, "Stream from which the orders were drawn."),
    Column(
        name="stream_index",
        kind=Kind.INTEGER,
        least=0,
        is_required=False,
        may_be_blank=True,
        says="Place of the trainee in the stream, from 0.",
    ),
    optional("commitment", Kind.LABEL, "SHA-256 of the secret seed, hexadecimal."),
)
_OF_A_PLAN = (
    "site",
    "band",
    "start",
    "protocol_version",
    "stream",
    "stream_index",
    "commitment",
)
_ALLOCATION = ("stream", "stream_index", "commitment")


def read_plans(path: Path) -> tuple[Plan, ...]:
    """Read plans, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        Table of plans. Rows of a trainee need not stand together.

    Returns
    -------
    tuple of Plan
        In the order of each plan's first row, which is the order of enrolment.

    Raises
    ------
    Refused
        If a cell, a night or a plan is not as it must be.
    """
    scan = scan_table(path, PLAN_COLUMNS)
    faults = [*scan.faults, *find_code_twins(scan.rows)]
    plans = []
    # A row whose trainee or night is unknown leaves a gap somewhere: gaps are not faults then.
    is_certain = all(row.faulty.isdisjoint(_KEY) for row in scan.rows)
    plan_key = ("trainee", "course", "version")
    for rows in group_rows(scan.rows, plan_key, blanks={"course": 1, "version": 1}).values():
        wrong = list(_find_faults(rows, is_certain=is_certain))
        faults += wrong
        if not wrong and not any(row.faulty for row in rows):
            plans.append(_make_plan(rows))
    if faults:
        raise Refused(faults)
    return tuple(plans)


def write_plans(path: Path, plans: Iterable[Plan]) -> None:
    """Write plans whole, or not at all.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    plans : iterable of Plan
        In the order of enrolment.
    """
    write_table(path, PLAN_COLUMNS, (row for plan in plans for row in _plan_rows(plan)))


_KEY = ("trainee", "night", "slot", "course", "version")


def _plan_rows(plan: Plan) -> Iterator[dict[str, Value]]:
    drawn = plan.allocation
    of_plan: dict[str, Value] = {
        "trainee": plan.trainee,
        "site": plan.site,
        "band": plan.band,
        "course": plan.course,
        "version": plan.version,
        "start": plan.start,
        "protocol_version": plan.protocol_version,
        "stream": drawn.stream if drawn else None,
        "stream_index": drawn.index if drawn else None,
        "commitment": drawn.commitment if drawn else None,
    }
    for number, night in enumerate(plan.nights, start=1):
        of_night: dict[str, Value] = {
            "night": number,
            "piece_mm": float(night.piece_mm),
            "piece": night.piece,
        }
        for slot, position in enumerate(night.order, start=1):
            yield of_plan | of_night | {"slot": slot, "position": position.value}


def _find_faults(rows: Sequence[Row], *, is_certain: bool) -> Iterator[Problem]:
    """Find what is wrong between the rows of one plan."""
    nights = group_rows(rows, ("night",))
    is_whole = is_certain and not any(row.faulty for row in rows)
    for (night,), of_night in sorted(nights.items()):
        repeats = list(find_repeats(of_night, "slot", of=f"night {night}"))
        repeats = repeats or list(find_repeats(of_night, "position", of=f"night {night}"))
        yield from repeats
        yield from find_differences(of_night, ("piece_mm", "piece"), within="a night")
        if is_whole and not repeats:
            yield from _find_slot_gap(of_night)
    yield from find_differences(rows, _OF_A_PLAN, within="a plan")
    if not is_whole:
        return
    yield from _find_night_gap(rows, {night for (night,) in nights})
    yield from _find_change_of_positions([nights[key] for key in sorted(nights)])
    given = [column for column in _ALLOCATION if first_filled(rows, column) is not None]
    if given and len(given) < len(_ALLOCATION):
        missing = next(column for column in _ALLOCATION if column not in given)
        remedy = f"Give all of {', '.join(_ALLOCATION)}, or none."
        yield rows[0].problem(missing, "the allocation record is not whole", remedy, kind="plan")


def _find_slot_gap(of_night: Sequence[Row]) -> Iterator[Problem]:
    slots = sorted(row["slot"] for row in of_night)
    if slots != list(range(1, len(slots) + 1)):
        row = of_night[0]
        what = f"night {row['night']} has slots {', '.join(map(str, slots))}"
        remedy = "Number a night's slots 1, 2, 3 without a gap."
        yield row.problem("slot", what, remedy, kind="plan")


def _find_night_gap(rows: Sequence[Row], nights: set[int]) -> Iterator[Problem]:
    missing = sorted(set(range(1, max(nights) + 1)) - nights)
    if missing:
        what = f"the plan has no night {', '.join(map(str, missing))}"
        remedy = "Plan every night from 1 to the last; nights that were missed stay in the plan."
        yield rows[0].problem("night", what, remedy, kind="plan")


def _find_change_of_positions(nights: Sequence[Sequence[Row]]) -> Iterator[Problem]:
    first = {row["position"] for row in nights[0]}
    for of_night in nights[1:]:
        used = {row["position"] for row in of_night}
        if used != first:
            listed = in_listed_order({Position(each) for each in used})
            what = f"night {of_night[0]['night']} uses {', '.join(listed)}, unlike night 1"
            remedy = "Use the same positions every night; another set is a new plan version."
            yield of_night[0].problem("position", what, remedy, kind="plan")


def _make_plan(rows: Sequence[Row]) -> Plan:
    nights = group_rows(rows, ("night",))
    stream = first_filled(rows, "stream")
    return Plan(
        trainee=rows[0]["trainee"],
        nights=tuple(_make_night(nights[key]) for key in sorted(nights)),
        site=first_filled(rows, "site") or "",
        band=first_filled(rows, "band") or "",
        course=rows[0]["course"] or 1,
        version=rows[0]["version"] or 1,
        start=first_filled(rows, "start"),
        protocol_version=first_filled(rows, "protocol_version") or "",
        allocation=None
        if stream is None
        else AllocationRecord(
            first_filled(rows, "commitment"), stream, first_filled(rows, "stream_index")
        ),
    )


def _make_night(rows: Sequence[Row]) -> Night:
    in_order = sorted(rows, key=lambda row: int(row["slot"]))
    return Night(
        order=tuple(Position(row["position"]) for row in in_order),
        piece_mm=rows[0]["piece_mm"],
        piece=first_filled(rows, "piece") or "",
    )
