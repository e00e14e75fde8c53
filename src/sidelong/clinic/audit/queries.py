"""Reading the audit trail: for machines that check it, and for people who review it.

Who may review it is decided above, in :mod:`sidelong.clinic.accounts.queries`: the trail itself
knows no roles.
"""

from collections.abc import Iterator, Sequence
from dataclasses import fields

from django.conf import settings
from django.db import transaction

from sidelong.clinic.audit.chain import ChainReport, Head, Link, genesis, verify_chain
from sidelong.clinic.audit.models import AuditHead, AuditRow

_ROWS_AT_ONCE = 2000


def check_chain(*, outside: Sequence[Head] = ()) -> ChainReport:
    """Walk along the whole trail.

    Parameters
    ----------
    outside : sequence of Head
        Heads that left the machine earlier, for example with backups.

    Returns
    -------
    ChainReport
        Every fault, and the present head to keep elsewhere.
    """
    # One transaction, so that rows written meanwhile are not taken for faults.
    with transaction.atomic():
        kept = AuditHead.objects.first()
        # Values, not rows: a million rows would take twice as long.
        values = AuditRow.objects.values_list(*(each.name for each in fields(Link)))
        links = (Link(*row) for row in values.iterator(chunk_size=_ROWS_AT_ONCE))
        return verify_chain(
            links,
            start=genesis(settings.INSTALLATION.id),
            head=kept.head if kept else None,
            outside=outside,
        )


def links_about(subject: str) -> Iterator[Link]:
    """Give everything that was done to one subject, oldest first."""
    return (row.link for row in AuditRow.objects.filter(subject=subject).iterator())


def begins_here() -> bool:
    """Tell whether the trail, if there is one, is that of this installation.

    Returns
    -------
    bool
        True for an empty one. Only the first row is looked at: :func:`check_chain` walks along all.
    """
    first = AuditRow.objects.order_by("number").values_list("previous", flat=True).first()
    return first is None or first == genesis(settings.INSTALLATION.id)
