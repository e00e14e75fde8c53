"""Files are read with a remedy, and written whole or not at all."""

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from sidelong.problems import Problem, Refused


def read_bytes(path: Path) -> bytes:
    """Read a file, or say why it cannot be read.

    Parameters
    ----------
    path : Path
        File to read.

    Returns
    -------
    bytes
        All of it.

    Raises
    ------
    Refused
        If there is no such file or it may not be read.
    """
    try:
        return path.read_bytes()
    except FileNotFoundError as error:
        remedy = "Check the name and the folder."
        raise Refused([Problem(str(path), "there is no such file", remedy, "file")]) from error
    except OSError as error:
        what = f"it cannot be read ({error.strerror or 'unknown reason'})"
        remedy = "Check that it is a file and that you may read it."
        raise Refused([Problem(str(path), what, remedy, "file")]) from error


def write_text(path: Path, text: str) -> None:
    """Write a text in UTF-8, whole or not at all; see :func:`write_bytes`."""
    write_bytes(path, text.encode("utf-8"))


def check_place(path: Path) -> None:
    """Refuse a place that cannot hold a file, before the work for it begins.

    Parameters
    ----------
    path : Path
        File to be written later.

    Raises
    ------
    Refused
        If the folder is not there, or a folder has the name.
    """
    target = path.resolve()
    if not target.parent.is_dir():
        remedy = "Make the folder first, or give another place."
        raise Refused([Problem(str(path), "its folder does not exist", remedy, "file")])
    if target.is_dir():
        raise Refused([Problem(str(path), "it is a folder", "Give the name of a file.", "file")])


def check_free_place(path: Path, *, why: str, kind: str) -> None:
    """Refuse a place where something stands already that is never written over.

    Parameters
    ----------
    path : Path
        File to be written later.
    why : str
        Why it is never written over, as the end of a sentence.
    kind : str
        Heading in ``docs/problems.md``.

    Raises
    ------
    Refused
        If there is something of that name, or no folder for it.
    """
    check_place(path)
    if path.exists():
        remedy = "Give another name, for example with the date in it."
        raise Refused([Problem(str(path), f"it is there already, and {why}", remedy, kind)])


def check_apart(*, read: Mapping[str, Path | None], written: Mapping[str, Path | None]) -> None:
    """Refuse to write one file twice, or over a file that is read, before the work begins.

    Parameters
    ----------
    read, written : mapping of str to Path or None
        Files by the option, or part of the command, that names them; None where it was not given.

    Raises
    ------
    Refused
        If two options name one file and it would be written; every such pair.
    """
    taken = {place.resolve(): by for by, place in read.items() if place}
    problems = []
    for by, place in written.items():
        if place is None:
            continue
        if other := taken.get(place.resolve()):
            what = f"{place} is the file of {other} too"
            remedy = "Give another name, so that neither is written over."
            problems.append(Problem(by, what, remedy, "file"))
        taken.setdefault(place.resolve(), by)
    if problems:
        raise Refused(problems)


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole, or leave what was there.

    The content goes to a new file in the same folder, which then takes the name: whoever reads
    meanwhile, or after a power cut, finds the old file or the new one.

    Parameters
    ----------
    path : Path
        File to write; its folder must exist.
    content : bytes
        All of it.

    Raises
    ------
    Refused
        If the folder is not there, or the file is held open by another program.
    """
    target = path.resolve()
    check_place(path)
    if target.exists() and not target.is_file():
        target.write_bytes(content)  # a pipe or a terminal has no place for a second file
        return
    beside = target.with_name(f".{target.name[:100]}.{secrets.token_hex(6)}.part")
    try:
        with beside.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(target)
    except OSError as error:
        what = f"it cannot be written ({error.strerror or 'unknown reason'})"
        remedy = "Close it in other programs, and check that you may write there."
        raise Refused([Problem(str(path), what, remedy, "file")]) from error
    finally:
        beside.unlink(missing_ok=True)
