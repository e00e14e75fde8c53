"""Sealed files: whole or not at all, bound to their name, never without a row for long."""

import os
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from sidelong.clinic.keys import make_ring
from sidelong.clinic.sheets.packing import pack, unpack
from sidelong.clinic.sheets.store import PhotoStore, new_name
from sidelong.problems import Refused


@pytest.fixture
def store(tmp_path: Path) -> PhotoStore:
    ring = make_ring(today=date(2026, 11, 25), draw=os.urandom)
    return PhotoStore(tmp_path / "photographs", ring)


def test_what_is_put_comes_back_and_lies_sealed(store: PhotoStore) -> None:
    name = new_name()
    store.put(b"a sheet on a table", name=name)
    assert store.get(name) == b"a sheet on a table"
    (path,) = store.folder.iterdir()
    assert b"sheet on a" not in path.read_bytes()


def test_a_file_opens_under_its_own_name_alone(store: PhotoStore) -> None:
    one, other = new_name(), new_name()
    store.put(b"one", name=one)
    store.put(b"other", name=other)
    (store.folder / f"{one}.sealed").replace(store.folder / f"{other}.sealed")
    with pytest.raises(Refused, match="changed or moved"):
        store.get(other)


def test_a_changed_byte_is_found(store: PhotoStore) -> None:
    name = new_name()
    store.put(b"a sheet", name=name)
    path = store.folder / f"{name}.sealed"
    sealed = bytearray(path.read_bytes())
    sealed[-1] ^= 1
    path.write_bytes(bytes(sealed))
    with pytest.raises(Refused):
        store.get(name)


def test_a_missing_file_says_what_to_do(store: PhotoStore) -> None:
    with pytest.raises(Refused, match="backup"):
        store.get(new_name())


@pytest.mark.parametrize("name", ["../../etc/passwd", "a" * 31, "x" * 31 + "/"])
def test_a_name_never_leads_out_of_the_folder(store: PhotoStore, name: str) -> None:
    with pytest.raises(ValueError, match="32 letters"):
        store.get(name)


def test_files_that_no_row_names_are_swept_away_once_they_have_settled(store: PhotoStore) -> None:
    kept, stray, young = new_name(), new_name(), new_name()
    for name in (kept, stray, young):
        store.put(b"pixels", name=name)
    half = store.folder / f"{new_name()}.part"
    half.write_bytes(b"half")
    long_ago = time.time() - 7200
    for path in (store.folder / f"{kept}.sealed", store.folder / f"{stray}.sealed", half):
        os.utime(path, (long_ago, long_ago))
    assert store.sweep({kept}, now=datetime.now(UTC)) == 2
    assert set(store.names()) == {kept, young}
    assert store.sweep({kept}, now=datetime.now(UTC) + timedelta(hours=2)) == 1


@pytest.mark.parametrize("pages", [(), (b"page",), (b"", b"two" * 1000)])
def test_a_photograph_and_its_pages_come_and_go_together(pages: tuple[bytes, ...]) -> None:
    assert unpack(pack(b"photograph", pages)) == (b"photograph", pages)


@pytest.mark.parametrize("packed", [b"", b"something", pack(b"x" * 50, (b"y" * 50,))[:-1]])
def test_what_was_cut_short_is_no_pack(packed: bytes) -> None:
    with pytest.raises(ValueError, match="packed sheets"):
        unpack(packed)
