"""Reading protocols and ladders, as values."""

from dataclasses import dataclass
from datetime import datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.protocols.documents import ladder_of, protocol_of
from sidelong.clinic.protocols.in_use import ladder_row, protocol_row
from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion
from sidelong.training.ladder import Ladder
from sidelong.training.protocol import Protocol


@dataclass(frozen=True)
class SiteRules:
    """What a site works by now.

    Parameters
    ----------
    protocol : Protocol
        The one that was taken up last.
    taken_up : datetime
        When.
    ladder : Ladder or None
        Its pieces; None where none was taken up yet.
    ladder_number : int
        Number of that ladder; 0 where there is none.
    n_before : int
        Protocols before this one.
    """

    protocol: Protocol
    taken_up: datetime
    ladder: Ladder | None
    ladder_number: int
    n_before: int


def known_sites(*, seen_by: Person) -> tuple[str, ...]:
    """Give the codes of all sites that have a protocol, sorted."""
    demand(Permission.SEE_TRAINEES, of=seen_by)
    return tuple(sorted(set(ProtocolVersion.objects.values_list("site", flat=True))))


def site_names(*, seen_by: Person) -> dict[str, str]:
    """Give the names of all sites that have a protocol, by their codes, sorted by code.

    Parameters
    ----------
    seen_by : Person
        Who looks.

    Returns
    -------
    dict of str to str
        A site whose protocol leaves its name open goes by its code.
    """
    demand(Permission.SEE_TRAINEES, of=seen_by)
    rows = ProtocolVersion.objects.order_by("site", "pk")
    return {row.site: protocol_of(row.text).site_name or row.site for row in rows}


def site_rules(site: str, *, seen_by: Person) -> SiteRules:
    """Give what a site works by.

    Parameters
    ----------
    site : str
        Code of the site; refused where it has no protocol.
    seen_by : Person
        Who looks.

    Returns
    -------
    SiteRules
        Protocol and ladder in use.
    """
    demand(Permission.SEE_TRAINEES, of=seen_by)
    row = protocol_row(site)
    ladder = ladder_row(site) if LadderVersion.objects.filter(site=site).exists() else None
    return SiteRules(
        protocol=protocol_of(row.text),
        taken_up=row.taken_up,
        ladder=None if ladder is None else ladder_of(ladder.text),
        ladder_number=0 if ladder is None else ladder.number,
        n_before=ProtocolVersion.objects.filter(site=site, pk__lt=row.pk).count(),
    )
