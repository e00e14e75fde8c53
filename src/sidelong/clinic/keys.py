"""The key ring: secret keys by purpose, in one file outside the database.

Every purpose has keys of its own, so that a key which leaks opens one thing. The newest key of a
purpose seals; older ones still open what they sealed, until everything is sealed anew and they are
taken off. The ring lies in a folder that database and backups do not contain.
"""

import base64
import json
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path

from sidelong.problems import Problem, Refused

KEY_BYTES = 32
_FORMAT = 1


class Purpose(StrEnum):
    """What a key is for."""

    NAMES = "names"
    INDEX = "index"
    PHOTOGRAPHS = "photographs"
    BACKUPS = "backups"
    SECOND_FACTORS = "second-factors"
    ALLOCATION = "allocation"  # orders of positions are drawn with it, and nothing is sealed


@dataclass(frozen=True)
class Key:
    """One secret key.

    Parameters
    ----------
    name : str
        Purpose and number, for example ``names-1``; stands in front of what the key sealed.
    purpose : Purpose
        What it is for.
    made : date
        Day on which it was drawn.
    secret : bytes
        32 bytes; never shown in a representation.

    Raises
    ------
    ValueError
        If the secret has another length.
    """

    name: str
    purpose: Purpose
    made: date
    secret: bytes = field(repr=False)

    def __post_init__(self) -> None:
        """Refuse a key of another length."""
        if len(self.secret) != KEY_BYTES:
            raise ValueError(f"a key has {KEY_BYTES} bytes, not {len(self.secret)}")


@dataclass(frozen=True)
class KeyRing:
    """All keys of one installation, oldest first.

    Parameters
    ----------
    keys : tuple of Key
        At least one of every purpose.

    Raises
    ------
    Refused
        If a purpose has no key, or two keys have one name.
    """

    keys: tuple[Key, ...]

    def __post_init__(self) -> None:
        """Refuse a ring on which something cannot be sealed."""
        held = {key.purpose for key in self.keys}
        faults = [
            _fault(f"it holds no key for {purpose}") for purpose in Purpose if purpose not in held
        ]
        if len({key.name for key in self.keys}) < len(self.keys):
            faults.append(_fault("two keys have one name"))
        if faults:
            raise Refused(faults)

    def newest(self, purpose: Purpose) -> Key:
        """Give the key that seals now."""
        return self.for_purpose(purpose)[-1]

    def for_purpose(self, purpose: Purpose) -> tuple[Key, ...]:
        """Give all keys of one purpose, oldest first."""
        return tuple(key for key in self.keys if key.purpose is purpose)

    def find(self, name: str, purpose: Purpose) -> Key:
        """Give one key by name.

        Returns
        -------
        Key
            The one of this name and purpose.

        Raises
        ------
        Refused
            If the ring holds no such key for this purpose.
        """
        for key in self.keys:
            if key.name == name and key.purpose is purpose:
                return key
        raise Refused([_fault(f'it holds no key "{name}" for {purpose}')])

    def with_new_key(
        self, purpose: Purpose, *, today: date, draw: Callable[[int], bytes]
    ) -> "KeyRing":
        """Add a key that seals from now on; see :func:`make_ring` for ``draw``."""
        numbers = [int(key.name.rpartition("-")[2]) for key in self.for_purpose(purpose)]
        name = f"{purpose}-{max(numbers) + 1}"
        return KeyRing((*self.keys, Key(name, purpose, today, draw(KEY_BYTES))))

    def without(self, name: str) -> "KeyRing":
        """Take a key off; refuses the last one of its purpose."""
        return KeyRing(tuple(key for key in self.keys if key.name != name))


def make_ring(*, today: date, draw: Callable[[int], bytes]) -> KeyRing:
    """Draw one key for every purpose.

    Parameters
    ----------
    today : date
        Day that the keys carry.
    draw : callable
        Gives so many unguessable bytes, for example ``secrets.token_bytes``.

    Returns
    -------
    KeyRing
        The ring of a new installation.
    """
    return KeyRing(
        tuple(Key(f"{purpose}-1", purpose, today, draw(KEY_BYTES)) for purpose in Purpose)
    )


def read_ring(path: Path) -> KeyRing:
    """Read a key ring.

    Parameters
    ----------
    path : Path
        File that :func:`write_ring` wrote.

    Returns
    -------
    KeyRing
        All its keys.

    Raises
    ------
    Refused
        If the file is missing, damaged or incomplete. No secret is in the message.
    """
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise Refused([_fault("there is no such file", str(path))]) from None
    except (OSError, ValueError):
        raise Refused([_fault("it cannot be read", str(path))]) from None
    try:
        if content["format"] != _FORMAT:
            raise Refused([_fault(f"format {content['format']} is not known", str(path))])
        keys = tuple(
            Key(
                name=each["name"],
                purpose=Purpose(each["purpose"]),
                made=date.fromisoformat(each["made"]),
                secret=base64.b64decode(each["secret"], validate=True),
            )
            for each in content["keys"]
        )
    except (KeyError, TypeError, ValueError):
        raise Refused([_fault("it is damaged", str(path))]) from None
    return KeyRing(keys)


def write_ring(path: Path, ring: KeyRing) -> None:
    """Write a key ring for its owner's eyes only, whole or not at all.

    Parameters
    ----------
    path : Path
        File to write; its folder must exist.
    ring : KeyRing
        What to keep.
    """
    keys = [
        {
            "name": key.name,
            "purpose": str(key.purpose),
            "made": key.made.isoformat(),
            "secret": base64.b64encode(key.secret).decode("ascii"),
        }
        for key in ring.keys
    ]
    write_secret(path, json.dumps({"format": _FORMAT, "keys": keys}, indent=2) + "\n")


def write_secret(path: Path, text: str) -> None:
    """Write a text that only its owner may read, whole or not at all.

    Parameters
    ----------
    path : Path
        File to write; its folder must exist.
    text : str
        The secret.
    """
    beside = path.with_name(f".{path.name}.part")
    beside.unlink(missing_ok=True)
    # The mode is given when the file is made: afterwards there would be a moment for others.
    opened = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(opened, "w", encoding="utf-8", newline="\n") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    beside.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a new name in a folder outlast a power cut, where the system offers that."""
    if os.name == "nt":  # a folder cannot be opened there, and needs no syncing
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _fault(what: str, where: str = "key ring") -> Problem:
    remedy = "Put the ring of this installation back from where you keep its copy."
    return Problem(where, what, remedy, "keys")
