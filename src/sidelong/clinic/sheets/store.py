"""Sealed files of photographs, outside the database.

A file is written whole and safe on disk before the row that names it is committed, and goes after
the row has said so. A kill in between leaves a file without a row, never a row without its file;
:func:`sweep` takes such files away.
"""

import os
import secrets
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sidelong.clinic.keys import KeyRing, Purpose, sync_folder
from sidelong.clinic.sealing import Place, seal, unseal
from sidelong.problems import Problem, Refused

_SUFFIX = ".sealed"
_PART = ".part"
_SETTLED_SECONDS = 3600  # a younger file may belong to an act that is still under way


@dataclass(frozen=True)
class PhotoStore:
    """A folder of sealed files.

    Parameters
    ----------
    folder : Path
        Made when the first file comes.
    ring : KeyRing
        Its keys for photographs seal and open.
    """

    folder: Path
    ring: KeyRing

    def put(self, content: bytes, *, name: str) -> None:
        """Write a file, whole and lasting.

        Parameters
        ----------
        content : bytes
            What to hide.
        name : str
            See :func:`new_name`; the content opens under this name alone.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        sealed = seal(content, key=self.ring.newest(Purpose.PHOTOGRAPHS), place=_place(name))
        part = self._path(name).with_suffix(_PART)
        with part.open("xb") as stream:
            stream.write(sealed)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(self._path(name))
        sync_folder(self.folder)

    def get(self, name: str) -> bytes:
        """Open a file.

        Parameters
        ----------
        name : str
            As it was put.

        Returns
        -------
        bytes
            What was hidden.

        Raises
        ------
        Refused
            If it is not there, was changed, or its key is not on the ring.
        """
        try:
            sealed = self._path(name).read_bytes()
        except FileNotFoundError:
            remedy = "Restore the folder of photographs from a backup."
            raise Refused([Problem(f"photograph {name}", "it is gone", remedy, "keys")]) from None
        return unseal(sealed, ring=self.ring, purpose=Purpose.PHOTOGRAPHS, place=_place(name))

    def remove(self, name: str) -> None:
        """Delete a file; one that is gone already is no fault."""
        self._path(name).unlink(missing_ok=True)

    def names(self) -> Iterator[str]:
        """Give the names of all files.

        Yields
        ------
        str
            In no order.
        """
        for path in self.folder.glob(f"*{_SUFFIX}"):
            yield path.stem

    def sweep(self, known: Collection[str], *, now: datetime) -> int:
        """Take away files that no row names, and halves that a kill left.

        Parameters
        ----------
        known : collection of str
            Names of all rows whose pixels are to be there.
        now : datetime
            Files of the last hour are left: their row may not be written yet.

        Returns
        -------
        int
            How many were taken away.
        """
        stray = [
            path
            for path in (*self.folder.glob(f"*{_SUFFIX}"), *self.folder.glob(f"*{_PART}"))
            if (path.suffix == _PART or path.stem not in known)
            and now.timestamp() - path.stat().st_mtime > _SETTLED_SECONDS
        ]
        for path in stray:
            path.unlink(missing_ok=True)
        return len(stray)

    def _path(self, name: str) -> Path:
        if len(name) != 32 or not name.isalnum():
            raise ValueError("a photograph's name is 32 letters and digits")
        return self.folder / f"{name}{_SUFFIX}"


def new_name() -> str:
    """Draw a name that tells nothing."""
    return secrets.token_hex(16)


def _place(name: str) -> Place:
    return Place("sheets_photorow", "pixels", name)
