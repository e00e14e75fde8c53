"""The site's protocol as a TOML file: read, written, fingerprinted.

A site starts from the draft that ships with the program, completes it, has it reviewed and signs
it. Each signature carries the fingerprint of the text that was signed: the SHA-256 of all
settings without the signatures, so that a new layout or comment changes nothing, and a new word
does.
"""

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from sidelong.exchange.documents import DocumentReader, parse_toml, write_document
from sidelong.exchange.files import read_bytes, write_text
from sidelong.problems import Refused
from sidelong.training.gate_rules import weakened
from sidelong.training.protocol import Protocol, fingerprint_of

FORMAT = 1
DEFAULT_FILE = "default_protocol.toml"
DEMO_FILE = "demo_protocol.toml"
_HEADING = (
    "A site's protocol for practice in swallowing tablets and capsules.",
    "Keys called `text` hold sentences that families read; everything else is for staff.",
)


def read_protocol(path: Path) -> Protocol:
    """Read a protocol, or refuse it with every fault in it.

    Parameters
    ----------
    path : Path
        TOML file.

    Returns
    -------
    Protocol
        As far as it is signed; whether it is approved is for the caller to ask.

    Raises
    ------
    Refused
        With file, key path and remedy of every fault: unknown and missing keys, values out of
        range, gates that are missing or weaker than the standard ones, switched off without
        enough names, signatures under another text.
    """
    return parse_protocol(read_bytes(path), file=path.name)


def parse_protocol(content: bytes, *, file: str) -> Protocol:
    """Read a protocol that came another way than as a file; see :func:`read_protocol`.

    Parameters
    ----------
    content : bytes
        TOML, in UTF-8.
    file : str
        Name for messages.

    Returns
    -------
    Protocol
        As far as it is signed.
    """
    return _protocol(parse_toml(content, file=file), file=file)


@cache
def read_default_protocol() -> Protocol:
    """Give the draft that ships with the program: unsigned, without `up`, nothing site-specific."""
    table = parse_toml(_bundled(DEFAULT_FILE), file=DEFAULT_FILE)
    return _protocol(table, file=DEFAULT_FILE, is_standard=True)


@cache
def read_demo_protocol() -> Protocol:
    """Give the protocol of the invented clinic: signed by invented people, with `up`."""
    table = parse_toml(_bundled(DEFAULT_FILE), file=DEFAULT_FILE)
    table |= parse_toml(_bundled(DEMO_FILE), file=DEMO_FILE)
    # Invented people sign whatever the demonstration says, so that it cannot fall out of step.
    signatures = table.pop("signatures")
    _, unsigned = _content(table, file=DEMO_FILE)
    fingerprint = fingerprint_of(unsigned)
    table["signatures"] = [{**each, "fingerprint": fingerprint} for each in signatures]
    return _protocol(table, file=DEMO_FILE)


def default_protocol_text() -> str:
    """Give the draft with its comments, for a site to start from."""
    return _bundled(DEFAULT_FILE).decode("utf-8")


def write_protocol(path: Path, protocol: Protocol) -> None:
    """Write a protocol whole, or not at all.

    Parameters
    ----------
    path : Path
        TOML file; a file of that name is replaced.
    protocol : Protocol
        What to write; it reads back as the same value, with the same fingerprint.
    """
    write_text(path, protocol_text(protocol))


def protocol_text(protocol: Protocol) -> str:
    """Give a protocol as the text that :func:`write_protocol` writes."""
    text = write_document(protocol, heading=_HEADING)
    first, rest = text.split("\nsite = ", 1)
    return f"{first}\nformat = {FORMAT}\nsite = {rest}"


def protocol_fingerprint(path: Path) -> str:
    """Fingerprint the text of a protocol that is still to be signed.

    Parameters
    ----------
    path : Path
        TOML file.

    Returns
    -------
    str
        SHA-256, hexadecimal; what signatures must carry.

    Raises
    ------
    Refused
        If a key is unknown or missing, or a value cannot be read.
    """
    table = parse_toml(read_bytes(path), file=path.name)
    reader, content = _content(table, file=path.name)
    if reader.faults:
        raise Refused(reader.faults)
    return fingerprint_of(content)


def _protocol(table: Mapping[str, Any], *, file: str, is_standard: bool = False) -> Protocol:
    reader, found = _content(table, file=file)
    if not is_standard and "gates" in found:
        for each in weakened(found["gates"], read_default_protocol().gates):
            reader.add(each.where, each.what, each.remedy, kind=each.kind)
    if reader.faults:
        raise Refused(reader.faults)
    try:
        return Protocol(**found)
    except Refused as refused:
        reader.take(refused, where="")
        raise Refused(reader.faults) from None


def _content(table: Mapping[str, Any], *, file: str) -> tuple[DocumentReader, dict[str, Any]]:
    reader = DocumentReader(file)
    if table.get("format") != FORMAT:
        remedy = f"Begin the file with format = {FORMAT}; a newer program may be needed."
        reader.add("format", "it is missing or not known here", remedy)
    settings = {key: value for key, value in table.items() if key != "format"}
    return reader, reader.fields_of(Protocol, settings, where="")


def _bundled(name: str) -> bytes:
    return (files("sidelong.exchange") / name).read_bytes()
