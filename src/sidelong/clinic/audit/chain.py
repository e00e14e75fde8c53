"""The hash chain of the audit trail, without a database.

Every row carries the SHA-256 digest of its own canonical bytes, which hold the digest of the row
before it. The bytes begin with a domain prefix and a version, and every field is framed by its
length, so no two different rows give the same bytes. The first row follows a digest made from the
installation's id: a chain of another clinic does not fit.

A chain finds a row that was edited, deleted, inserted or moved; its head, kept beside it, finds a
tail that was cut off. It cannot find a chain that somebody rewrote from the first row on together
with its head. For that a copy of the head has to leave the machine.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sidelong.clinic.sealing import framed
from sidelong.problems import Problem

VERSION = 1
_ROW_DOMAIN = b"sidelong audit row"
_GENESIS_DOMAIN = b"sidelong audit genesis"

DetailValue = str | int | bool | None | Sequence[str]


@dataclass(frozen=True)
class Link:
    """One row of the trail.

    Parameters
    ----------
    number : int
        From 1, without gaps.
    at : str
        When, UTC, ISO 8601 with microseconds.
    actor, verb, subject : str
        Keys as plain text: who, what, about whom.
    detail : str
        Canonical JSON; see :func:`canonical_detail`.
    previous, digest : str
        64 hexadecimal digits each.
    version : int
        Of the canonical bytes.
    """

    number: int
    at: str
    actor: str
    verb: str
    subject: str
    detail: str
    previous: str
    digest: str
    version: int = VERSION


@dataclass(frozen=True)
class Head:
    """Where a chain ends: number and digest of its last row."""

    number: int
    digest: str

    def __str__(self) -> str:
        """Give the head as it is printed and kept elsewhere."""
        return f"{self.number}:{self.digest}"


@dataclass(frozen=True)
class ChainReport:
    """What was found along a chain.

    Parameters
    ----------
    head : Head
        The last row that was read; number 0 and the genesis digest where there was none.
    problems : tuple of Problem
        Every fault, in the order of rows; empty when the chain holds.
    """

    head: Head
    problems: tuple[Problem, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing was found."""
        return not self.problems


def genesis(installation_id: str) -> str:
    """Give the digest that the first row of an installation follows."""
    return hashlib.sha256(framed(_GENESIS_DOMAIN, installation_id.encode("utf-8"))).hexdigest()


def canonical_detail(detail: Mapping[str, DetailValue]) -> str:
    """Write what a row says beyond who, what and whom, in exactly one way.

    Parameters
    ----------
    detail : mapping
        Short facts: codes, numbers, old and new values. Never a name or free text.

    Returns
    -------
    str
        JSON with sorted keys and no spaces.

    Raises
    ------
    TypeError
        If a value is none of text, whole number, truth value, nothing, or a list of texts.
    """
    for key, value in detail.items():
        is_list = isinstance(value, (list, tuple)) and all(isinstance(each, str) for each in value)
        if not is_list and not isinstance(value, (str, int, type(None))):
            raise TypeError(f"{key}: {type(value).__name__} has no canonical form here")
    return json.dumps(dict(detail), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def canonical_bytes(link: Link) -> bytes:
    """Give the bytes that are hashed: everything but the digest itself."""
    if link.version != VERSION:
        raise ValueError(f"version {link.version} of the audit row is not known")
    fields = (link.number, link.at, link.actor, link.verb, link.subject, link.detail, link.previous)
    texts = (str(each).encode("utf-8") for each in (link.version, *fields))
    return framed(_ROW_DOMAIN, *texts)


def digest_of(link: Link) -> str:
    """Hash a row."""
    return hashlib.sha256(canonical_bytes(link)).hexdigest()


def verify_chain(
    links: Iterable[Link], *, start: str, head: Head | None, outside: Sequence[Head] = ()
) -> ChainReport:
    """Walk along a chain and list every place where it does not hold.

    Parameters
    ----------
    links : iterable of Link
        All rows, by number.
    start : str
        The genesis digest of this installation.
    head : Head or None
        The head that is kept beside the chain; None where there is none.
    outside : sequence of Head
        Heads that left the machine earlier.

    Returns
    -------
    ChainReport
        The faults, and the head to keep elsewhere.
    """
    faults: list[Problem] = []
    wanted = {each.number: each.digest for each in outside}
    last = Head(0, start)
    for link in links:
        faults += _link_faults(link, last)
        if wanted.pop(link.number, link.digest) != link.digest:
            faults.append(_fault(link.number, "it is not the row that was noted elsewhere"))
        last = Head(link.number, link.digest)
    if (head or Head(0, start)) != last:
        kept = head.number if head else 0
        faults.append(_fault(last.number, f"the chain ends here, and its head says {kept}"))
    faults += [
        _fault(number, "it was noted elsewhere and is not there") for number in sorted(wanted)
    ]
    return ChainReport(last, tuple(faults))


def _link_faults(link: Link, last: Head) -> list[Problem]:
    faults = []
    if link.number != last.number + 1:
        faults.append(_fault(link.number, f"it follows row {last.number}"))
    if link.previous != last.digest:
        faults.append(_fault(link.number, "it does not continue the row before"))
    if link.version != VERSION:
        faults.append(_fault(link.number, f"version {link.version} is not known"))
    elif digest_of(link) != link.digest:
        faults.append(_fault(link.number, "it was changed after it was written"))
    return faults


def _fault(number: int, what: str) -> Problem:
    remedy = "Stop, keep the machine as it is, and compare with the last backup."
    return Problem(f"audit row {number}", what, remedy, "audit")
