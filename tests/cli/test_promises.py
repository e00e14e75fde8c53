"""`sidelong promises` as a user runs it; its figures are those of a computation by hand."""

import csv
import re
from datetime import UTC, date, datetime
from pathlib import Path

import pypdfium2
import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.doses import write_doses
from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.exchange.promises import mark_fit, write_locks
from sidelong.exchange.protocols import read_demo_protocol, write_protocol
from sidelong.training.entry import WentDown
from sidelong.training.estimate import PositionEstimate, Verdict
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, LockedEstimate, SeenBy

GIVEN = date(2026, 11, 28)
TODAY = ("--today", "2026-11-29")
HEAD = "group,said_least,said,said_most,doses,first_try,share,lower,upper,agrees"


def lock(code: str, chance: float) -> LockedEstimate:
    return LockedEstimate(
        trainee=code,
        course=1,
        version=1,
        follow_up=1,
        number=1,
        locked_at=datetime(2026, 11, 20, 12, tzinfo=UTC),
        locked_by="",
        program="0.1.0",
        fit=mark_fit(SHIPPED_FIT),
        seed="",
        evidence="a" * 64,
        positions=(PositionEstimate(Position.LEFT, 1.0, chance, 4.0, 0.3, 3.5, 4.5),),
        nights_used=12,
        nights_planned=14,
        verdict=Verdict.CLEAR,
        suggested=Position.LEFT,
    )


def dose(code: str, *, first: bool, seen_by: SeenBy = SeenBy.STAFF) -> FirstDose:
    return FirstDose(
        trainee=code,
        course=1,
        given_on=GIVEN,
        position=Position.LEFT,
        kind=DoseKind.TABLET,
        shape=Shape.DISC,
        largest_mm=8.0,
        seen_by=seen_by,
        went_down=WentDown.FIRST if first else WentDown.LATER,
    )


