"""`sidelong booklet` as a user runs it."""

from dataclasses import replace

import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.protocols import protocol_text, read_default_protocol, read_demo_protocol
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol


@pytest.fixture
def plans(tmp_path):
    """One trainee's plan with all five positions, `up` among them."""
    table = tmp_path / "plans.csv"
    words = ("--trainees", "1", "--nights", "7", "--seed", "2", "--bands", "sprouts")
    assert run(["plan", "--out", str(table), *words]) == DONE
    return table


def signed_without_up() -> Protocol:
    """The invented protocol without `up`, signed again under its new text."""
    demo = read_demo_protocol()
    positions = tuple(each for each in demo.positions if each is not Position.UP)
    unsigned = replace(demo, positions=positions, signatures=())
    signatures = tuple(replace(s, fingerprint=unsigned.fingerprint) for s in demo.signatures)
    return replace(unsigned, signatures=signatures)


def booklet(plans, *words):
    return run(["booklet", str(plans), "--out", str(plans.parent / "booklets"), *words])


def test_position_that_the_signed_protocol_does_not_allow_is_not_printed(plans, capsys):
    protocol = plans.parent / "protocol.toml"
    protocol.write_text(protocol_text(signed_without_up()), "utf-8")
    capsys.readouterr()
    assert booklet(plans, "--protocol", str(protocol)) == REFUSED
    assert 'trainee T-0001: protocol "demo 1" does not allow up.' in capsys.readouterr().err
    assert not (plans.parent / "booklets").exists()


def test_draft_and_what_it_does_not_cover_are_said_to_whoever_prints(plans, capsys):
    capsys.readouterr()
    assert booklet(plans) == DONE
    said = capsys.readouterr().err
    assert "every page says that the protocol is a draft" in said
    assert "`up` is in these plans, and this draft is not signed for it." in said
    assert 'the protocol has no band "sprouts": its sheets offer all five answers, and' in said


def test_signed_protocol_without_gaps_needs_no_note(plans, capsys):
    protocol = plans.parent / "protocol.toml"
    protocol.write_text(protocol_text(read_demo_protocol()), "utf-8")
    table = plans.read_text("utf-8").replace("sprouts", "older")
    plans.write_text(table, "utf-8")
    capsys.readouterr()
    assert booklet(plans, "--protocol", str(protocol)) == DONE
    assert capsys.readouterr().err == ""


def test_kit_folder_with_other_files_is_refused_before_a_booklet_is_written(plans, capsys):
    kit = plans.parent / "kit"
    kit.mkdir()
    (kit / "holiday.jpg").write_bytes(b"")
    assert booklet(plans, "--kit", str(kit)) == REFUSED
    assert "1 other file in it, the first is holiday.jpg" in capsys.readouterr().err
    assert list((plans.parent / "booklets").iterdir()) == []


def test_what_a_file_manager_leaves_does_not_count_as_other_files(plans):
    folder = plans.parent / "booklets"
    folder.mkdir()
    for name in (".DS_Store", "Thumbs.db", "desktop.ini"):
        (folder / name).write_bytes(b"")
    assert booklet(plans) == DONE


def test_draft_that_ships_is_not_approved_and_leaves_up_out():
    draft = read_default_protocol()
    assert not draft.is_approved
    assert Position.UP not in draft.positions
