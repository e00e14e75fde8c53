"""The tables that say where referrals stand."""

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sidelong.exchange.protocols import read_demo_protocol
from sidelong.exchange.readiness import read_readiness, write_readiness, write_reasons
from sidelong.pathway.readiness import may_plan, sort_readiness
from sidelong.problems import Refused
from sidelong.training.gates import Answer
from sidelong.training.position import Position
from sidelong.training.readiness import Gap, SortedReferral
from sidelong.training.referral import PRACTICE, Decided, Decision, Referral

PROTOCOL = read_demo_protocol()
TODAY = date(2026, 3, 10)
NO_TO_ALL = dict.fromkeys(PROTOCOL.questions, Answer.NO)


def decision(trainee: str, gate: str, **more: object) -> Decision:
    return Decision(
        trainee,
        gate,
        Decided.GO_WITH_LIMITS,
        "Dr A",
        "paediatrician",
        TODAY,
        date(2026, 4, 1),
        "seen",
        **more,  # type: ignore[arg-type]
    )


def sort(trainee: str, *decisions: Decision, yes: str = "", blank: bool = False) -> SortedReferral:
    answers = {} if blank else NO_TO_ALL | dict.fromkeys(yes.split(), Answer.YES)
    referral = Referral(trainee, "demo", 10, answers, language="en")
    return sort_readiness(referral, PROTOCOL, today=TODAY, decisions=decisions)


SORTED = (
    sort("A-1", decision("A-1", PRACTICE, takes_out=frozenset({Position.UP}))),
    sort("A-2", yes="stiff_neck diabetes fluid_limit"),
    sort("A-3", blank=True),
    sort(
        "A-4",
        decision("A-4", "narrow_gullet", max_piece_mm=6.5),
        decision("A-4", PRACTICE),
        yes="narrow_gullet",
    ),
)


def as_read_back(result: SortedReferral) -> SortedReferral:
    """A table keeps where somebody stands; why has a table of its own."""
    parts = dict.fromkeys(gap.part for gap in result.missing)
    return replace(result, reasons=(), unanswered=(), missing=tuple(map(Gap, parts)))


def test_written_readiness_reads_back(tmp_path: Path) -> None:
    write_readiness(tmp_path / "readiness.csv", SORTED)

    back = read_readiness(tmp_path / "readiness.csv")

    assert back == tuple(map(as_read_back, SORTED))
    assert [each.may_plan for each in back] == [True, False, False, True]
    assert may_plan(back[0], PROTOCOL, today=TODAY) == ()
    assert may_plan(back[0], PROTOCOL, today=date(2026, 4, 2))


def test_reasons_name_every_gate_with_its_source(tmp_path: Path) -> None:
    write_reasons(tmp_path / "reasons.csv", SORTED)

    with (tmp_path / "reasons.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))

    blank = [row for row in rows if row["trainee"] == "A-3" and row["number"]]
    assert len(blank) == 50
    assert {row["answer"] for row in blank} == {"none"}
    assert all(row["why"] and row["source"] and row["status"] for row in blank)
    of_second = [row["gate"] for row in rows if row["trainee"] == "A-2"]
    assert of_second == ["stiff_neck", "fluid_limit", "diabetes", "water", "decision"]


def test_table_without_names_of_staff(tmp_path: Path) -> None:
    write_readiness(tmp_path / "readiness.csv", SORTED)
    write_reasons(tmp_path / "reasons.csv", SORTED)

    for name in ("readiness.csv", "reasons.csv"):
        assert "Dr A" not in (tmp_path / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("down left centre right", "down left right", "positions"),
        ("down left centre right", "down left centre sideways", "positions"),
        ("clinician first", "cleared", "readiness"),
        ("gates water decision", "", "missing"),
    ],
)
def test_table_that_was_changed_by_hand_clears_nobody(
    old: str, new: str, place: str, tmp_path: Path
) -> None:
    path = tmp_path / "readiness.csv"
    write_readiness(path, SORTED)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")

    with pytest.raises(Refused) as refusal:
        read_readiness(path)

    assert f", {place}: " in str(refusal.value.problems[0])