@pytest.fixture
def tables(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Of ten who were told 60 % five manage; of ten who were told 90 % nine; one is still open."""
    monkeypatch.chdir(tmp_path)
    said = [("a", 0.6, 5), ("b", 0.9, 9)]
    told = [(f"{group}-{n}", chance, n < k) for group, chance, k in said for n in range(10)]
    write_locks(tmp_path / "a.csv", [lock(c, p) for c, p, _ in told if c.startswith("a")])
    write_locks(tmp_path / "b.csv", [lock(c, p) for c, p, _ in told if c.startswith("b")])
    write_locks(tmp_path / "open.csv", [lock("c-1", 0.7)])
    write_doses(tmp_path / "doses.csv", [dose(code, first=went) for code, _, went in told])
    write_protocol(tmp_path / "protocol.toml", read_demo_protocol())
    return tmp_path


def promises(*words: str) -> int:
    return run(["promises", *words, "--doses", "doses.csv", *TODAY])


def words_of(pdf: Path) -> str:
    with pypdfium2.PdfDocument(pdf) as document:
        assert len(document) == 1
        return re.sub(r"\s+", " ", document[0].get_textpage().get_text_bounded())


def test_the_figures_are_those_computed_by_hand(tables: Path, capsys) -> None:
    """By hand, with 5 of 10 said 0.6 and 9 of 10 said 0.9.

    Brier (5 * 0.4^2 + 5 * 0.6^2 + 9 * 0.1^2 + 0.9^2) / 20 = 0.175; reliability
    10 * 0.1^2 / 20 = 0.005; overall 0.7 * 0.3 = 0.21; z = (5 - 6)(1 - 1.2) / sqrt(10 * 0.2^2 * 0.24
    + 10 * 0.8^2 * 0.09) = 0.2 / 0.8198 = 0.244; sum 15, 15 -+ 1.96 sqrt(10 * 0.24 + 10 * 0.09).
    Wilson's intervals by scipy 1.17: binomtest(5, 10) and (9, 10).proportion_ci(method="wilson").
    """
    assert promises("a.csv", "b.csv", "open.csv", "--out", "out.csv") == DONE
    told = capsys.readouterr().out
    assert "20 first doses of 21 locked courses." in told
    assert "Of 20 doses, 14 went down first try." in told
    assert "adds up to 15.0; if it holds, the count lies from 11.4 to 18.6" in told
    assert "does not contradict what was said (z = 0.24, p = 0.807)" in told
    assert "Brier score 0.175, of which 0.005 is for chances that were off" in told
    assert "always saying the overall share would score 0.210" in told
    assert (tables / "out.csv").read_text("utf-8").splitlines() == [
        HEAD,
        "1,0.6000,0.6000,0.6000,10,5,0.5000,0.2366,0.7634,yes",
        "2,0.9000,0.9000,0.9000,10,9,0.9000,0.5958,0.9821,yes",
    ]


def test_the_page_holds_the_same_figures_and_says_what_it_cannot(tables: Path) -> None:
    words = ("a.csv", "b.csv", "open.csv", "--report", "page.pdf", "--protocol", "protocol.toml")
    assert promises(*words) == DONE
    said = words_of(tables / "page.pdf")
    for part in (
        "Of 20 doses, 14 went down first try.",
        "60 % 10 5 50 % 24 to 76 % yes",
        "90 % 10 9 90 % 60 to 98 % yes",
        "z = 0.24, p = 0.807",
        "21 courses have a locked estimate; 1 of them has no first dose so far.",
        "These doses are invented.",
        "It compares no coaches and no sites, and it clears nobody.",
    ):
        assert part in said, part


def test_a_ring_stands_where_the_interval_does_not_hold_what_was_said(tables: Path) -> None:
    taken = [dose(f"{g}-{n}", first=g == "b" and n < 9) for g in "ab" for n in range(10)]
    write_doses(tables / "doses.csv", taken)
    assert promises("a.csv", "b.csv", "--report", "page.pdf") == DONE
    with (tables / "calibration.csv").open(encoding="utf-8", newline="") as stream:
        agrees = [row["agrees"] for row in csv.DictReader(stream)]
    assert agrees == ["no", "yes"]
    assert "60 % 10 0 0 % 0 to 28 % no" in words_of(tables / "page.pdf")
    assert "These doses are invented" not in words_of(tables / "page.pdf")


def test_below_twenty_doses_that_staff_saw_there_is_a_sentence_and_no_plot(
    tables: Path, capsys
) -> None:
    """The twentieth dose is told by home: it does not count."""
    taken = [dose(f"{g}-{n}", first=n < 5) for g in "ab" for n in range(10)]
    home = dose("b-9", first=False, seen_by=SeenBy.HOME)
    write_doses(tables / "doses.csv", [*taken[:-1], home])
    assert promises("a.csv", "b.csv", "--report", "page.pdf") == DONE
    told = capsys.readouterr().out
    assert "There is no plot yet. It is drawn from 20 doses on; 1 more is needed." in told
    assert "Told by home: Of 1 dose, 0 went down first try." in told
    assert "Brier" not in told
    assert (tables / "calibration.csv").read_text("utf-8").splitlines() == [HEAD]
    said = words_of(tables / "page.pdf")
    assert "There is no plot yet." in said
    assert "It was said" not in said


def test_tables_are_refused_with_every_fault_of_all_of_them_and_nothing_is_written(
    tables: Path, capsys
) -> None:
    for name, was, now in (("a.csv", "clear", "sure"), ("doses.csv", "staff", "somebody")):
        path = tables / name
        path.write_text(path.read_text("utf-8").replace(was, now, 2), "utf-8")
    assert promises("a.csv", "b.csv", "--out", "out.csv", "--report", "page.pdf") == REFUSED
    told = capsys.readouterr().err
    assert "a.csv, row 2, verdict" in told
    assert "a.csv, row 3, verdict" in told
    assert "doses.csv, row 2, seen_by" in told
    assert "doses.csv, row 3, seen_by" in told
    assert "4 faults; nothing was written." in told
    assert not (tables / "out.csv").exists()
    assert not (tables / "page.pdf").exists()


def test_doses_whose_estimate_is_in_no_table_are_refused(tables: Path, capsys) -> None:
    assert promises("a.csv", "--out", "out.csv") == REFUSED
    told = capsys.readouterr().err
    assert "doses.csv, trainee b-0, course 1: no table holds a locked estimate for it" in told
    assert "10 faults; nothing was written." in told
    assert not (tables / "out.csv").exists()


def test_no_table_is_written_over(tables: Path, capsys) -> None:
    before = (tables / "doses.csv").read_bytes()
    assert promises("a.csv", "b.csv", "--out", "doses.csv") == REFUSED
    assert promises("a.csv", "b.csv", "--out", "b.csv") == REFUSED
    told = capsys.readouterr().err
    assert "doses.csv is the file of --doses too" in told
    assert "b.csv is the file of locked table 2 too" in told
    assert (tables / "doses.csv").read_bytes() == before
