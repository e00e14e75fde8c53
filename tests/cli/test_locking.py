"""`sidelong estimate --lock` as a user runs it."""

from pathlib import Path

import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.estimates import read_estimates
from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.exchange.promises import mark_fit, read_locks
from sidelong.training.position import Position


@pytest.fixture
def entries(tmp_path: Path) -> Path:
    """Eight nights of two trainees; the first finds `left` easiest."""
    lines = ["trainee,night,slot,position,piece_mm,rating,went_down,felt_best,course"]
    for trainee, night in ((who, night) for who in ("T-1", "T-2") for night in range(1, 9)):
        for slot, position in enumerate(Position, start=1):
            easy = position is Position.LEFT and trainee == "T-1"
            cells = f"5,{5 if easy else 3},{'first' if easy else 'later'},{int(easy)},2"
            lines.append(f"{trainee},{night},{slot},{position},{cells}")
    table = tmp_path / "entries.csv"
    table.write_text("\n".join(lines) + "\n", "utf-8")
    return table


def estimate(entries: Path, *words: str) -> int:
    return run(["estimate", str(entries), "--out", str(entries.parent / "out.csv"), *words])


def test_what_is_locked_is_what_the_table_of_estimates_says(entries, capsys):
    locked = entries.parent / "locked.csv"
    assert estimate(entries, "--lock", str(locked)) == DONE
    assert "Fixed in" in capsys.readouterr().out
    locks, answers = read_locks(locked), read_estimates(entries.parent / "out.csv")
    assert [each.trainee for each in locks] == ["T-1", "T-2"]
    for lock, answer in zip(locks, answers, strict=True):
        ours = [(each.position, each.p_best, each.p_first_try) for each in lock.positions]
        theirs = [(each.position, each.p_best, each.p_first_try) for each in answer.positions]
        assert ours == theirs
        assert (lock.verdict, lock.nights_used, lock.course) == (
            answer.verdict,
            answer.nights_used,
            2,
        )
        assert lock.fit == mark_fit(SHIPPED_FIT)
        assert lock.locked_at.tzinfo is not None
    assert locks[0].suggested is Position.LEFT
    assert locks[0].evidence != locks[1].evidence


def test_a_locked_table_is_never_written_over_and_nothing_else_is_written(entries, capsys):
    locked = entries.parent / "locked.csv"
    assert estimate(entries, "--lock", str(locked)) == DONE
    before = locked.read_bytes()
    (entries.parent / "out.csv").unlink()
    assert estimate(entries, "--lock", str(locked)) == REFUSED
    assert "locked estimates are never changed" in capsys.readouterr().err
    assert locked.read_bytes() == before
    assert not (entries.parent / "out.csv").exists()


def test_a_correction_changes_the_fingerprint_of_one_trainee_alone(entries):
    first, second = (entries.parent / name for name in ("first.csv", "second.csv"))
    estimate(entries, "--lock", str(first))
    text = entries.read_text("utf-8")
    entries.write_text(text.replace("T-2,3,2,left,5,3", "T-2,3,2,left,5,4"), "utf-8")
    estimate(entries, "--lock", str(second))
    before, after = read_locks(first), read_locks(second)
    assert before[0].evidence == after[0].evidence
    assert before[1].evidence != after[1].evidence


def test_an_event_changes_the_fingerprint(entries):
    first, second = (entries.parent / name for name in ("first.csv", "second.csv"))
    events = entries.parent / "events.csv"
    events.write_text("trainee,night,tier,position\nT-1,3,stop_tonight,left\n", "utf-8")
    estimate(entries, "--lock", str(first))
    estimate(entries, "--lock", str(second), "--events", str(events))
    assert read_locks(first)[0].evidence != read_locks(second)[0].evidence
    assert read_locks(second)[0].suggested is not Position.LEFT
    assert read_locks(second)[0].of(Position.LEFT).may_recommend is False
