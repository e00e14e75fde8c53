import zipfile
from pathlib import Path

import pytest

from sidelong.exchange import photographs
from sidelong.exchange.photographs import find_photographs
from sidelong.problems import Refused

SUFFIXES = (".jpg", ".pdf")


def test_a_folder_gives_its_pictures_and_those_in_its_archives_by_name(tmp_path: Path) -> None:
    for name in ("b.jpg", "A.JPG", "note.txt", ".hidden.jpg"):
        (tmp_path / name).write_bytes(name.encode())
    with zipfile.ZipFile(tmp_path / "c.zip", "w") as archive:
        archive.writestr("in/d.jpg", b"d")
        archive.writestr("in/read.me", b"no")
    found = find_photographs(tmp_path, suffixes=SUFFIXES)
    assert [(each.name, each.read().content) for each in found] == [
        ("A.JPG", b"A.JPG"),
        ("b.jpg", b"b.jpg"),
        ("c.zip/in/d.jpg", b"d"),
    ]


def test_a_bomb_in_an_archive_is_stopped_while_it_unpacks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photographs, "MAX_FILE_BYTES", 1_000_000)
    with zipfile.ZipFile(tmp_path / "c.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("d.jpg", b"\0" * 5_000_000)
    [found] = find_photographs(tmp_path / "c.zip", suffixes=SUFFIXES)
    with pytest.raises(Refused, match="unpacked it has more than"):
        found.read()


def test_a_damaged_archive_is_refused(tmp_path: Path) -> None:
    (tmp_path / "c.zip").write_bytes(b"PK\x03\x04 and nothing more")
    with pytest.raises(Refused, match="damaged archive"):
        find_photographs(tmp_path / "c.zip", suffixes=SUFFIXES)


def test_a_name_that_a_spreadsheet_would_run_is_refused_with_a_remedy(tmp_path: Path) -> None:
    (tmp_path / "=1+1.jpg").write_bytes(b"")
    [found] = find_photographs(tmp_path, suffixes=SUFFIXES)
    with pytest.raises(Refused, match="Rename it"):
        found.read()


def test_an_empty_place_and_no_place_are_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="no photograph"):
        find_photographs(tmp_path, suffixes=SUFFIXES)
    with pytest.raises(Refused, match="no such"):
        find_photographs(tmp_path / "none", suffixes=SUFFIXES)
