"""`demo` and `serve` before anything is served: which folders they take, and which they leave."""

import os
import socket
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from sidelong.cli.application import DONE, REFUSED, WRONG_USAGE, run
from sidelong.cli.installation import MARK, MARK_TEXT, throw_away
from sidelong.cli.one_at_a_time import LOCK_FILE, hold_folder
from sidelong.clinic.installation import make_installation
from sidelong.problems import Refused

TODAY = date(2026, 11, 25)


def invented(home: Path) -> Path:
    make_installation(home, today=TODAY, demo=True)
    (home / MARK).write_text(MARK_TEXT, "utf-8")
    return home


def test_reset_throws_an_invented_clinic_away(tmp_path: Path) -> None:
    home = invented(tmp_path / "demo")
    throw_away(home)
    assert not home.exists()
    throw_away(home)  # nothing is there, which is as well


@pytest.mark.parametrize("kind", ["thesis", "real", "real with our mark", "mark alone"])
def test_reset_deletes_no_folder_that_it_did_not_make(kind: str, tmp_path: Path) -> None:
    kept = tmp_path / "thesis.txt"
    kept.write_text("years of work", "utf-8")
    if kind.startswith("real"):
        make_installation(tmp_path, today=TODAY)
    if "mark" in kind:
        (tmp_path / MARK).write_text(MARK_TEXT, "utf-8")
    with pytest.raises(Refused, match="only an invented clinic is thrown away"):
        throw_away(tmp_path)
    assert kept.read_text("utf-8") == "years of work"


def test_demo_opens_no_folder_that_holds_something_else(tmp_path: Path, capsys) -> None:
    (tmp_path / "thesis.txt").write_text("years of work", "utf-8")
    assert run(["demo", "--folder", str(tmp_path), "--no-browser"]) == REFUSED
    assert "it is not empty. Give another --folder" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["thesis.txt"]


def test_demo_and_serve_leave_each_others_folders_alone(tmp_path: Path, capsys) -> None:
    make_installation(tmp_path / "real", today=TODAY)
    assert run(["demo", "--folder", str(tmp_path / "real"), "--no-browser"]) == REFUSED
    assert "a clinic that is not invented" in capsys.readouterr().err
    home = invented(tmp_path / "demo")
    assert run(["serve", "--folder", str(home)]) == REFUSED
    assert "Open it with `sidelong demo`" in capsys.readouterr().err


def test_serve_begins_no_clinic_among_other_things(tmp_path: Path, capsys) -> None:
    (tmp_path / "thesis.txt").write_text("years of work", "utf-8")
    assert run(["serve", "--folder", str(tmp_path)]) == REFUSED
    assert "something else than a clinic" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["thesis.txt"]


@pytest.mark.parametrize("port", ["0", "70000", "x"])
def test_a_port_that_cannot_be_is_wrong_usage(port: str, tmp_path: Path) -> None:
    assert run(["serve", "--folder", str(tmp_path / "c"), "--port", port]) == WRONG_USAGE
    assert not (tmp_path / "c").exists()


def test_a_port_that_is_taken_is_named_or_another_one_is_found(socket_enabled) -> None:
    from sidelong.clinic.serving import find_port

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(Refused, match=f"port {port}: it cannot be used"):
            find_port("127.0.0.1", port, or_another=False)
        another = find_port("127.0.0.1", port, or_another=True)
    assert another not in {port, 0}
    assert find_port("127.0.0.1", port, or_another=False) == port


@pytest.mark.parametrize("words", [["demo", "--no-browser"], ["demo", "--reset"]])
def test_a_second_demo_on_one_folder_is_refused_and_changes_nothing(
    words: list[str], tmp_path: Path, capsys
) -> None:
    home = invented(tmp_path / "demo")
    with hold_folder(home) as hold:
        hold.say("process 7, http://127.0.0.1:8711")
        before = {each: each.read_bytes() for each in home.rglob("*") if each.is_file()}
        assert run([*words, "--folder", str(home)]) == REFUSED
        assert {each: each.read_bytes() for each in home.rglob("*") if each.is_file()} == before
    said = " ".join(capsys.readouterr().err.split())
    assert "another sidelong has this folder open" in said
    assert "(process 7, http://127.0.0.1:8711). Use that one, or stop it" in said


def test_a_second_serve_on_one_folder_is_refused(tmp_path: Path, capsys) -> None:
    make_installation(tmp_path / "c", today=TODAY)
    with hold_folder(tmp_path / "c"):
        assert run(["serve", "--folder", str(tmp_path / "c")]) == REFUSED
    assert "another sidelong has this folder open" in capsys.readouterr().err


HELD = """
import sys, time
from pathlib import Path
from sidelong.cli.one_at_a_time import hold_folder
with hold_folder(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(600)
"""


def test_a_program_that_was_killed_leaves_its_folder_free(tmp_path: Path) -> None:
    words = [sys.executable, "-c", HELD, str(tmp_path)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(Refused, match=f"process {other.pid}"), hold_folder(tmp_path):
            pass
        other.kill()
        other.wait(timeout=60)
        with hold_folder(tmp_path):
            assert str(os.getpid()) in (tmp_path / LOCK_FILE).read_text("utf-8")


def test_a_folder_with_nothing_but_an_old_lock_is_still_empty(
    tmp_path: Path, capsys, socket_enabled
) -> None:
    with hold_folder(tmp_path):
        pass
    (tmp_path / "thesis.txt").write_text("years of work", "utf-8")
    assert run(["demo", "--folder", str(tmp_path), "--no-browser"]) == REFUSED
    (tmp_path / "thesis.txt").unlink()
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert run(["demo", "--folder", str(tmp_path), "--port", port]) == REFUSED
    assert f"port {port}: it cannot be used" in capsys.readouterr().err
    assert (tmp_path / MARK).is_file()


FORGOTTEN = """
import os, sys
from sidelong.clinic import serving
serving.prepare = lambda home: sys.exit(
    f"{os.environ.get('SIDELONG_DATABASE')} {os.environ.get('SIDELONG_KEYS')}"
)
from sidelong.cli.installation import demo
from pathlib import Path
demo(folder=Path(sys.argv[1]), no_browser=True)
"""


def test_demo_keeps_away_from_the_database_and_keys_of_a_clinic(tmp_path: Path) -> None:
    elsewhere = {
        "SIDELONG_DATABASE": "postgresql://clinic@db.example/clinic",
        "SIDELONG_KEYS": str(tmp_path / "keys-of-the-clinic"),
    }
    done = subprocess.run(
        [sys.executable, "-c", FORGOTTEN, str(tmp_path / "demo")],
        env=os.environ | elsewhere,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr.strip() == "None None"
    assert not (tmp_path / "keys-of-the-clinic").exists()


def test_files_only_needs_no_database(tmp_path: Path) -> None:
    words = ["--files-only", "--folder", str(tmp_path / "f"), "--trainees", "5", "--seed", "3"]
    assert run(["demo", *words]) == DONE
    assert (tmp_path / "f" / "estimates.csv").is_file()
    assert not (tmp_path / "f" / "sidelong.sqlite3").exists()
