from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.readings import read_readings, write_readings
from sidelong.problems import Refused
from sidelong.training.reading import FieldReading, ImageReading, PageReading, PageStatus

HEAD = "image,page_id,field,value,confidence,status"
CHANCES = st.integers(0, 10_000).map(lambda n: n / 10_000)
NAMES = st.sampled_from(["p1.rating", "p1.went_down", "felt_best", "skipped", "p5.why_not"])


@st.composite
def some_page(draw: st.DrawFn, page_id: str) -> PageReading:
    status = draw(st.sampled_from([PageStatus.OK, PageStatus.UNSURE_ID]))
    values = st.sampled_from(["", "1", "first", "same"])
    fields = {
        name: FieldReading(
            draw(values),
            draw(CHANCES),
            accepted=status is PageStatus.OK and draw(st.booleans()),
        )
        for name in draw(st.lists(NAMES, unique=True))
    }
    scale = draw(st.none() | st.integers(8000, 11000).map(lambda n: n / 10_000))
    return PageReading(page_id, status, draw(CHANCES), fields, scale)


@st.composite
def some_image(draw: st.DrawFn, name: str) -> ImageReading:
    ids = draw(st.lists(st.sampled_from(["T-1-01", "T-1-02", "T-2-01"]), unique=True))
    seconds = draw(st.none() | st.integers(0, 9999).map(lambda n: n / 1000))
    return ImageReading(name, tuple(draw(some_page(each)) for each in ids), seconds)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data(), name=st.sampled_from(["r.csv", "r.parquet"]))
def test_readings_come_back_as_they_were_written(
    tmp_path: Path, data: st.DataObject, name: str
) -> None:
    images = tuple(data.draw(some_image(each)) for each in ("a.jpg", "scan (2).pdf#3"))
    write_readings(tmp_path / name, images)
    assert read_readings(tmp_path / name) == images


def test_table_is_that_of_the_contract(tmp_path: Path) -> None:
    page = PageReading(
        "K7Q2M-04",
        PageStatus.OK,
        0.9999,
        {"p1.rating": FieldReading("4", 0.998, accepted=True)},
        print_scale=0.941,
    )
    write_readings(tmp_path / "r.csv", [ImageReading("a.jpg", (page,)), ImageReading("b.jpg")])
    assert (tmp_path / "r.csv").read_text().splitlines() == [
        HEAD,
        "a.jpg,K7Q2M-04,@page,ok,0.9999,accepted",
        "a.jpg,K7Q2M-04,p1.rating,4,0.9980,accepted",
        "a.jpg,K7Q2M-04,@print_scale,0.9410,1.0000,review",
        "b.jpg,,@page,not_found,0.0000,review",
    ]


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("a.jpg,T-1-01,@page,perhaps,1,accepted", "row 2, value"),
        ("a.jpg,,p1.rating,4,1,accepted", "row 2, page_id"),
        ("a.jpg,T-1-01,p1.rating,4,1,accepted", "row 2, page_id"),
        ("a.jpg,T-1-01,@mood,4,1,accepted", "row 2, field"),
        ("a.jpg,T-1-01,@page,ok,1.5,accepted", "row 2, confidence"),
        ("a.jpg,T-1-01,@page,ok,1,sure", "row 2, status"),
        ("a.jpg,,@page,ok,1,accepted", "row 2, value"),
        ("a.jpg,T-1-01,@print_scale,wide,1,review", "row 2, value"),
    ],
)
def test_every_fault_is_named_with_its_row_and_field(tmp_path: Path, row: str, place: str) -> None:
    path = tmp_path / "r.csv"
    path.write_text(f"{HEAD}\n{row}\n")
    with pytest.raises(Refused) as refused:
        read_readings(path)
    assert any(place in str(problem) for problem in refused.value.problems)


def test_a_field_twice_and_an_accepted_field_of_an_unsure_page_are_both_told(
    tmp_path: Path,
) -> None:
    path = tmp_path / "r.csv"
    rows = [
        "a.jpg,T-1-01,@page,unsure_id,0.5,review",
        "a.jpg,T-1-01,p1.rating,4,1,accepted",
        "a.jpg,T-1-01,p1.rating,5,1,review",
    ]
    path.write_text("\n".join([HEAD, *rows]) + "\n")
    with pytest.raises(Refused) as refused:
        read_readings(path)
    told = [str(problem) for problem in refused.value.problems]
    assert any("row 4, field" in each for each in told)
    assert any("row 3, status" in each for each in told)
