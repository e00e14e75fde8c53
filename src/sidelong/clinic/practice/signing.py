"""What a signature binds: one result, word for word, and what was decided over it."""

from dataclasses import dataclass

from sidelong.clinic.practice.models import Signature
from sidelong.clinic.practice.snapshot import digest


@dataclass(frozen=True)
class Signed:
    """All that is signed.

    Parameters
    ----------
    content : str
        The result: nights, events, plan and figures, as canonical JSON.
    meaning : str
        What was decided.
    position : str
        The position that was decided on; empty where none was.
    role : str
        As what the signer signed.
    signed : str
        When, UTC, ISO 8601.
    signed_by : str
        Audit key of the signer.
    """

    content: str
    meaning: str
    position: str
    role: str
    signed: str
    signed_by: str


def digest_of(signed: Signed) -> str:
    """Give the digest that a signature keeps; any change of any part gives another one."""
    return digest(
        "sidelong signature 1",
        signed.content,
        signed.meaning,
        signed.position,
        signed.role,
        signed.signed,
        signed.signed_by,
    )


def holds(row: Signature) -> bool:
    """Tell whether a signature still fits what stands above it."""
    signed = Signed(
        content=row.result.content,
        meaning=row.meaning,
        position=row.position,
        role=row.role,
        signed=row.signed,
        signed_by=row.signed_by,
    )
    return digest_of(signed) == str(row.digest)
