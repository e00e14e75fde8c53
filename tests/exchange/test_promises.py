"""The table of locked estimates: it reads back as it was, and is never written over."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.exchange.promises import mark_fit, read_locks, write_locks
from sidelong.problems import Refused
from sidelong.training.estimate import PositionEstimate, Verdict
from sidelong.training.position import Position
from sidelong.training.promise import LockedEstimate

LEFT = PositionEstimate(Position.LEFT, 0.9, 0.8123, 4.0, 0.3, 3.5, 4.5)
LOCK = LockedEstimate(
    trainee="HL-0007",
    course=2,
    version=3,
    follow_up=1,
    number=1,
    locked_at=datetime(2026, 11, 25, 10, 30, tzinfo=UTC),
    locked_by="",
    program="0.1.0",
    fit=mark_fit(SHIPPED_FIT),
    seed="",
    evidence="a" * 64,
    positions=(LEFT, replace(LEFT, position=Position.UP, p_best=0.1, may_recommend=False)),
    nights_used=12,
    nights_planned=14,
    verdict=Verdict.CLEAR,
    suggested=Position.LEFT,
)
OTHER = replace(LOCK, trainee="HL-0008", verdict=Verdict.TOO_CLOSE, suggested=None)


@pytest.mark.parametrize("name", ["locks.csv", "locks.parquet"])
def test_locked_estimates_read_back_as_they_were(name: str, tmp_path: Path) -> None:
    table = tmp_path / name
    write_locks(table, [LOCK, OTHER])
    assert read_locks(table) == (LOCK, OTHER)


def test_a_table_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    table = tmp_path / "locks.csv"
    write_locks(table, [LOCK])
    before = table.read_bytes()
    with pytest.raises(Refused, match="never changed"):
        write_locks(table, [OTHER])
    assert table.read_bytes() == before


def test_a_table_that_contradicts_itself_is_refused(tmp_path: Path) -> None:
    table = tmp_path / "locks.csv"
    write_locks(table, [LOCK])
    lines = table.read_text("utf-8").splitlines()
    twice = tmp_path / "twice.csv"
    twice.write_text("\n".join([*lines, lines[1]]) + "\n", "utf-8")
    with pytest.raises(Refused, match="row 4: the row is the same as row 2"):
        read_locks(twice)
    unlike = tmp_path / "unlike.csv"
    unlike.write_text("\n".join([*lines[:2], lines[2].replace("clear", "likely")]) + "\n", "utf-8")
    with pytest.raises(Refused, match="row 3, verdict"):
        read_locks(unlike)
