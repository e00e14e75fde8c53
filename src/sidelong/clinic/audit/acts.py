"""Acts: one transaction each, ending with one row of the audit trail.

When anything in an act fails, and be it the audit row, nothing of it remains.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Protocol

from django.conf import settings
from django.db import connection, transaction
from django.utils import timezone

from sidelong.clinic.audit.chain import (
    DetailValue,
    Head,
    Link,
    canonical_detail,
    digest_of,
    genesis,
)
from sidelong.clinic.audit.locks import unlocked
from sidelong.clinic.audit.models import AuditHead, AuditRow

# Any constant does: it names the one lock that puts the chain in order.
_CHAIN_LOCK = 0x51DE_1096


class Actor(Protocol):
    """Who acts: staff, or the machine itself."""

    @property
    def audit_key(self) -> str:
        """Plain text that names the actor in the trail for ever; no name."""


@dataclass
class Act:
    """One act under way; what is noted here goes into its audit row.

    Parameters
    ----------
    verb, subject : str
        What is done, and to whom; the subject may become known only within the act.
    actor : str
        Key of who does it.
    """

    verb: str
    subject: str
    actor: str
    detail: dict[str, DetailValue] = field(default_factory=dict)

    def note(self, **facts: DetailValue) -> None:
        """Add facts to the audit row: codes, numbers, old and new values."""
        self.detail.update(facts)


@contextmanager
def act(verb: str, *, by: Actor, subject: str = "") -> Iterator[Act]:
    """Open the door for one recorded act.

    Parameters
    ----------
    verb : str
        What is done, in the past tense, for example ``"trainee entered"``.
    by : Actor
        Who does it.
    subject : str
        Key of whom or what it is about, for example ``"trainee:SL-7K3PX"``.

    Yields
    ------
    Act
        Takes notes for the audit row.

    Raises
    ------
    ValueError
        If the act ends without a subject.
    """
    with transaction.atomic(), unlocked():
        _queue_behind_other_acts()
        doing = Act(verb, subject, by.audit_key)
        yield doing
        if not doing.subject:
            raise ValueError(f"the act {verb!r} says not about whom")
        append(doing)


def append(doing: Act) -> Link:
    """Write the audit row of an act; called at its end, inside its transaction."""
    kept = AuditHead.objects.first()
    last = Head(kept.number, kept.digest) if kept else Head(0, genesis(settings.INSTALLATION.id))
    unsigned = Link(
        number=last.number + 1,
        # The server's clock is the truth about when something was done; nobody may pass it in.
        at=timezone.now().isoformat(timespec="microseconds"),
        actor=doing.actor,
        verb=doing.verb,
        subject=doing.subject,
        detail=canonical_detail(doing.detail),
        previous=last.digest,
        digest="",
    )
    row = AuditRow.of(unsigned, digest=digest_of(unsigned))
    row.save(force_insert=True)
    head = kept or AuditHead(pk=AuditHead.ONLY)
    head.number, head.digest = row.number, row.digest
    head.save()
    return row.link


def _queue_behind_other_acts() -> None:
    """Let one act after the other pass, so that each finds the true end of the chain.

    SQLite takes its only write lock when the transaction begins. On PostgreSQL the lock is taken
    before any row is touched: two acts that met later, each holding what the other needs, would
    block each other.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_CHAIN_LOCK])
