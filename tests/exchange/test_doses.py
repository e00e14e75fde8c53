"""The table of first doses: it reads back as it was, and is refused with every fault at once."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sidelong.exchange.doses import read_doses, write_doses
from sidelong.problems import Refused
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, SeenBy

TODAY = date(2026, 11, 29)
DOSE = FirstDose(
    trainee="HL-0007",
    course=2,
    given_on=date(2026, 11, 28),
    position=Position.LEFT,
    kind=DoseKind.TABLET,
    shape=Shape.OVAL,
    largest_mm=12.5,
    seen_by=SeenBy.STAFF,
    went_down=WentDown.FIRST,
    rating=4,
    whole=True,
    unchewed=True,
    unaided=False,
)
FAILED = replace(
    DOSE,
    trainee="HL-0008",
    position=None,
    seen_by=SeenBy.HOME,
    went_down=WentDown.NO,
    why_not=WhyNot.SPAT_OUT,
    rating=None,
    whole=None,
    unchewed=None,
    unaided=None,
)
HEAD = "trainee,given_on,position,kind,shape,largest_mm,seen_by,went_down,why_not,whole"


def table(folder: Path, *rows: str) -> Path:
    path = folder / "doses.csv"
    path.write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    return path


@pytest.mark.parametrize("name", ["doses.csv", "doses.parquet"])
def test_first_doses_read_back_as_they_were(name: str, tmp_path: Path) -> None:
    write_doses(tmp_path / name, [DOSE, FAILED])
    assert read_doses(tmp_path / name, today=TODAY) == (DOSE, FAILED)


def test_a_header_alone_says_that_there_is_no_dose_yet(tmp_path: Path) -> None:
    assert read_doses(table(tmp_path), today=TODAY) == ()


def test_every_fault_comes_at_once_with_its_row_and_field(tmp_path: Path) -> None:
    faulty = table(
        tmp_path,
        "T-1,2026-11-28,left,tablet,oval,12,staff,maybe,,",
        "T-2,2026-11-30,left,tablet,oval,12,staff,first,,",
        "T-3,2026-11-28,left,tablet,oval,12,staff,first,spat_out,",
        "T-4,2026-11-28,left,tablet,oval,12,staff,no,,yes",
        "T-5,2026-11-28,left,tablet,oval,120,staff,first,,",
        "T-6,2026-11-28,left,tablet,oval,12,staff,first,,",
        "T-6,2026-11-29,left,tablet,oval,12,staff,first,,",
        "T-7,2026-11-28,left,tablet,oval,12,staff,no,not_tried,",
    )
    with pytest.raises(Refused) as refused:
        read_doses(faulty, today=TODAY)
    places = {each.where: each.what for each in refused.value.problems}
    assert set(places) == {
        "doses.csv, row 2, went_down",
        "doses.csv, row 3, given_on",
        "doses.csv, row 4, why_not",
        "doses.csv, row 5, whole",
        "doses.csv, row 6, largest_mm",
        "doses.csv, row 8, trainee",
        "doses.csv, row 9, why_not",
    }
    assert places["doses.csv, row 3, given_on"] == "the day lies in the future"
    assert "first in row 7" in places["doses.csv, row 8, trainee"]


def test_a_second_course_of_the_same_trainee_has_a_first_dose_of_its_own(tmp_path: Path) -> None:
    both = (DOSE, replace(DOSE, course=1))
    write_doses(tmp_path / "doses.csv", both)
    assert read_doses(tmp_path / "doses.csv", today=TODAY) == both
