from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.plans import read_plans, write_plans
from sidelong.problems import Refused
from sidelong.training.plan import AllocationRecord, Night, Plan
from sidelong.training.position import Position

HEAD = "trainee,night,slot,position,piece_mm"
CODES = st.from_regex(r"[A-Z]-[0-9]{1,4}", fullmatch=True)
LABELS = st.sampled_from(["", "harbour", "hillside, upper floor", 'the "annexe"', "Süd"])


@st.composite
def some_plans(draw: st.DrawFn) -> tuple[Plan, ...]:
    codes = draw(st.lists(CODES, min_size=1, max_size=4, unique=True))
    return tuple(draw(one_plan(code)) for code in codes)


@st.composite
def one_plan(draw: st.DrawFn, code: str) -> Plan:
    positions = draw(st.lists(st.sampled_from(Position), min_size=1, unique=True))
    pieces = st.floats(0.001, 50)
    nights = [
        Night(
            tuple(draw(st.permutations(positions))),
            draw(pieces),
            draw(st.sampled_from(["", "g-4"])),
        )
        for _ in range(draw(st.integers(1, 3)))
    ]
    return Plan(
        trainee=code,
        nights=tuple(nights),
        site=draw(LABELS),
        band=draw(LABELS),
        course=draw(st.integers(1, 3)),
        version=draw(st.integers(1, 3)),
        start=draw(st.none() | st.just(date(2026, 3, 1))),
        protocol_version=draw(LABELS),
        allocation=draw(
            st.none()
            | st.builds(
                AllocationRecord, st.just("ab" * 32), LABELS.filter(bool), st.integers(0, 99)
            )
        ),
    )


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(plans=some_plans(), name=st.sampled_from(["p.csv", "p.parquet"]))
def test_plans_come_back_as_they_were_written(
    tmp_path: Path, plans: tuple[Plan, ...], name: str
) -> None:
    write_plans(tmp_path / name, plans)
    assert read_plans(tmp_path / name) == plans


def save(folder: Path, *rows: str, head: str = HEAD) -> Path:
    path = folder / "plans.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return path


def refusals(path: Path) -> list[str]:
    with pytest.raises(Refused) as caught:
        read_plans(path)
    return [str(problem) for problem in caught.value.problems]


def test_enrolment_order_is_that_of_first_rows_however_rows_are_sorted(tmp_path: Path) -> None:
    path = save(tmp_path, "B,2,1,up,5", "A,1,2,up,5", "B,1,1,up,5", "A,1,1,down,5")
    plans = read_plans(path)
    assert [plan.trainee for plan in plans] == ["B", "A"]
    assert plans[1].nights[0].order == (Position.DOWN, Position.UP)


def test_columns_needed_by_nobody_are_not_written(tmp_path: Path) -> None:
    path = tmp_path / "plans.csv"
    write_plans(path, [Plan("A", (Night((Position.UP,), 5.0),))])
    assert path.read_text(encoding="utf-8") == f"{HEAD},course,version\nA,1,1,up,5,1,1\n"


def test_two_versions_of_a_course_are_two_plans(tmp_path: Path) -> None:
    path = save(tmp_path, "A,1,1,up,5,", "A,1,1,left,5,2", head=f"{HEAD},version")
    assert [(plan.version, plan.positions) for plan in read_plans(path)] == [
        (1, (Position.UP,)),
        (2, (Position.LEFT,)),
    ]


FAULTS = {
    "a row twice": (
        ["A,1,1,up,5", "A,1,1,up,5"],
        ["plans.csv, row 3: the row is the same as row 2. Delete one."],
    ),
    "a slot twice": (
        ["A,1,1,up,5", "A,1,1,down,5"],
        ["plans.csv, row 3, slot: slot 1 of night 1 is there twice, first in row 2."],
    ),
    "a position twice": (
        ["A,1,1,up,5", "A,1,2,up,5"],
        ["plans.csv, row 3, position: position up of night 1 is there twice, first in row 2."],
    ),
    "a gap in the slots": (
        ["A,1,1,up,5", "A,1,3,down,5"],
        ["plans.csv, row 2, slot: night 1 has slots 1, 3."],
    ),
    "a gap in the nights": (
        ["A,1,1,up,5", "A,4,1,up,5"],
        ["plans.csv, row 2, night: the plan has no night 2, 3."],
    ),
    "other positions in a later night": (
        ["A,1,1,up,5", "A,2,1,down,5"],
        ["plans.csv, row 3, position: night 2 uses down, unlike night 1."],
    ),
    "two pieces in a night": (
        ["A,1,1,up,5", "A,1,2,down,6"],
        ["plans.csv, row 3, piece_mm: it differs from row 2, but is one value for a night."],
    ),
    "codes that differ in case": (
        ["A,1,1,up,5", "a,1,1,up,5"],
        ["plans.csv, row 3, trainee: a differs only in capitals from A in row 2."],
    ),
    "a bad cell makes no second fault": (
        ["A,1,1,up,5", "A,x,1,up,5", "A,3,1,up,5"],
        ['plans.csv, row 3, night: "x" is not a number.'],
    ),
    "everything at once": (
        ["A,1,1,up,5", "A,1,2,top,5", "B,1,1,up,5", "B,3,1,up,5", "C,1,1,up,0"],
        [
            "plans.csv, row 3, position: the text in this cell i",
            'plans.csv, row 6, piece_mm: "0" is out of range.',
            "plans.csv, row 4, night: the plan has no night 2.",
        ],
    ),
}


@pytest.mark.parametrize(("rows", "says"), FAULTS.values(), ids=FAULTS)
def test_fault_is_named_with_row_field_and_remedy(
    tmp_path: Path, rows: list[str], says: list[str]
) -> None:
    found = refusals(save(tmp_path, *rows))
    assert [text[: len(start)] for text, start in zip(found, says, strict=True)] == says


def test_site_that_differs_within_a_plan_is_refused(tmp_path: Path) -> None:
    path = save(tmp_path, "A,1,1,up,5,a", "A,2,1,up,5,b", head=f"{HEAD},site")
    [text] = refusals(path)
    assert text.startswith("plans.csv, row 3, site: it differs from row 2, but is one value for")


def test_allocation_record_must_be_whole(tmp_path: Path) -> None:
    path = save(tmp_path, "A,1,1,up,5,s", head=f"{HEAD},stream")
    [text] = refusals(path)
    assert text.startswith("plans.csv, row 2, stream_index: the allocation record is not whole")
