"""`sidelong estimate` as a user runs it."""

import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.estimates import read_estimates
from sidelong.exchange.protocols import default_protocol_text


@pytest.fixture
def entries(tmp_path):
    """Eight nights of one trainee who found `up` easiest."""
    lines = ["trainee,night,slot,position,piece_mm,rating,went_down,felt_best"]
    positions = ("down", "left", "centre", "right", "up")
    for night in range(1, 9):
        for slot, position in enumerate(positions, start=1):
            easy = position == "up"
            lines.append(f"T-1,{night},{slot},{position},5,{5 if easy else 3},first,{int(easy)}")
    table = tmp_path / "entries.csv"
    table.write_text("\n".join(lines) + "\n", "utf-8")
    return table


def estimate(entries, *words):
    return run(["estimate", str(entries), "--out", str(entries.parent / "out.csv"), *words])


def test_sign_off_for_up_is_stated_in_the_output(entries, capsys):
    assert estimate(entries) == DONE
    assert "`up`" not in capsys.readouterr().err
    (answer,) = read_estimates(entries.parent / "out.csv")
    assert answer.verdict.value != "clear"
    assert estimate(entries, "--up-signed-off") == DONE
    assert "you state that a swallowing specialist has signed" in capsys.readouterr().err
    (answer,) = read_estimates(entries.parent / "out.csv")
    assert answer.verdict.value == "clear"


def test_sign_off_for_up_is_refused_where_the_protocol_leaves_up_out(entries, capsys):
    protocol = entries.parent / "protocol.toml"
    protocol.write_text(default_protocol_text(), "utf-8")
    assert estimate(entries, "--up-signed-off", "--protocol", str(protocol)) == REFUSED
    assert "does not allow `up`" in capsys.readouterr().err
    assert not (entries.parent / "out.csv").exists()


def test_place_without_a_folder_is_refused_and_leaves_nothing_behind(entries, capsys):
    report = entries.parent / "reports"
    place = entries.parent / "none" / "out.csv"
    words = ["estimate", str(entries), "--out", str(place), "--report", str(report)]
    assert run(words) == REFUSED
    assert "its folder does not exist" in capsys.readouterr().err
    assert not report.exists()
