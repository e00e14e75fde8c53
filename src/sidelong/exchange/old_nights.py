"""What an old spreadsheet says of a whole night: its number, its order and its favourite."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from sidelong.exchange.columns import CellFault
from sidelong.exchange.old_sheets import BEST, DATE, ORDER, SAME, OldRow, SheetMapping
from sidelong.training.plan import Plan
from sidelong.training.position import ALL_POSITIONS, Position

_Cell = str | CellFault


def complete_nights(rows: Sequence[OldRow], rules: SheetMapping, plans: Sequence[Plan]) -> None:
    """Fill in night, slot and felt_best where the sheet says them for a night as a whole.

    Parameters
    ----------
    rows : sequence of OldRow
        All rows; their cells are completed in place.
    rules : SheetMapping
        What the mapping says.
    plans : sequence of Plan
        Source of the orders where the mapping says so.
    """
    if DATE in rules.columns:
        _number_nights(rows)
    nights: dict[tuple[str, ...], list[OldRow]] = defaultdict(list)
    for row in rows:
        nights[_night_key(row)].append(row)
    for of_night in nights.values():
        if BEST in rules.columns:
            _spread_best(of_night)
        else:
            _fill_beside_best(of_night)
        _order_night(of_night, rules.slots, plans)
    for row in rows:
        for special in (BEST, DATE, ORDER):
            row.cells.pop(special, None)


def _fill_beside_best(of_night: Sequence[OldRow]) -> None:
    """Answer 0 beside a favourite that alone was marked."""
    if any(row.cells.get("felt_best") == "1" for row in of_night):
        for row in of_night:
            row.cells["felt_best"] = row.cells.get("felt_best") or "0"


def _order_night(
    of_night: Sequence[OldRow], slots: str | Sequence[Position], plans: Iterable[Plan]
) -> None:
    """Give the rows of a night their slots, from the source that the mapping names."""
    if not isinstance(slots, str):
        _give_slots(of_night, slots)
    elif slots == "rows":
        for slot, row in enumerate(of_night, start=1):
            row.cells["slot"] = str(slot)
    elif slots == "order":
        _order_by_word(of_night)
    elif slots == "plans":
        _order_by_plan(of_night, plans)


def _night_key(row: OldRow) -> tuple[str, ...]:
    return tuple(str(row.cells.get(name, "")) for name in ("trainee", "course", "version", "night"))


def _number_nights(rows: Iterable[OldRow]) -> None:
    """Give each trainee's dates numbers from 1; a night that was missed leaves no gap."""
    dates: dict[tuple[str, str], set[str]] = defaultdict(set)
    for row in rows:
        row.labels["night"] = row.labels[DATE]
        if isinstance(day := row.cells[DATE], str) and day:
            dates[_course_key(row)].add(day)
    for row in rows:
        day = row.cells[DATE]
        if isinstance(day, CellFault):
            row.cells["night"] = day
        elif day:
            row.cells["night"] = str(1 + sorted(dates[_course_key(row)]).index(day))
        else:
            row.cells["night"] = ""


def _course_key(row: OldRow) -> tuple[str, str]:
    return str(row.cells.get("trainee", "")), str(row.cells.get("course", ""))


def _spread_best(of_night: Sequence[OldRow]) -> None:
    """Turn the name of the favourite into 1 and 0 on the rows of the night."""
    said: list[_Cell] = [row.cells[BEST] for row in of_night if row.cells[BEST] != ""]
    tried = {row.cells.get("position") for row in of_night}
    fault: CellFault | None = None
    if not said:
        best: _Cell = ""
    else:
        best = said[0]
        if isinstance(best, CellFault):
            fault = best
        elif any(other != best for other in said):
            fault = CellFault("the night has two bests", "Look at the old sheet and keep one.")
        elif best != SAME and best not in tried:
            remedy = "Look at the old sheet: name a position that has an answer, or leave it empty."
            fault = CellFault("the best has no answers in this night", remedy)
    for row in of_night:
        row.labels["felt_best"] = row.labels[BEST]
        row.cells["felt_best"] = str(int(row.cells.get("position") == best)) if said else ""
    if fault is not None:
        of_night[0].cells["felt_best"] = fault


def _order_by_word(of_night: Sequence[OldRow]) -> None:
    """Take the slots from the night's order, which stands in one or all of its rows."""
    said: list[_Cell] = [row.cells[ORDER] for row in of_night if row.cells[ORDER] != ""]
    for row in of_night:
        row.labels["slot"] = row.labels[ORDER]
        row.cells["slot"] = ""
    if said and isinstance(said[0], CellFault):
        # The fault is told once; what it leaves open is no further fault.
        _give_slots(of_night, ALL_POSITIONS)
        of_night[0].cells["slot"] = said[0]
    elif said and any(other != said[0] for other in said):
        remedy = "Write one order for a night."
        of_night[0].cells["slot"] = CellFault("the night has two orders", remedy)
    elif said:
        _give_slots(of_night, [Position(word) for word in str(said[0]).split(",")])


def _order_by_plan(of_night: Sequence[OldRow], plans: Iterable[Plan]) -> None:
    """Take the slots from the plan; what no plan has is found and told by later checks."""
    row = of_night[0]
    night = row.cells.get("night", "")
    course, version = row.cells.get("course") or "1", row.cells.get("version") or "1"
    mine = [plan for plan in plans if plan.trainee == row.cells.get("trainee")]
    if len(mine) > 1:
        mine = [plan for plan in mine if (str(plan.course), str(plan.version)) == (course, version)]
    order: Sequence[Position] = ALL_POSITIONS
    if mine and isinstance(night, str) and night.isdecimal():
        planned = mine[0].nights
        if 1 <= int(night) <= len(planned):
            order = planned[int(night) - 1].order
    unplanned = [position for position in ALL_POSITIONS if position not in order]
    _give_slots(of_night, [*order, *unplanned])


def _give_slots(of_night: Iterable[OldRow], order: Sequence[Position]) -> None:
    slots = {position.value: slot for slot, position in enumerate(order, start=1)}
    for row in of_night:
        position = row.cells.get("position", "")
        row.labels.setdefault("slot", "slot")
        if isinstance(position, CellFault):
            row.cells["slot"] = "1"
        elif position in slots:
            row.cells["slot"] = str(slots[position])
        else:
            remedy = "Add the position to the order, or correct it."
            row.cells["slot"] = CellFault("the night's order does not have this position", remedy)
