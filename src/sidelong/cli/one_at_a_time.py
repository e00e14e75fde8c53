"""One program to a clinic's folder: a second start is refused while the first one runs.

Two programs on one folder would bring its tables up to date under each other's hands, and
``--reset`` would delete what the other one serves. The system itself keeps the lock and takes it
back when a program ends, however it ends: after a crash or a power cut nothing is left to clear
away. The file only gives the lock a place, and says for a message who has it.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from sidelong.problems import Problem, Refused

LOCK_FILE = "in-use.lock"
# Far behind what is written: on Windows nobody else could read a byte that is locked.
_LOCKED_BYTE = 1 << 20
_LONGEST = 400


class Hold:
    """A folder that this program has to itself.

    Parameters
    ----------
    stream : binary file
        The lock file, open and locked.
    """

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def say(self, who: str) -> None:
        """Write down for others who has the folder: a command, and where it answers."""
        self._stream.seek(0)
        self._stream.truncate()
        self._stream.write(who.encode()[:_LONGEST])
        self._stream.flush()


@contextmanager
def hold_folder(home: Path) -> Iterator[Hold]:
    """Have a folder to oneself as long as the block runs.

    Parameters
    ----------
    home : Path
        Made with its parents where there is none.

    Yields
    ------
    Hold
        Takes a word on who has it.

    Raises
    ------
    Refused
        If another program has it, or it cannot be written to.
    """
    with _open_place(home) as stream:
        if not _lock(stream):
            raise Refused([_taken(home, stream)])
        hold = Hold(stream)
        hold.say(f"process {os.getpid()}")
        try:
            yield hold
        finally:
            hold.say("")


def _open_place(home: Path) -> BinaryIO:
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Opened to append, since opening anew would empty what the other program wrote.
        return (home / LOCK_FILE).open("a+b")
    except OSError as error:
        what = f"it cannot be written to ({error.strerror or 'unknown reason'})"
        remedy = "Give another --folder, or one that you may write to."
        raise Refused([Problem(str(home), what, remedy, "folder")]) from error


def _taken(home: Path, stream: BinaryIO) -> Problem:
    stream.seek(0)
    who = stream.read(_LONGEST).decode("utf-8", "replace").strip()
    by = f" ({who})" if who else ""
    what = f"another sidelong has this folder open{by}"
    remedy = "Use that one, or stop it there with Ctrl+C first, or give another --folder."
    return Problem(str(home), what, remedy, "in-use")


if sys.platform == "win32":
    import msvcrt

    def _lock(stream: BinaryIO) -> bool:
        """Take the lock if nobody has it; the system takes it back when this program ends."""
        stream.seek(_LOCKED_BYTE)
        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import errno
    import fcntl

    # What file systems answer that know no locks; there the folder is opened as before.
    _KNOWS_NONE = {errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS}

    def _lock(stream: BinaryIO) -> bool:
        """Take the lock if nobody has it; the system takes it back when this program ends."""
        try:
            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            return error.errno in _KNOWS_NONE
        return True
