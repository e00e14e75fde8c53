"""What is wrong between the rows of a table of entries, and what is only worth a look.

Refused: what cannot all be true (a position twice in a night, two bests, a rating that the form
does not offer) or belongs to nobody (a trainee, night or position without a plan). Kept and
flagged: what may well be true (another order than planned, a favourite that did not go down,
times out of order).
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

from sidelong.exchange.columns import in_words, nearest
from sidelong.exchange.entry_nights import RecordedNight
from sidelong.exchange.rows import find_differences, find_repeats, first_filled
from sidelong.exchange.tables import Row
from sidelong.problems import Problem
from sidelong.training.entry import Scale, WentDown, WhyNot
from sidelong.training.plan import Plan

_OF_A_NIGHT = ("written_at", "written", "scale", "source", "site", "band")


def find_faults(
    nights: Sequence[RecordedNight], *, plans: Sequence[Plan] | None, today: date | None
) -> Iterator[Problem]:
    """Find what cannot be true, or belongs to no plan.

    Parameters
    ----------
    nights : sequence of RecordedNight
        All nights of a table.
    plans : sequence of Plan or None
        None checks nothing against plans.
    today : date or None
        None checks no time against the calendar.

    Yields
    ------
    Problem
        Faults by night.
    """
    if plans is not None:
        yield from _find_unplanned(nights, plans)
    for night in nights:
        yield from _find_night_faults(night)
        if night.is_planned:
            yield from _find_unplanned_positions(night)
        if today is not None:
            yield from _find_future(night, today)


def flag_unlikely(nights: Sequence[RecordedNight]) -> Iterator[Problem]:
    """Flag what is kept as recorded but is unlikely, or unlike the plan.

    Parameters
    ----------
    nights : sequence of RecordedNight
        All nights of a table without faults.

    Yields
    ------
    Problem
        Notices; nothing is refused for them.
    """
    for night in nights:
        yield from _flag_rows(night.rows)
        yield from _flag_half_named(night)
        if night.is_planned:
            yield from _flag_unlike_plan(night)
    for before, after in pairwise(nights):
        if (before.trainee, before.course) == (after.trainee, after.course):
            yield from _flag_change(before, after)


def _find_night_faults(night: RecordedNight) -> Iterator[Problem]:
    of = f"night {night.night}"
    repeats = list(find_repeats(night.rows, "position", of=of))
    yield from repeats
    if not repeats and not any("position" in row.faulty for row in night.rows):
        yield from find_repeats(night.rows, "slot", of=of)
    bests = [row for row in night.rows if row["felt_best"] == 1]
    for row in bests[1:] if not repeats else []:
        what = f"night {night.night} has two bests, first in row {bests[0].number}"
        remedy = "Look at the sheet: leave 1 on one of them, or 0 on all for all the same."
        yield row.problem("felt_best", what, remedy, kind="two-bests")
    yield from find_differences(night.rows, _OF_A_NIGHT, within="a night")
    yield from _find_ratings_not_offered(night.rows)


def _find_ratings_not_offered(rows: Sequence[Row]) -> Iterator[Problem]:
    offered = Scale(first_filled(rows, "scale") or 5).ratings
    for row in rows:
        if row["rating"] is not None and row["rating"] not in offered:
            what = f"{row['rating']} is not offered by a form of {len(offered)} answers"
            remedy = f"Use {in_words(map(str, offered))}, or correct the scale."
            yield row.problem("rating", what, remedy, kind="rating-scale")


def _find_future(night: RecordedNight, today: date) -> Iterator[Problem]:
    # One day of grace: somewhere it is tomorrow already.
    latest = datetime(today.year, today.month, today.day, tzinfo=UTC) + timedelta(days=2)
    for row in night.rows:
        if row["written_at"] is not None and row["written_at"] >= latest:
            what = f"{row['written_at'].date()} is in the future; today is {today}"
            remedy = "Correct the date, or the clock of the device that wrote it."
            yield row.problem("written_at", what, remedy, kind="future")
            return


def _find_unplanned(nights: Sequence[RecordedNight], plans: Sequence[Plan]) -> Iterator[Problem]:
    """Find trainees, versions and nights that no plan has; each once, with the rows counted."""
    known = {plan.trainee for plan in plans}
    first: dict[tuple[object, ...], tuple[Row, str, str, str]] = {}
    rows_of: dict[tuple[object, ...], int] = {}
    for night in nights:
        if night.is_planned:
            continue
        key, found = _say_unplanned(night, known)
        first.setdefault(key, (night.rows[0], *found))
        rows_of[key] = rows_of.get(key, 0) + len(night.rows)
    for key, (row, column, what, remedy) in first.items():
        more = f" ({rows_of[key]} rows)" if rows_of[key] > 1 else ""
        yield row.problem(column, what + more, remedy, kind="no-plan")


def _say_unplanned(
    night: RecordedNight, known: set[str]
) -> tuple[tuple[object, ...], tuple[str, str, str]]:
    """Say what of a night no plan has: which kind of thing, and column, fault and remedy."""
    code = night.trainee
    if code not in known:
        remedy = f"Correct the code, or give the plans that it is in.{nearest(code, known)}"
        return (code,), ("trainee", f"{code} is in no plan", remedy)
    if night.plan is None:
        what = f"{code} has no plan for course {night.course}, version {night.version}"
        remedy = "Correct course and version, or give that plan."
        return (code, night.course, night.version), ("version", what, remedy)
    what = f"night {night.night} is beyond the {len(night.plan.nights)} nights of the plan"
    key = (code, night.course, night.version, night.night)
    return key, ("night", what, "Correct the night: it is the number of the sheet.")


def _find_unplanned_positions(night: RecordedNight) -> Iterator[Problem]:
    if night.plan is None:
        return
    planned = night.plan.positions
    for row in night.rows:
        if row["position"] is not None and row["position"] not in planned:
            what = f"{row['position']} is not in the plan of {night.trainee}"
            remedy = (
                f"Look at the sheet: the plan has {in_words(planned)}. A position that was ruled "
                "out and practised all the same is to be told to a clinician, not analysed."
            )
            yield row.problem("position", what, remedy, kind="no-plan")


def _flag_rows(rows: Iterable[Row]) -> Iterator[Problem]:
    for row in rows:
        down, why_not = row["went_down"], row["why_not"]
        if row["felt_best"] == 1 and down == WentDown.NO:
            what = "the night's best did not go down"
            yield _notice(row, "felt_best", what)
        if why_not is not None and down == WentDown.FIRST:
            yield _notice(row, "why_not", "it says why not, but the piece went down first try")
        answered = row["rating"] is not None or down in {WentDown.FIRST, WentDown.LATER}
        if why_not == WhyNot.NOT_TRIED and answered:
            yield _notice(row, "why_not", "it says not tried, but there is an answer")


def _flag_half_named(night: RecordedNight) -> Iterator[Problem]:
    """Flag nights in which felt_best is filled in some rows and empty in others."""
    empty = [row for row in night.rows if row["felt_best"] is None]
    if not empty or len(empty) == len(night.rows):
        return
    has_best = any(row["felt_best"] == 1 for row in night.rows)
    meaning = "0" if has_best else "none named"
    what = f"it is empty here and filled in other rows of night {night.night}"
    yield _notice(empty[0], "felt_best", what, f"It was taken as {meaning}.")


def _flag_unlike_plan(night: RecordedNight) -> Iterator[Problem]:
    if night.plan is None:
        return
    planned = night.plan.nights[night.night - 1]
    slots = {position: slot for slot, position in enumerate(planned.order, start=1)}
    other = [row for row in night.rows if slots[row["position"]] != row["slot"]]
    if other:
        what = f"the order of night {night.night} is not the planned {', '.join(planned.order)}"
        remedy = "It was taken as it was done; check that the sheet was not typed in listed order."
        yield _notice(other[0], "slot", what, remedy)
    sizes = [row for row in night.rows if row["piece_mm"] not in {None, planned.piece_mm}]
    if sizes:
        what = f"{sizes[0]['piece_mm']:g} mm is not the planned {planned.piece_mm:g} mm"
        yield _notice(sizes[0], "piece_mm", what)
    for column in ("site", "band"):
        said, meant = first_filled(night.rows, column), getattr(night.plan, column)
        if said is not None and meant and said != meant:
            yield _notice(night.rows[0], column, f"the {column} is not that of the plan")


def _flag_change(before: RecordedNight, after: RecordedNight) -> Iterator[Problem]:
    """Flag what should not change from one recorded night of a course to the next."""
    row = after.rows[0]
    then, now = (first_filled(night.rows, "written_at") for night in (before, after))
    if then is not None and now is not None and now < then:
        what = f"night {after.night} was written before night {before.night}"
        yield _notice(row, "written_at", what)
    scales = [first_filled(night.rows, "scale") or 5 for night in (before, after)]
    if scales[0] != scales[1]:
        what = f"the form changes from {scales[0]} to {scales[1]} answers within a course"
        yield _notice(row, "scale", what)
    if before.version != after.version and after.night <= before.night:
        what = f"night {after.night} is recorded again under version {after.version}"
        yield _notice(row, "version", what)


def _notice(row: Row, column: str, what: str, remedy: str = "It was kept as recorded.") -> Problem:
    return row.problem(column, what, remedy, kind="notice")
