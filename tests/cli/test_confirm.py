from pathlib import Path

import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.entries import read_entries
from sidelong.exchange.layouts import write_layout
from sidelong.exchange.plans import write_plans
from sidelong.exchange.protocols import read_default_protocol
from sidelong.exchange.readings import write_readings
from sidelong.paper.booklet import make_booklet
from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.training.entry import Scale
from sidelong.training.layout import Layout, SheetPage
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position
from sidelong.training.reading import FieldReading, ImageReading, PageReading, PageStatus

HEAD = "image,page_id,field,value,by,when"
ORDER = (Position.RIGHT, Position.DOWN)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    fields = {
        "p1.rating": FieldReading("4", 0.999, accepted=True),
        "p1.went_down": FieldReading("first", 0.6, accepted=False),
        "felt_best": FieldReading("right", 0.999, accepted=True),
    }
    page = PageReading("HL-0007-01", PageStatus.OK, 0.9999, fields)
    write_plans(tmp_path / "plans.csv", [Plan("HL-0007", (Night(ORDER, 5.0),))])
    write_readings(tmp_path / "readings.csv", [ImageReading("a.jpg", (page,), 0.2)])
    return tmp_path


def confirm(place: Path, *rows: str, today: str = "2026-11-25") -> int:
    (place / "corrections.csv").write_text("\n".join([HEAD, *rows]) + "\n")
    words = ["confirm", str(place / "readings.csv"), "--plans", str(place / "plans.csv")]
    words += ["--corrections", str(place / "corrections.csv"), "--today", today]
    return run([*words, "--out", str(place / "entries.csv")])


def test_confirmed_readings_are_entries_that_estimate_can_read(place: Path) -> None:
    assert confirm(place, "a.jpg,HL-0007-01,p1.went_down,later,C-01,2026-11-25T09:00Z") == DONE
    [entry] = read_entries(place / "entries.csv").entries
    assert [(row.rating, row.went_down) for row in entry.rows] == [(4, "later")]
    kept = (place / "entries.confirmations.csv").read_text().splitlines()
    assert "a.jpg,HL-0007-01,p1.went_down,first,0.6000,review,later,C-01," in kept[2]
    assert kept[2].endswith(",entered")


def test_what_waits_is_listed_and_left_out(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert confirm(place) == DONE
    said = capsys.readouterr()
    assert "a.jpg, HL-0007-01, p1.went_down" in said.err
    assert "left out" in said.out
    assert len((place / "entries.csv").read_text().splitlines()) == 1


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("b.jpg,HL-0007-01,p1.rating,4,C-01,2026-11-25T09:00Z", "no such image"),
        ("a.jpg,HL-0007-01,date,2026-12-25,C-01,2026-11-25T09:00Z", "no date up to today"),
        ("a.jpg,HL-0007-01,@page,HL-0009-01,C-01,2026-11-25T09:00Z", "no plan has this page"),
        ("a.jpg,HL-0007-01,p1.rating,4,,2026-11-25T09:00Z", "row 2, by"),
        ("a.jpg,HL-0007-01,p1.rating,4,C-01,yesterday", "row 2, when"),
    ],
)
def test_a_wrong_correction_is_refused_and_nothing_is_written(
    place: Path, row: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert confirm(place, row) == REFUSED
    assert told in capsys.readouterr().err
    assert not (place / "entries.csv").exists()
    assert not (place / "entries.confirmations.csv").exists()


LATER = "a.jpg,HL-0007-01,p1.went_down,later,C-01,2026-11-25T09:00Z"


def test_the_form_of_rating_is_told_by_the_layout_that_read_left_beside_its_table(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another night of the same booklet tells it as well: a form is fixed for a course."""
    page = SheetPage("HL-0007-02", 0, 210.0, 297.0, (), trainee="HL-0007", scale=Scale.FOUR)
    write_layout(place / "readings.layout.json", Layout("pages.pdf", (page,)))
    assert confirm(place, LATER) == DONE
    assert "No layout says" not in capsys.readouterr().err
    [entry] = read_entries(place / "entries.csv").entries
    assert entry.scale is Scale.FOUR


def test_a_sheet_of_a_second_booklet_that_was_read_without_a_kit_enters(place: Path) -> None:
    page = SheetPage(
        "HL-0007-B2-01",
        0,
        210.0,
        297.0,
        (),
        trainee="HL-0007",
        night=1,
        scale=Scale.FIVE,
        booklet=2,
    )
    write_layout(place / "readings.layout.json", Layout("pages.pdf", (page,)))
    fields = {"p1.rating": FieldReading("4", 0.999, accepted=True)}
    read = PageReading("HL-0007-B2-01", PageStatus.OK, 0.9999, fields)
    write_readings(place / "readings.csv", [ImageReading("a.jpg", (read,), 0.2)])
    assert confirm(place) == DONE
    [entry] = read_entries(place / "entries.csv").entries
    assert (entry.trainee, entry.night, entry.rows[0].rating) == ("HL-0007", 1, 4)


def test_a_spare_sheet_says_where_a_piece_went_down_by_its_own_order(place: Path) -> None:
    """With a layout and without: the printed sheet itself says which order it has."""
    nights = (Night(ORDER, 5.0), Night(ORDER[::-1], 5.0))
    plan = Plan("HL-0007", nights)
    write_plans(place / "plans.csv", [plan])
    booklet = make_booklet(
        plan,
        protocol=read_default_protocol(),
        scale=Scale.FIVE,
        pieces=(),
        paper=Paper.A4,
        language=read_language("en"),
    )
    spare = booklet.layout.pages[-1]
    fields = {field.id: FieldReading("", 0.999, accepted=True) for field in spare.fields}
    fields |= {
        "p1.rating": FieldReading("4", 0.999, accepted=True),
        "p1.went_down": FieldReading("first", 0.999, accepted=True),
        "felt_best": FieldReading(spare.order[0].value, 0.999, accepted=True),
    }
    read = PageReading(spare.page_id, PageStatus.OK, 0.9999, fields)
    write_readings(place / "readings.csv", [ImageReading("a.jpg", (read,), 0.2)])
    for layout in (None, booklet.layout):
        if layout is not None:
            write_layout(place / "readings.layout.json", layout)
        assert confirm(place, f"a.jpg,{spare.page_id},night,1,C-01,2026-11-25T09:00Z") == DONE
        [entry] = read_entries(place / "entries.csv").entries
        assert entry.rows[0].position is spare.order[0] is not ORDER[0]


def test_a_form_of_rating_that_is_taken_for_granted_is_said(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert confirm(place, LATER) == DONE
    assert "the sheets of 1 trainee have: all five ratings" in capsys.readouterr().err
    [entry] = read_entries(place / "entries.csv").entries
    assert entry.scale is Scale.FIVE
