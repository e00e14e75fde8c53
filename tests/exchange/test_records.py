from datetime import date
from pathlib import Path

import pytest

from sidelong.exchange.records import RECORD_COLUMNS, CourseRecord, read_records
from sidelong.problems import Refused

CONTRACT = (
    "trainee,course,site,band,language,referrer,referred,screened,readiness,started,finished,"
    "followed_up,success,real_medicine,lost_reason,coach,minutes"
)


def save(folder: Path, *rows: str) -> Path:
    path = folder / "records.csv"
    path.write_text("\n".join([CONTRACT, *rows]) + "\n", encoding="utf-8")
    return path


def test_columns_are_those_of_the_contract() -> None:
    assert ",".join(column.name for column in RECORD_COLUMNS) == CONTRACT


def test_record_is_read_and_what_is_not_known_stays_so(tmp_path: Path) -> None:
    path = save(
        tmp_path,
        "HL-0007,1,harbour,younger,en,ward,2026-01-05,2026-01-12,ready,2026-01-20,2026-02-04,"
        "2026-02-06,1,0,,C-2,95",
        "HL-0008,1,,,,,,,Not now,,,,,,,,",
    )
    assert read_records(path) == (
        CourseRecord(
            "HL-0007", 1, "harbour", "younger", "en", "ward",
            date(2026, 1, 5), date(2026, 1, 12), "ready", date(2026, 1, 20), date(2026, 2, 4),
            date(2026, 2, 6), success=True, real_medicine=False, coach="C-2", minutes=95.0,
        ),
        CourseRecord("HL-0008", 1, readiness="not now"),
    )  # fmt: skip


def test_every_fault_comes_at_once(tmp_path: Path) -> None:
    path = save(
        tmp_path,
        "A,1,,,,,2026-02-05,2026-01-12,,,,,,,,,",
        "A,1,,,,,,,cleared,,,,2,,,,-1",
    )
    with pytest.raises(Refused) as caught:
        read_records(path)
    assert [problem.where for problem in caught.value.problems] == [
        "records.csv, row 3, readiness",
        "records.csv, row 3, success",
        "records.csv, row 3, minutes",
        "records.csv, row 3, course",
        "records.csv, row 2, screened",
    ]
