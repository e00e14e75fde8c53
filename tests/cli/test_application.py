"""The command line's frame: exit statuses, help, messages."""

import subprocess
import sys
from pathlib import Path

import pytest

from sidelong.cli import application
from sidelong.cli.application import COMMANDS, DONE, REFUSED, WRONG_USAGE, run


@pytest.mark.parametrize("tokens", [["frobnicate"], ["plan", "--frobnicate"], ["booklet"]])
def test_wrong_usage_has_its_own_status(tokens):
    assert run(tokens) == WRONG_USAGE


def test_refused_input_says_where_what_and_what_to_do(capsys, tmp_path):
    table = tmp_path / "plans.csv"
    table.write_text("trainee,night\nHL-1,1\n", "utf-8")
    assert run(["booklet", str(table), "--out", str(tmp_path / "b")]) == REFUSED
    said = capsys.readouterr().err
    assert "plans.csv, row 1, slot: the column is missing. Add a column slot" in said
    assert not (tmp_path / "b").exists()


def test_file_that_is_not_there_is_refused_without_a_traceback(capsys, tmp_path):
    assert run(["estimate", str(tmp_path / "none.csv")]) == REFUSED
    assert "there is no such file" in capsys.readouterr().err


def test_interruption_leaves_with_the_status_of_a_signal(monkeypatch):
    def interrupt(called):
        raise KeyboardInterrupt

    monkeypatch.setattr(application, "make_app", interrupt)
    assert run(["plan"]) == application.INTERRUPTED


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_every_command_teaches_with_an_example(command, capsys):
    assert run([command, "--help"]) == DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "sidelong" in said
    assert f"For example: sidelong {command}" in said


def test_commands_start_without_the_web_application():
    program = (
        "import sys; from sidelong.cli.application import run; "
        "[run([c, '--help']) for c in sys.argv[1:]]; "
        "sys.exit(any(m == 'django' or m.startswith('django.') for m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", program, *COMMANDS], capture_output=True)
    assert done.returncode == 0, done.stderr


def test_overview_does_not_load_the_science():
    program = (
        "import sys; from sidelong.cli.application import run; run(['--help']); "
        "sys.exit('scipy' in sys.modules or 'typst' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], capture_output=True).returncode == 0


@pytest.mark.parametrize("command", ["estimate e.csv", "readiness r.csv --protocol p.toml", "plan"])
def test_a_day_that_is_none_says_how_days_are_written(command: str, capsys) -> None:
    assert run([*command.split(), "--today", "2020-13-45"]) == WRONG_USAGE
    said = " ".join(capsys.readouterr().err.replace("│", " ").split())
    assert "--today: 2020-13-45 is no day; write it as 2026-11-25" in said


def test_a_place_that_cannot_be_is_named_as_it_was_typed(tmp_path: Path, capsys) -> None:
    place = tmp_path / "none" / "plans.csv"
    assert run(["plan", "--out", str(place)]) == REFUSED
    assert f"{place}: its folder does not exist" in capsys.readouterr().err


def test_only_languages_are_offered_as_languages(tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["estimate", "e.csv", "--language", "xx"]) == REFUSED
    said = capsys.readouterr().err
    assert 'there is no catalogue for "xx". Use en.' in said
