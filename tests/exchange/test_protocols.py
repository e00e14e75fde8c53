"""The protocol's file: every fault at once, nothing unknown, and back again as the same value."""

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.documents import write_document
from sidelong.exchange.protocols import (
    default_protocol_text,
    protocol_fingerprint,
    read_default_protocol,
    read_demo_protocol,
    read_protocol,
    write_protocol,
)
from sidelong.problems import Refused
from sidelong.training.gate_rules import GateOff, SignOff
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.safety import EmergencyWords
from sidelong.training.wording import FamilyText


def saved(folder: Path, text: str) -> Path:
    path = folder / "site.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refusal(path: Path) -> list[str]:
    with pytest.raises(Refused) as caught:
        read_protocol(path)
    return [str(each) for each in caught.value.problems]


def changed(old: str, new: str) -> str:
    text = default_protocol_text()
    assert old in text
    return text.replace(old, new, 1)


def test_shipped_draft_reads_as_the_default(tmp_path: Path) -> None:
    assert read_protocol(saved(tmp_path, default_protocol_text())) == read_default_protocol()


@pytest.mark.parametrize("protocol", [read_default_protocol(), read_demo_protocol()])
def test_written_protocol_reads_back_as_the_same_value(protocol: Protocol, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"

    write_protocol(path, protocol)

    assert read_protocol(path) == protocol
    assert protocol_fingerprint(path) == protocol.fingerprint


def test_everything_optional_comes_back_too(tmp_path: Path) -> None:
    draft = read_default_protocol()
    sign_offs = tuple(SignOff("lead", name, date(2025, 12, 1)) for name in ("A. One", "B. Two"))
    full = replace(
        draft,
        languages=("en", "fr"),
        technique=(FamilyText("Sit.", (("fr", "Assieds-toi."),)), *draft.technique[1:]),
        emergency=(*draft.emergency, EmergencyWords("fr", "1 2", 'dites "stop"\nattendez')),
        gates_off=(GateOff("not_ready", "asked at the visit", sign_offs),),
    )

    write_protocol(tmp_path / "site.toml", full)

    assert read_protocol(tmp_path / "site.toml") == full


@settings(max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1))
def test_any_text_survives_the_writer(text: str) -> None:
    written = write_document(EmergencyWords("en", number=text, words="x"))

    assert tomllib.loads(written)["number"] == text


def test_fingerprint_does_not_know_layout_or_comments(tmp_path: Path) -> None:
    tidy = tmp_path / "tidy.toml"
    write_protocol(tidy, read_default_protocol())

    with_comments = saved(tmp_path, "# ours\n" + default_protocol_text().replace("\n", "\r\n"))

    assert protocol_fingerprint(with_comments) == protocol_fingerprint(tidy)


def test_fingerprint_can_be_had_before_up_is_signed(tmp_path: Path) -> None:
    listed = 'positions = ["down", "left", "centre", "right", "up"]'
    text = changed('positions = ["down", "left", "centre", "right"]', listed)
    path = saved(tmp_path, text)
    fingerprint = protocol_fingerprint(path)
    (fault,) = refusal(path)

    signature = (
        '\n[[signatures]]\nrole = "swallowing specialist"\nname = "A. Signer"\n'
        f'signed_on = 2025-12-01\nmeaning = "up allowed"\nfingerprint = "{fingerprint}"\n'
    )

    assert fingerprint in fault
    assert Position.UP in read_protocol(saved(tmp_path, text + signature)).positions


def test_every_fault_of_a_file_is_named_at_once(tmp_path: Path) -> None:
    text = default_protocol_text()
    for old, new in (
        ("format = 1", "format = 2"),
        ('version = "draft"', 'verison = "draft"'),
        ("not_now_below = 4", "not_now_below = 3"),
        ("nights = 14 ", 'nights = "two weeks" '),
        ('practised = "any"', 'practised = "some"'),
        ('rated_by = "supporter"', 'rated_by = "trainee"'),
        ('text = "Sit or stand tall."', 'text = ""'),
        ("number = 7\n", "number = 7\nfoo = 1\n"),
    ):
        assert old in text
        text = text.replace(old, new, 1)

    faults = refusal(saved(tmp_path, text))

    for place in (
        "format",
        "version",
        "verison",
        "ages.not_now_below",
        "course.nights",
        "course.practised",
        "bands[1].rated_by",
        "technique[1].text",
        "gates[7].foo",
    ):
        assert any(each.startswith(f"site.toml, {place}: ") for each in faults), place
    assert len(faults) >= 9
    assert any("Did you mean version?" in each for each in faults)


