from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.estimates import (
    ESTIMATE_COLUMNS,
    as_written,
    read_estimates,
    write_estimates,
)
from sidelong.problems import Refused
from sidelong.training.estimate import Estimate, PositionEstimate, Verdict
from sidelong.training.position import Position

HEAD = "trainee,position,p_best,p_first_try,expected_rating,sd,lower,upper,nights_used,verdict"


@st.composite
def one_estimate(draw: st.DrawFn, code: str) -> Estimate:
    positions = draw(st.lists(st.sampled_from(Position), min_size=1, unique=True))
    weights = [draw(st.floats(1e-9, 1)) for _ in positions]
    made = []
    for position, weight in zip(positions, weights, strict=True):
        lower, expected, upper = sorted(draw(st.floats(1, 5)) for _ in range(3))
        chances = (weight / sum(weights), draw(st.floats(0, 1)))
        sd = draw(st.floats(0, 4))
        made.append(PositionEstimate(position, *chances, expected, sd, lower, upper))
    nights = draw(st.integers(0, 14))
    return Estimate(code, tuple(made), nights, 14, draw(st.sampled_from(Verdict)))


@st.composite
def some_estimates(draw: st.DrawFn) -> tuple[Estimate, ...]:
    return tuple(draw(one_estimate(f"T-{number}")) for number in range(draw(st.integers(1, 3))))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(estimates=some_estimates(), name=st.sampled_from(["e.csv", "e.parquet"]))
def test_table_holds_the_rounded_estimates(
    tmp_path: Path, estimates: tuple[Estimate, ...], name: str
) -> None:
    write_estimates(tmp_path / name, estimates)
    read = read_estimates(tmp_path / name)
    assert [each.positions for each in read] == [as_written(each).positions for each in estimates]
    assert [(each.trainee, each.nights_used, each.verdict) for each in read] == [
        (each.trainee, each.nights_used, each.verdict) for each in estimates
    ]


@given(one_estimate("T-1"))
def test_rounded_chances_sum_to_one_and_stay_near(estimate: Estimate) -> None:
    rounded = as_written(estimate)
    tenths = [round(each.p_best * 10_000) for each in rounded.positions]
    assert sum(tenths) == 10_000
    for before, after in zip(estimate.positions, rounded.positions, strict=True):
        assert abs(before.p_best - after.p_best) < 1.01e-4
        assert abs(before.expected_rating - after.expected_rating) <= 0.51e-4
    assert as_written(rounded) == rounded


def test_columns_are_those_of_the_contract() -> None:
    assert ",".join(column.name for column in ESTIMATE_COLUMNS) == HEAD


def test_three_equal_chances_are_written_with_the_remainder_on_the_first(tmp_path: Path) -> None:
    positions = tuple(
        PositionEstimate(position, 1 / 3, 0.5, 3.0, 0.25, 2.5, 3.5)
        for position in (Position.DOWN, Position.LEFT, Position.UP)
    )
    path = tmp_path / "e.csv"
    write_estimates(path, [Estimate("T-1", positions, 9, 14, Verdict.TOO_CLOSE)])
    assert path.read_text(encoding="utf-8").splitlines() == [
        HEAD,
        "T-1,down,0.3334,0.5000,3.0000,0.2500,2.5000,3.5000,9,too close",
        "T-1,left,0.3333,0.5000,3.0000,0.2500,2.5000,3.5000,9,too close",
        "T-1,up,0.3333,0.5000,3.0000,0.2500,2.5000,3.5000,9,too close",
    ]


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (["T-1,up,0.5,0.5,3,1,2,4,9,clear"], "p_best: the chances of T-1 sum to 0.5000"),
        (["T-1,up,1,0.5,3,1,3.5,4,9,clear"], "lower: the interval does not hold"),
        (["T-1,up,1,0.5,3,1,2,4,9,certain"], "verdict: the text in this cell is not an answer"),
        (
            ["T-1,up,0.5,0.5,3,1,2,4,9,clear", "T-1,down,0.5,0.5,3,1,2,4,9,likely"],
            "verdict: it differs from row 2",
        ),
        (
            ["T-1,up,0.5,0.5,3,1,2,4,9,clear", "T-1,up,0.5,0.4,3,1,2,4,9,clear"],
            "position: position up of T-1 is there twice",
        ),
    ],
)
def test_table_that_contradicts_itself_is_refused(
    tmp_path: Path, rows: list[str], says: str
) -> None:
    path = tmp_path / "e.csv"
    path.write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    with pytest.raises(Refused, match=says):
        read_estimates(path)
