"""Typed cells: the faults are, word for word, those of the command line."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sidelong.clinic.practice.nights import order_of
from sidelong.clinic.practice.typed import (
    TypedCell,
    TypedNight,
    check_night,
    read_cell_text,
    show_cell_text,
)
from sidelong.exchange.entries import read_entries
from sidelong.pathway.enrolling import Enrolment
from sidelong.pathway.planning import draw_plan
from sidelong.problems import Refused
from sidelong.training.position import Position

PLAN = draw_plan(Enrolment("HL-7K3PX", tuple(Position)), seed="1", index=0, n_nights=14)
ORDER = PLAN.nights[0].order


def night(*cells: TypedCell, **more: str) -> TypedNight:
    filled = (*cells, *(TypedCell(),) * (5 - len(cells)))
    return TypedNight(night=1, base=0, cells=filled, **more)


def check(typed: TypedNight, today: Any) -> Any:
    return check_night(typed, plan=PLAN, order=ORDER, today=today)


@pytest.fixture
def today(cast: Any) -> Any:
    return cast.TODAY


def said_by_command(folder: Path, header: str, line: str) -> list[str]:
    """Faults of the same night when it comes in a table."""
    table = folder / "entries.csv"
    table.write_text(f"{header}\n{line}\n", encoding="utf-8")
    with pytest.raises(Refused) as refused:
        read_entries(table, plans=[PLAN])
    return [f"{each.what}. {each.remedy}" for each in refused.value.problems]


HEADER = "trainee,night,slot,position,piece_mm,rating,went_down,felt_best,why_not,scale"


@pytest.mark.parametrize(
    ("cell", "scale", "column"),
    [
        (TypedCell("7", "first"), "5", "rating"),
        (TypedCell("4,5", "first"), "5", "rating"),
        (TypedCell("x", "first"), "5", "rating"),
        (TypedCell("3", "first"), "4", "rating"),
        (TypedCell("4", "maybe"), "5", "went_down"),
        (TypedCell("4", "no", "forgot"), "5", "why_not"),
    ],
)
def test_a_fault_at_a_cell_says_what_the_command_says(
    cell: TypedCell, scale: str, column: str, tmp_path: Path, today: Any
) -> None:
    rating = f'"{cell.rating}"'
    line = f"HL-7K3PX,1,1,{ORDER[0]},5,{rating},{cell.went_down},,{cell.why_not},{scale}"
    checked = check(night(cell, scale=scale), today)
    assert checked.evening is None
    assert [(fault.slot, fault.column) for fault in checked.faults] == [(1, column)]
    assert [fault.text for fault in checked.faults] == said_by_command(tmp_path, HEADER, line)


def test_all_faulty_cells_are_told_at_once(today: Any) -> None:
    checked = check(night(TypedCell("7"), TypedCell("4", "maybe"), evening="yesterday"), today)
    assert [(fault.slot, fault.column) for fault in checked.faults] == [
        (0, "evening"),
        (1, "rating"),
        (2, "went_down"),
    ]


def test_an_evening_in_the_future_is_refused(today: Any) -> None:
    [fault] = check(night(TypedCell("4"), evening="2026-11-26"), today).faults
    assert fault.text == "2026-11-26 is in the future; today is 2026-11-25. Correct the date."


def test_practised_and_not_practised_at_once_is_refused(today: Any) -> None:
    [fault] = check(night(TypedCell("4"), not_done="ill"), today).faults
    assert fault.column == "not_done"


def test_a_favourite_that_did_not_go_down_is_kept_and_flagged(today: Any) -> None:
    checked = check(night(TypedCell("4", "no"), felt_best=str(ORDER[0])), today)
    assert checked.evening is not None
    [notice] = checked.notices
    assert (notice.slot, notice.column) == (1, "felt_best")
    assert "did not go down" in notice.text


def test_a_night_beyond_the_plan_is_refused(today: Any) -> None:
    [fault] = check(replace(night(), night=15), today).faults
    assert fault.text.startswith("night 15 is beyond the 14 nights of the plan")


def test_free_text_is_not_repeated_in_a_fault(today: Any) -> None:
    [fault] = check(night(TypedCell("4", "Robin was tired today")), today).faults
    assert "Robin" not in fault.text


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("", TypedCell()),
        ("4", TypedCell("4")),
        ("4 first", TypedCell("4", "first")),
        ("4f", TypedCell("4", "first")),
        (" 3 L ", TypedCell("3", "later")),
        ("no", TypedCell("", "no")),
        ("2 spat out", TypedCell("2", "no", "spat_out")),
        ("x", TypedCell("", "no", "not_tried")),
        ("9 perhaps", TypedCell("9", "perhaps")),
    ],
)
def test_a_cell_is_read_from_one_text(text: str, cell: TypedCell) -> None:
    assert read_cell_text(text) == cell


@pytest.mark.parametrize(
    "cell",
    [
        TypedCell(),
        TypedCell("5"),
        TypedCell("1", "later"),
        TypedCell("", "no", "melted"),
        TypedCell("2", "no", "refused"),
        TypedCell("", "no", "not_tried"),
    ],
)
def test_a_cell_reads_back_as_it_is_shown(cell: TypedCell) -> None:
    assert read_cell_text(show_cell_text(cell)) == cell


def test_a_night_practised_in_another_order_shows_that_order(today: Any) -> None:
    turned = (ORDER[1], ORDER[0], *ORDER[2:])
    typed = night(TypedCell("1"), TypedCell("2"))
    evening = check_night(typed, plan=PLAN, order=turned, today=today).evening
    assert order_of(1, plan=PLAN, kept=evening) == turned
    assert order_of(1, plan=PLAN) == ORDER
