"""The key ring."""

import os
import stat
from datetime import date
from pathlib import Path

import pytest

from sidelong.clinic.keys import KeyRing, Purpose, make_ring, read_ring, write_ring
from sidelong.problems import Refused

TODAY = date(2026, 11, 25)


class Counter:
    """Gives other bytes each time, the same in every run."""

    def __init__(self) -> None:
        self.n = 0

    def __call__(self, n_bytes: int) -> bytes:
        self.n += 1
        return bytes([self.n]) * n_bytes


@pytest.fixture
def ring() -> KeyRing:
    return make_ring(today=TODAY, draw=Counter())


def test_every_purpose_has_a_key_of_its_own(ring: KeyRing) -> None:
    secrets = {ring.newest(purpose).secret for purpose in Purpose}
    assert len(secrets) == len(Purpose)


def test_a_new_key_seals_and_the_old_one_still_opens(ring: KeyRing) -> None:
    turned = ring.with_new_key(Purpose.NAMES, today=TODAY, draw=lambda n: b"n" * n)
    assert turned.newest(Purpose.NAMES).name == "names-2"
    assert turned.find("names-1", Purpose.NAMES) == ring.newest(Purpose.NAMES)


def test_a_key_of_one_purpose_does_not_serve_another(ring: KeyRing) -> None:
    with pytest.raises(Refused, match="names-1"):
        ring.find("names-1", Purpose.BACKUPS)


def test_the_last_key_of_a_purpose_cannot_be_taken_off(ring: KeyRing) -> None:
    with pytest.raises(Refused, match="no key for index"):
        ring.without("index-1")


def test_a_number_is_not_used_twice_after_a_key_was_taken_off(ring: KeyRing) -> None:
    draw = Counter()
    turned = ring.with_new_key(Purpose.NAMES, today=TODAY, draw=draw).without("names-1")
    again = turned.with_new_key(Purpose.NAMES, today=TODAY, draw=draw)
    assert [key.name for key in again.for_purpose(Purpose.NAMES)] == ["names-2", "names-3"]


def test_a_ring_is_read_as_it_was_written(ring: KeyRing, tmp_path: Path) -> None:
    write_ring(tmp_path / "ring.json", ring)
    assert read_ring(tmp_path / "ring.json") == ring


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights in another way")
def test_only_its_owner_may_read_the_ring(ring: KeyRing, tmp_path: Path) -> None:
    write_ring(tmp_path / "ring.json", ring)
    assert stat.S_IMODE((tmp_path / "ring.json").stat().st_mode) == 0o600


def test_no_secret_is_shown_in_a_representation_or_a_message(ring: KeyRing, tmp_path: Path) -> None:
    path = tmp_path / "ring.json"
    write_ring(path, ring)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"names"', '"nothing"'), encoding="utf-8")
    with pytest.raises(Refused, match="damaged") as refusal:
        read_ring(path)
    assert "secret" not in repr(ring)
    assert "AQEB" not in str(refusal.value)


@pytest.mark.parametrize("text", ["", "[]", '{"format": 2}', '{"format": 1, "keys": []}'])
def test_a_damaged_ring_is_refused(text: str, tmp_path: Path) -> None:
    path = tmp_path / "ring.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Refused):
        read_ring(path)


def test_a_missing_ring_is_refused_with_a_remedy(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"there is no such file\. Put the ring"):
        read_ring(tmp_path / "ring.json")