def test_faults_of_the_whole_come_with_the_file(tmp_path: Path) -> None:
    (fault,) = refusal(saved(tmp_path, changed('time_zone = "UTC"', 'time_zone = "Mars"')))

    assert fault.startswith("site.toml, time_zone: ")


def test_gate_cannot_be_loosened_in_the_file(tmp_path: Path) -> None:
    (fault,) = refusal(
        saved(tmp_path, changed('stop = "everything"\nrefer = true', "decide = true"))
    )

    assert "weaker than the standard" in fault


def test_gate_cannot_be_loosened_by_naming_the_file_like_ours(tmp_path: Path) -> None:
    path = tmp_path / "default_protocol.toml"
    text = changed('stop = "everything"\nrefer = true', "decide = true")
    path.write_text(text, encoding="utf-8")

    assert "weaker than the standard" in refusal(path)[0]


def test_gate_cannot_be_left_out_of_the_file(tmp_path: Path) -> None:
    text = default_protocol_text()
    first, second = text.index("[[gates]]"), text.index("[[gates]]", text.index("number = 1\n"))

    (fault,) = refusal(saved(tmp_path, text[:first] + text[second:]))

    assert "standard gates are missing: 1" in fault


def test_switching_off_in_the_file_takes_two_names(tmp_path: Path) -> None:
    def off(*names: str) -> str:
        people = ", ".join(
            f'{{ role = "clinician", name = "{name}", signed_on = 2025-12-01 }}' for name in names
        )
        return (
            f'{default_protocol_text()}\n[[gates_off]]\ngate = "not_ready"\n'
            f'reason = "tested at the visit"\nsign_offs = [{people}]\n'
        )

    assert "two different people" in refusal(saved(tmp_path, off("A. One")))[0]
    protocol = read_protocol(saved(tmp_path, off("A. One", "B. Two")))
    assert "not_ready" not in [gate.key for gate in protocol.active_gates]


def test_changed_text_under_old_signatures_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    write_protocol(path, read_demo_protocol())
    text = path.read_text(encoding="utf-8").replace("Sit or stand tall.", "Sit down.")

    faults = refusal(saved(tmp_path, text))

    assert len(faults) == len(read_demo_protocol().signatures)
    assert all("signed another text" in each for each in faults)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"format = 1\nsite = unquoted", "not TOML"),
        (b"", "the key is missing"),
    ],
)
def test_file_that_is_no_protocol_is_refused(content: bytes, what: str, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_bytes(content)

    assert any(what in each for each in refusal(path))


def test_missing_file_is_refused(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "none.toml")[0]


def test_demo_is_signed_invented_and_has_up() -> None:
    demo = read_demo_protocol()

    assert demo.is_approved
    assert demo.invented
    assert demo.positions == tuple(Position)
    assert demo.gates == read_default_protocol().gates
    assert all("nvented" in each.name for each in demo.signatures)


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("tries = 2 ", "tries = true ", "not a whole number"),
        ("easy_share = 0.8", "easy_share = 1", ""),
        ("valid_from = 2026-01-01", "valid_from = 2026-01-01T10:00:00", "not a date"),
        ('languages = ["en"]', 'languages = "en"', "not a list"),
        ("[success]\n", "[[success]]\n", "not a table"),
        ('text = "Sit or stand tall."', 'text = "Sit tall."\ntranslated = ["x"]', "table of texts"),
    ],
)
def test_values_of_another_sort_are_refused(old: str, new: str, what: str, tmp_path: Path) -> None:
    path = saved(tmp_path, changed(old, new))

    if what:
        assert what in refusal(path)[0]
    else:
        assert read_protocol(path).steps.easy_share == 1.0
