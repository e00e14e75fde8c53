"""Between the kept texts and the values that everything else works with."""

import hashlib
from functools import lru_cache

from sidelong.exchange.documents import DocumentReader, parse_toml, write_document
from sidelong.exchange.protocols import parse_protocol
from sidelong.problems import Refused
from sidelong.training.ladder import Ladder
from sidelong.training.protocol import Protocol

_HEADING = ("The pieces of a site, smallest first.",)


@lru_cache(maxsize=32)
def protocol_of(text: str) -> Protocol:
    """Read a kept protocol; checked again, since a text can be damaged where it lies.

    Parameters
    ----------
    text : str
        As kept.

    Returns
    -------
    Protocol
        The same for the same text; reading one takes long enough to be felt.
    """
    return parse_protocol(text.encode("utf-8"), file="protocol")


def ladder_text(ladder: Ladder) -> str:
    """Write a ladder as TOML; it reads back as the same value."""
    return write_document(ladder, heading=_HEADING)


def ladder_fingerprint(ladder: Ladder) -> str:
    """Fingerprint a ladder: SHA-256 of the text that is kept, hexadecimal."""
    return hashlib.sha256(ladder_text(ladder).encode("utf-8")).hexdigest()


@lru_cache(maxsize=32)
def ladder_of(text: str) -> Ladder:
    """Read a kept ladder.

    Parameters
    ----------
    text : str
        As :func:`ladder_text` wrote it.

    Returns
    -------
    Ladder
        The same value.

    Raises
    ------
    Refused
        If the text was damaged.
    """
    reader = DocumentReader("ladder")
    made = reader.make(Ladder, parse_toml(text.encode("utf-8"), file="ladder"), where="")
    if made is None:
        raise Refused(reader.faults)
    return made
