"""No command writes one file twice, or over a file that it reads."""

from pathlib import Path

import pytest

from sidelong.cli.application import REFUSED, run

ESTIMATE = ["estimate", "entries.csv", "--out", "out.csv"]
SORT = ["readiness", "r.csv", "--protocol", "p.toml", "--out"]
CLASHES = [
    ([*ESTIMATE, "--questions", "out.csv"], "--questions: out.csv is the file of --out too"),
    ([*ESTIMATE, "--lock", "./out.csv"], "--lock: out.csv is the file of --out too"),
    ([*ESTIMATE, "--lock", "l.csv", "--questions", "l.csv"], "the file of --questions too"),
    ([*ESTIMATE, "--plans", "out.csv"], "--out: out.csv is the file of --plans too"),
    ([*ESTIMATE, "--prior", "out.fit.json"], "out.fit.json is the file of --prior too"),
    (["estimate", "e.csv", "--out", "e.csv"], "--out: e.csv is the file of the entries too"),
    ([*SORT, "r.csv"], "--out: r.csv is the file of the referrals too"),
    (
        [*SORT, "o.csv", "--answers", "o.reasons.csv"],
        "o.reasons.csv is the file of --answers too",
    ),
    (["confirm", "r.csv", "--plans", "p.csv", "--out", "p.csv"], "the file of --plans too"),
    (["promises", "l.csv", "--doses", "d.csv", "--out", "d.csv"], "the file of --doses too"),
    (["read", "photographs.zip", "--layout", "l.json", "--out", "l.json"], "of --layout too"),
    (["plan", "--ladder", "l.csv", "--out", "l.csv"], "--out: l.csv is the file of --ladder too"),
]


@pytest.mark.parametrize(("words", "said"), CLASHES, ids=[" ".join(each) for each, _ in CLASHES])
def test_a_file_is_not_written_twice_nor_over_what_is_read(
    words: list[str], said: str, tmp_path: Path, monkeypatch, capsys
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(words) == REFUSED
    err = capsys.readouterr().err
    assert said in err
    assert "Give another name, so that neither is written over." in err
    assert list(tmp_path.iterdir()) == []
