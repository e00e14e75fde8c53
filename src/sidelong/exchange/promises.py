"""The table of locked estimates, which is never written over, and the mark of a fit in it.

It keeps the promises of a site that works by command: what was said before the first real dose.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.estimates import ESTIMATE_COLUMNS
from sidelong.exchange.files import check_free_place
from sidelong.exchange.fits import StoredFit
from sidelong.exchange.plans import COURSE, TRAINEE, VERSION
from sidelong.exchange.rows import find_code_twins, find_differences, find_repeats, group_rows
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Refused
from sidelong.training.estimate import PositionEstimate, Verdict
from sidelong.training.position import Position
from sidelong.training.promise import FitMark, LockedEstimate


def mark_fit(fit: StoredFit) -> FitMark:
    """Mark the hyperparameters that an estimate rests on.

    Parameters
    ----------
    fit : StoredFit
        Shipped values, or a clinic's own.

    Returns
    -------
    FitMark
        Its fingerprint changes with any of the values, whatever the fit is called.
    """
    values = {
        "hyperparameters": fit.hyperparameters.to_dict(),
        "mixture": fit.mixture
        and [
            [weight, point.to_dict()]
            for weight, point in zip(fit.mixture.weights, fit.mixture.points, strict=True)
        ],
    }
    text = json.dumps(values, sort_keys=True, separators=(",", ":"))
    fingerprint = hashlib.sha256(text.encode("utf-8")).hexdigest()
    return FitMark(name=fit.origin, program=fit.program, fingerprint=fingerprint)


LOCK_COLUMNS = (
    TRAINEE,
    COURSE,
    VERSION,
    Column(name="locked_at", kind=Kind.TIME, says="When the estimate was fixed."),
    *(each for each in ESTIMATE_COLUMNS if each.name != "trainee"),
    Column(name="nights_planned", kind=Kind.INTEGER, least=1, says="Nights of the plan."),
    Column(
        name="suggested",
        kind=Kind.CHOICE,
        choices=tuple(Position),
        may_be_blank=True,
        says="The position to discuss; the same in all rows of a trainee.",
    ),
    Column(
        name="may_recommend",
        kind=Kind.CHOICE,
        choices=("yes", "no"),
        says="Whether this position may be suggested.",
    ),
    Column(name="program", kind=Kind.LABEL, says="Version of the program that made the figures."),
    Column(name="fit", kind=Kind.LABEL, says="Where the hyperparameters come from."),
    Column(
        name="fit_program",
        kind=Kind.LABEL,
        may_be_blank=True,
        says="Version that made them; empty for shipped values.",
    ),
    Column(name="fit_fingerprint", kind=Kind.LABEL, says="SHA-256 of the hyperparameters."),
    Column(
        name="evidence", kind=Kind.LABEL, says="SHA-256 of the nights and events that it rests on."
    ),
)
_SAME = (
    *("course", "version", "locked_at", "nights_used", "nights_planned", "verdict", "suggested"),
    *("program", "fit", "fit_program", "fit_fingerprint", "evidence"),
)


def check_lock_place(path: Path) -> None:
    """Refuse a place where locked estimates stand already: they are never written over.

    Parameters
    ----------
    path : Path
        Table to be written later.

    Raises
    ------
    Refused
        If there is something of that name, or no folder for it.
    """
    check_free_place(path, why="locked estimates are never changed", kind="lock")


def write_locks(path: Path, locks: Iterable[LockedEstimate]) -> None:
    """Write locked estimates whole, or not at all, and never over earlier ones.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``; there may be none of that name.
    locks : iterable of LockedEstimate
        In the order in which they are to stand.
    """
    check_lock_place(path)
    write_table(path, LOCK_COLUMNS, [row for lock in locks for row in _rows(lock)])


def read_locks(path: Path) -> tuple[LockedEstimate, ...]:
    """Read locked estimates, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        A table as :func:`write_locks` writes it.

    Returns
    -------
    tuple of LockedEstimate
        In the table's order.

    Raises
    ------
    Refused
        If a cell is wrong, a position stands twice, or rows of one trainee differ in what they
        must share.
    """
    scan = scan_table(path, LOCK_COLUMNS)
    groups = group_rows(scan.rows, ("trainee",)).values()
    faults = [*scan.faults, *find_code_twins(scan.rows)]
    for rows in groups:
        faults += find_repeats(rows, "position", of=rows[0]["trainee"])
        faults += find_differences(rows, _SAME, within="a trainee")
    if faults:
        raise Refused(faults)
    return tuple(_lock(rows) for rows in groups)


def _rows(lock: LockedEstimate) -> Iterator[dict[str, Value]]:
    for each in lock.positions:
        yield {
            "trainee": lock.trainee,
            "course": lock.course,
            "version": lock.version,
            "locked_at": lock.locked_at,
            "position": each.position,
            "p_best": each.p_best,
            "p_first_try": each.p_first_try,
            "expected_rating": each.expected_rating,
            "sd": each.sd,
            "lower": each.lower,
            "upper": each.upper,
            "nights_used": lock.nights_used,
            "verdict": lock.verdict,
            "nights_planned": lock.nights_planned,
            "suggested": lock.suggested,
            "may_recommend": "yes" if each.may_recommend else "no",
            "program": lock.program,
            "fit": lock.fit.name,
            "fit_program": lock.fit.program,
            "fit_fingerprint": lock.fit.fingerprint,
            "evidence": lock.evidence,
        }


def _lock(rows: Sequence[Row]) -> LockedEstimate:
    first = rows[0]
    return LockedEstimate(
        trainee=first["trainee"],
        course=first["course"] or 1,
        version=first["version"] or 1,
        follow_up=1,
        number=1,
        locked_at=first["locked_at"],
        locked_by="",
        program=first["program"],
        fit=FitMark(first["fit"], first["fit_program"] or "", first["fit_fingerprint"]),
        seed="",
        evidence=first["evidence"],
        positions=tuple(
            PositionEstimate(
                position=Position(row["position"]),
                p_best=row["p_best"],
                p_first_try=row["p_first_try"],
                expected_rating=row["expected_rating"],
                sd=row["sd"],
                lower=row["lower"],
                upper=row["upper"],
                may_recommend=row["may_recommend"] == "yes",
            )
            for row in rows
        ),
        nights_used=first["nights_used"],
        nights_planned=first["nights_planned"],
        verdict=Verdict(first["verdict"]),
        suggested=Position(first["suggested"]) if first["suggested"] else None,
    )
