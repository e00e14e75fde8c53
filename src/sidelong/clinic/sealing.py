"""Sealing: AES-256-GCM, each value bound to the one place where it belongs.

What is sealed names its key in front and carries, as associated data, the table, column and row
that it was made for. A value moved to another row or column does not open. The cipher is that of
NIST SP 800-38D with 96-bit nonces and 128-bit tags.
"""

import secrets
from dataclasses import dataclass

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from sidelong.clinic.keys import Key, KeyRing, Purpose
from sidelong.problems import Problem, Refused

_VERSION = b"\x01"
_DOMAIN = b"sidelong sealed value"
_NONCE_BYTES = 12
_TAG_BYTES = 16


@dataclass(frozen=True)
class Place:
    """Where a sealed value belongs.

    Parameters
    ----------
    table, column, row : str
        Row is the key of the row, as text.
    """

    table: str
    column: str
    row: str

    def __str__(self) -> str:
        """Name the place without what is in it."""
        return f"{self.table} {self.row}, {self.column}"


def seal(plain: bytes, *, key: Key, place: Place) -> bytes:
    """Encrypt a value for one place.

    Parameters
    ----------
    plain : bytes
        What to hide.
    key : Key
        The newest key of its purpose.
    place : Place
        Where it will be kept.

    Returns
    -------
    bytes
        Version, key name, nonce, cipher text and tag.
    """
    # Chance is drawn here and nowhere else: a nonce that a caller could repeat would undo GCM.
    nonce = secrets.token_bytes(_NONCE_BYTES)
    hidden = encrypt(plain, secret=key.secret, nonce=nonce, bound=_bound(key.name, place))
    name = key.name.encode("ascii")
    return _VERSION + bytes([len(name)]) + name + nonce + hidden


def unseal(sealed: bytes, *, ring: KeyRing, purpose: Purpose, place: Place) -> bytes:
    """Open a value in its place.

    Parameters
    ----------
    sealed : bytes
        What :func:`seal` gave.
    ring : KeyRing
        Must hold the key that is named in front.
    purpose : Purpose
        What the key must be for.
    place : Place
        Where the value was found.

    Returns
    -------
    bytes
        What was hidden.

    Raises
    ------
    Refused
        If the value was changed, cut, or made for another place, or its key is not on the ring.
    """
    name = sealed_with(sealed, place=place)
    key = ring.find(name, purpose)
    start = 2 + len(name)
    nonce, hidden = sealed[start : start + _NONCE_BYTES], sealed[start + _NONCE_BYTES :]
    try:
        return decrypt(hidden, secret=key.secret, nonce=nonce, bound=_bound(name, place))
    except InvalidTag:
        raise Refused([_fault(place, "the sealed value was changed or moved")]) from None


def sealed_with(sealed: bytes, *, place: Place) -> str:
    """Give the name of the key that sealed a value.

    Parameters
    ----------
    sealed : bytes
        What :func:`seal` gave.
    place : Place
        Where it was found, for the message.

    Returns
    -------
    str
        Name of the key.

    Raises
    ------
    Refused
        If it is no sealed value.
    """
    length = sealed[1] if len(sealed) > 1 else 0
    least = 2 + length + _NONCE_BYTES + _TAG_BYTES
    if sealed[:1] != _VERSION or not length or len(sealed) < least:
        raise Refused([_fault(place, "it does not hold a sealed value")])
    return sealed[2 : 2 + length].decode("ascii", errors="replace")


def encrypt(plain: bytes, *, secret: bytes, nonce: bytes, bound: bytes) -> bytes:
    """Encrypt with AES-GCM; gives cipher text and tag. Use :func:`seal`."""
    return AESGCM(secret).encrypt(nonce, plain, bound)


def decrypt(hidden: bytes, *, secret: bytes, nonce: bytes, bound: bytes) -> bytes:
    """Decrypt with AES-GCM, checking the tag first. Use :func:`unseal`."""
    return AESGCM(secret).decrypt(nonce, hidden, bound)


def framed(*parts: bytes) -> bytes:
    """Join parts so that no two different lists give the same bytes.

    Parameters
    ----------
    *parts : bytes
        Each is preceded by its length in eight bytes, big end first.

    Returns
    -------
    bytes
        All parts, framed.
    """
    return b"".join(len(part).to_bytes(8, "big") + part for part in parts)


def _bound(key_name: str, place: Place) -> bytes:
    texts = (key_name, place.table, place.column, place.row)
    return framed(_DOMAIN, _VERSION, *(text.encode("utf-8") for text in texts))


def _fault(place: Place, what: str) -> Problem:
    remedy = "Restore this row from a backup and look into the audit trail."
    return Problem(str(place), what, remedy, "keys")
