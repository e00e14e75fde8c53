"""`sidelong plan` as a user runs it."""

import json

import pytest

from sidelong.cli.application import DONE, REFUSED, WRONG_USAGE, run
from sidelong.exchange.plans import read_plans


@pytest.fixture
def out(tmp_path):
    return tmp_path / "plans.csv"


def plan(out, *words):
    return run(["plan", "--out", str(out), *words])


def test_same_seed_gives_the_same_table(out, tmp_path):
    other = tmp_path / "other.csv"
    words = ("--trainees", "30", "--sites", "a,b", "--bands", "younger,older", "--seed", "3")
    assert plan(out, *words) == plan(other, *words) == DONE
    assert out.read_bytes() == other.read_bytes()


def test_seed_is_drawn_and_recorded_where_none_is_given(out):
    assert plan(out, "--trainees", "4") == DONE
    seed = out.with_suffix(".seed").read_text("utf-8").strip()
    assert len(seed) == 64
    assert run(["plan", "--replay", str(out), "--seed", seed]) == DONE
    assert run(["plan", "--replay", str(out), "--seed", "1"]) == REFUSED


def test_commitment_is_recorded_and_shows_nothing_of_the_seed(out):
    plan(out, "--trainees", "4", "--seed", "7")
    record = json.loads(out.with_suffix(".allocation.json").read_text("utf-8"))
    assert len(record["commitment_sha256"]) == 64
    assert "seed" not in record
    assert record["nights"] == 14
    assert list(record["streams"].values()) == [4]


def test_output_says_what_naming_up_states(out, capsys):
    plan(out, "--trainees", "2")
    assert "signed for it by a swallowing specialist" in capsys.readouterr().err
    plan(out, "--trainees", "2", "--positions", "down,left,centre,right")
    assert "swallowing specialist" not in capsys.readouterr().err


@pytest.mark.parametrize("nights", [7, 10, 14, 21, 28])
@pytest.mark.parametrize("positions", ["centre", "left,right", "down,left,centre,right,up"])
def test_every_course_that_is_offered_can_be_planned(out, nights, positions):
    assert plan(out, "--trainees", "3", "--nights", str(nights), "--positions", positions) == DONE
    plans = read_plans(out)
    assert [len(each.nights) for each in plans] == [nights] * 3
    assert plans[0].positions == tuple(positions.split(","))


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (("--nights", "13"), REFUSED),
        (("--seed", "seven"), REFUSED),
        (("--positions", "down,sideways"), WRONG_USAGE),
        (("--trainees", "0"), WRONG_USAGE),
        (("--piece-mm", "0"), WRONG_USAGE),
        (("--sites", "a,a"), WRONG_USAGE),
    ],
)
def test_faulty_words_write_nothing(out, words, status):
    assert plan(out, *words) == status
    assert list(out.parent.iterdir()) == []
