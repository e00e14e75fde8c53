"""`sidelong plan` as a user runs it."""

import json
import shutil
from collections import Counter

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


@pytest.fixture(scope="module")
def made_once(tmp_path_factory):
    folder = tmp_path_factory.mktemp("made") / "clinic"
    words = ("--trainees", "6", "--seed", "5", "--today", "2026-03-20")
    assert run(["demo", "--files-only", "--folder", str(folder), *words]) == DONE
    return folder


@pytest.fixture
def clinic(made_once, tmp_path):
    """An invented clinic whose first trainees have plans."""
    return shutil.copytree(made_once, tmp_path / "clinic")


def plan_ready(clinic, *words, readiness="readiness.csv"):
    files = ("--protocol", str(clinic / "protocol.toml"), "--ladder", str(clinic / "ladder.csv"))
    out = ("--out", str(clinic / "plans.csv"), "--today", "2026-03-04")
    return run(["plan", "--readiness", str(clinic / readiness), *files, *out, *words])


def test_trainees_who_enrol_later_take_the_next_places_and_earlier_plans_are_kept(clinic):
    earlier = read_plans(clinic / "plans.csv")
    table = (clinic / "readiness.csv").read_text("utf-8")
    known = earlier[-1].trainee
    (line,) = [each for each in table.splitlines() if each.startswith(known)]
    more = table + line.replace(known, "QS-0901") + "\n" + line.replace(known, "QS-0902") + "\n"
    (clinic / "more.csv").write_text(more, "utf-8")
    assert plan_ready(clinic, readiness="more.csv") == DONE
    both = read_plans(clinic / "plans.csv")
    assert both[: len(earlier)] == earlier
    assert [each.trainee for each in both[len(earlier) :]] == ["QS-0901", "QS-0902"]
    assert len({(each.allocation.stream, each.allocation.index) for each in both}) == len(both)
    record = json.loads((clinic / "plans.allocation.json").read_text("utf-8"))
    assert record["streams"] == Counter(each.allocation.stream for each in both)
    assert record["statement"].count('protocol version "demo 1" is signed') == 1


def test_another_seed_does_not_go_on_with_a_table(clinic, capsys):
    before = (clinic / "plans.csv").read_bytes()
    assert plan_ready(clinic, "--seed", "6") == REFUSED
    assert "drawn with another seed" in capsys.readouterr().err
    (clinic / "plans.seed").unlink()
    assert plan_ready(clinic) == REFUSED
    assert "the seed of these plans is not here" in capsys.readouterr().err
    assert (clinic / "plans.csv").read_bytes() == before


def test_nobody_new_is_said_and_changes_nothing(clinic, capsys):
    before = (clinic / "plans.csv").read_bytes()
    assert plan_ready(clinic) == REFUSED
    said = capsys.readouterr().err
    assert "still open: " in said or "nobody in it needs a plan" in said
    assert (clinic / "plans.csv").read_bytes() == before


def test_plan_of_the_clinic_names_the_protocol_that_is_signed_for_up(clinic):
    record = json.loads((clinic / "plans.allocation.json").read_text("utf-8"))
    assert 'protocol version "demo 1" is signed' in record["statement"]


def test_step_of_the_ladder_and_first_evening_are_planned(out, tmp_path, capsys):
    ladder = tmp_path / "ladder.csv"
    ladder.write_text(
        "step,piece,length_mm,shape\n1,bead-3,3,sphere\n2,bead-5,5,sphere\n", encoding="utf-8"
    )
    words = ("--ladder", str(ladder), "--step", "2", "--start", "2026-03-02", "--trainees", "2")
    assert plan(out, *words) == DONE
    (first, _) = read_plans(out)
    assert {(night.piece, night.piece_mm) for night in first.nights} == {("bead-5", 5.0)}
    said = capsys.readouterr().out
    # 14 nights of 5 positions are 70 pieces, with 10 spares: common practice, no source.
    assert "bead-5, 5 positions: 70 pieces and 10 spares for each of 2 trainees" in said
    assert "their sugar is not known" in said
    assert "say nothing about a floating capsule" in said
    assert first.start.isoformat() == "2026-03-02"
    assert plan(out, "--ladder", str(ladder), "--step", "3") == REFUSED


def test_plans_of_another_table_of_orders_are_neither_checked_nor_continued(clinic, capsys):
    record = clinic / "plans.allocation.json"
    told = json.loads(record.read_text("utf-8")) | {"orders_table_sha256": "0" * 64}
    record.write_text(json.dumps(told), "utf-8")
    assert plan_ready(clinic) == REFUSED
    assert "another version's table of orders" in capsys.readouterr().err
    assert run(["plan", "--replay", str(clinic / "plans.csv"), "--seed", "5"]) == REFUSED


def test_damaged_record_is_refused_and_not_written_over(clinic, capsys):
    record = clinic / "plans.allocation.json"
    record.write_text("{", "utf-8")
    assert plan_ready(clinic) == REFUSED
    assert "not the record that the program wrote" in capsys.readouterr().err
    assert record.read_text("utf-8") == "{"


def test_allocation_that_another_seed_replaces_is_set_aside_with_its_seed(out, capsys):
    plan(out, "--trainees", "3", "--seed", "1")
    table, seed = out.read_bytes(), out.with_suffix(".seed").read_bytes()
    plan(out, "--trainees", "3", "--seed", "1")
    assert len(list(out.parent.iterdir())) == 3
    assert "are kept as" not in capsys.readouterr().err
    plan(out, "--trainees", "3", "--seed", "2")
    (kept,) = out.parent.glob("plans.*.csv")
    assert f"The plans that were there are kept as {kept}" in capsys.readouterr().err
    assert kept.read_bytes() == table
    assert kept.with_suffix(".seed").read_bytes() == seed


def test_locked_trainee_gets_no_booklet_until_a_clinician_answered(clinic, tmp_path, capsys):
    (first, *others) = [each.trainee for each in read_plans(clinic / "plans.csv")]
    events = tmp_path / "locks.csv"
    words = ["booklet", str(clinic / "plans.csv"), "--protocol", str(clinic / "protocol.toml")]
    words += ["--events", str(events)]
    header = "trainee,night,tier,position,may_go_on_since\n"
    events.write_text(f"{header}{first},2,act_first,left,\n", "utf-8")
    assert run([*words, "--out", str(tmp_path / "locked")]) == DONE
    assert f"No booklet: trainee {first}" in capsys.readouterr().err
    assert {each.stem for each in (tmp_path / "locked").iterdir()} == set(others)
    events.write_text(f"{header}{first},2,act_first,left,2026-03-05\n", "utf-8")
    assert run([*words, "--out", str(tmp_path / "answered")]) == DONE
    assert (tmp_path / "answered" / f"{first}.pdf").exists()


def test_same_plan_gives_the_same_booklet_byte_for_byte(clinic, tmp_path):
    words = ["booklet", str(clinic / "plans.csv"), "--protocol", str(clinic / "protocol.toml")]
    for name in ("one", "two"):
        assert run([*words, "--out", str(tmp_path / name)]) == DONE
    for made in (tmp_path / "one").iterdir():
        assert made.read_bytes() == (tmp_path / "two" / made.name).read_bytes()
