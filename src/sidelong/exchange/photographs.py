"""Files with photographs: a folder, a ZIP archive, or a single file, within bounds.

What is inside a file is not looked at here. Sizes are checked before anything is unpacked, and
again while it is.
"""

import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from sidelong.exchange.columns import CellFault
from sidelong.exchange.files import read_bytes
from sidelong.exchange.readings import IMAGE_COLUMN
from sidelong.problems import Problem, Refused

MAX_FILE_BYTES = 200_000_000  # a PDF of many scans; single photographs are bounded further on
MAX_MEMBERS = 2000
_ZIP = ".zip"


@dataclass(frozen=True)
class PhotographFile:
    """One file to be opened.

    Parameters
    ----------
    name : str
        Name for tables and messages.
    content : bytes
        All of it.
    """

    name: str
    content: bytes


@dataclass(frozen=True)
class Found:
    """Files of a folder or archive that may hold photographs.

    Parameters
    ----------
    path : Path
        Where it lies.
    name : str
        Name for tables and messages.
    member : str
        Name inside the archive; empty outside one.
    """

    path: Path
    name: str
    member: str = ""

    def read(self) -> PhotographFile:
        """Read it.

        Returns
        -------
        PhotographFile
            Name and content.

        Raises
        ------
        Refused
            If it cannot be read, is larger than it may be, or has a name that no table can hold.
        """
        try:
            IMAGE_COLUMN.write_cell(self.name)
        except CellFault as fault:
            what = "its name cannot stand in a table"
            raise Refused([_fault(self.path.name, what, "Rename it.")]) from fault
        if self.member:
            return PhotographFile(self.name, _unpack(self.path, self.member, name=self.name))
        if self.path.is_file() and self.path.stat().st_size > MAX_FILE_BYTES:
            what = f"it has more than {MAX_FILE_BYTES // 10**6} MB"
            raise Refused([_fault(self.name, what, "Send it in parts.")])
        return PhotographFile(self.name, read_bytes(self.path))


def find_photographs(place: Path, *, suffixes: tuple[str, ...]) -> tuple[Found, ...]:
    """List what a folder, a ZIP archive or a single file holds, by name.

    Parameters
    ----------
    place : Path
        Folder (its own files, not those of folders in it; archives in it are opened), archive or
        file.
    suffixes : tuple of str
        Endings that count, with their dots, in small letters.

    Returns
    -------
    tuple of Found
        In the order of their names.

    Raises
    ------
    Refused
        If there is no such place, it holds nothing of the kind, or an archive is damaged.
    """
    if not place.exists():
        what, remedy = "there is no such file or folder", "Check the name."
        raise Refused([Problem(str(place), what, remedy, "file")])
    files = sorted(place.iterdir()) if place.is_dir() else [place]
    found: list[Found] = []
    for path in files:
        if path.name.startswith(".") or not path.is_file():
            continue
        if path.suffix.lower() == _ZIP:
            found += _list_archive(path, suffixes)
        elif path.suffix.lower() in suffixes:
            found.append(Found(path, path.name))
    if not found:
        kinds = ", ".join(suffix.removeprefix(".") for suffix in suffixes)
        what, remedy = (
            "it holds no photograph or scan",
            f"Put files of these kinds there: {kinds}, zip.",
        )
        raise Refused([_fault(str(place), what, remedy)])
    return tuple(found)


def _list_archive(path: Path, suffixes: tuple[str, ...]) -> Iterator[Found]:
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError) as error:
        raise Refused([_fault(path.name, "it is a damaged archive", "Pack it again.")]) from error
    wanted = [
        member
        for member in members
        if PurePosixPath(member.filename).suffix.lower() in suffixes
        and not PurePosixPath(member.filename).name.startswith(".")
    ]
    if len(wanted) > MAX_MEMBERS:
        what = f"it holds {len(wanted)} files, more than {MAX_MEMBERS}"
        raise Refused([_fault(path.name, what, "Pack it in parts.")])
    for member in sorted(wanted, key=lambda each: each.filename):
        yield Found(path, f"{path.name}/{member.filename}", member.filename)


def _unpack(path: Path, member: str, *, name: str) -> bytes:
    """Unpack one member, stopping where it becomes larger than it may be."""
    try:
        with zipfile.ZipFile(path) as archive, archive.open(member) as stream:
            content = io.BytesIO()
            while chunk := stream.read(1 << 20):
                content.write(chunk)
                if content.tell() > MAX_FILE_BYTES:
                    what = f"unpacked it has more than {MAX_FILE_BYTES // 10**6} MB"
                    raise Refused([_fault(name, what, "Send the photographs themselves.")])
            return content.getvalue()
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError) as error:
        raise Refused([_fault(name, "it is damaged", "Pack it again.")]) from error
    except (RuntimeError, NotImplementedError) as error:
        what = "it is locked with a password, or packed in a way that is not known"
        raise Refused([_fault(name, what, "Pack it again without a password.")]) from error


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "photograph")
