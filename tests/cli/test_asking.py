"""`sidelong estimate --questions` as a user runs it."""

import csv
from pathlib import Path

import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.questions import QUESTION_COLUMNS, check_questions_place
from sidelong.problems import Refused
from sidelong.training.position import Position

LATER_ON = {3, 4}


@pytest.fixture
def entries(tmp_path: Path) -> Path:
    """Fourteen nights of two: T-1 wrote two nights later, T-2 answers alike every night."""
    lines = ["trainee,night,slot,position,piece_mm,rating,went_down,felt_best,written"]
    for night in range(1, 15):
        turned = [*Position][night % 5 :] + [*Position][: night % 5]
        for slot, position in enumerate(turned, start=1):
            ease = (night * 3 + slot * slot + list(Position).index(position)) % 4 + 1
            when = "later" if night in LATER_ON else "same_evening"
            lines.append(f"T-1,{night},{slot},{position},5,{ease},first,0,{when}")
            easy = position is Position.LEFT
            cells = f"{5 if easy else 3},{'first' if easy else 'later'},{int(easy)}"
            lines.append(f"T-2,{night},{slot},{position},5,{cells},same_evening")
    table = tmp_path / "entries.csv"
    table.write_text("\n".join(lines) + "\n", "utf-8")
    return table


def estimate(entries: Path, *words: str) -> int:
    return run(["estimate", str(entries), "--out", str(entries.parent / "out.csv"), *words])


def rows_of(table: Path) -> list[dict[str, str]]:
    with table.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_signs_stand_in_a_table_of_their_own_with_a_question(entries, capsys):
    asked = entries.parent / "questions.csv"
    assert estimate(entries, "--questions", str(asked)) == DONE
    assert "prove nothing" in capsys.readouterr().out
    rows = {(each["trainee"], each["sign"]): each for each in rows_of(asked)}
    assert list(next(iter(rows.values()))) == [column.name for column in QUESTION_COLUMNS]
    assert rows["T-1", "written_later"]["nights"] == "3 4"
    assert rows["T-1", "written_later"]["question"].endswith("remember well how it went?")
    repeated = rows["T-2", "repeated"]
    assert repeated["nights"] == " ".join(map(str, range(1, 15)))
    assert repeated["changes_answer"] == "yes"
    assert ("T-1", "repeated") not in rows


def test_the_estimates_are_the_same_with_and_without_questions(entries):
    out, asked = entries.parent / "out.csv", entries.parent / "questions.csv"
    assert estimate(entries) == DONE
    before = out.read_bytes()
    assert estimate(entries, "--questions", str(asked)) == DONE
    assert out.read_bytes() == before
    assert b"repeated" not in before


def test_the_same_is_asked_twice(entries):
    first, second = entries.parent / "first.csv", entries.parent / "second.csv"
    estimate(entries, "--questions", str(first))
    estimate(entries, "--questions", str(second))
    assert first.read_bytes() == second.read_bytes()


def test_nothing_is_asked_that_nobody_asked_for(entries, capsys):
    assert estimate(entries) == DONE
    said = capsys.readouterr()
    assert "uestions" not in said.out + said.err
    assert sorted(each.name for each in entries.parent.iterdir()) == [
        "entries.csv",
        "out.csv",
        "out.fit.json",
    ]


def test_a_table_that_is_there_is_not_written_over_and_nothing_else_is_written(entries, capsys):
    asked = entries.parent / "questions.csv"
    asked.write_text("kept\n", "utf-8")
    assert estimate(entries, "--questions", str(asked)) == REFUSED
    assert "never written over" in capsys.readouterr().err
    assert asked.read_text("utf-8") == "kept\n"
    assert not (entries.parent / "out.csv").exists()


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(Refused, match="its folder does not exist"):
        check_questions_place(tmp_path / "nowhere" / "questions.csv")
