"""Taking a protocol or a ladder into use, each as one recorded act."""

from datetime import datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.protocols.documents import ladder_fingerprint, ladder_text
from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion
from sidelong.exchange.protocols import protocol_text
from sidelong.problems import Problem, Refused
from sidelong.training.ladder import Ladder
from sidelong.training.protocol import Protocol


def take_up_protocol(*, protocol: Protocol, now: datetime, by: Person) -> None:
    """Take a signed protocol into use for its site; earlier ones stay on record.

    Parameters
    ----------
    protocol : Protocol
        Signed as approved.
    now : datetime
        When, with its offset.
    by : Person
        Who does it.

    Raises
    ------
    Refused
        If nobody signed it as approved, or the site has used its version for another text.
    """
    demand(Permission.TAKE_UP_PROTOCOLS, of=by)
    if not protocol.is_approved:
        remedy = "Have it signed as approved; `sidelong protocol` prints it for that."
        raise Refused([_fault(protocol, "nobody has signed it", remedy)])
    with act("protocol taken up", by=by, subject=f"site:{protocol.site}") as doing:
        kept = ProtocolVersion.objects.filter(site=protocol.site)
        if kept.filter(version=protocol.version).exists():
            remedy = "Give a changed protocol a new version, and have it signed."
            raise Refused([_fault(protocol, "this version is on record already", remedy)])
        ProtocolVersion(
            site=protocol.site,
            version=protocol.version,
            text=protocol_text(protocol),
            fingerprint=protocol.fingerprint,
            taken_up=now,
            taken_up_by=by.audit_key,
        ).save()
        doing.note(version=protocol.version, fingerprint=protocol.fingerprint)


def take_up_ladder(*, site: str, ladder: Ladder, now: datetime, by: Person) -> int:
    """Take a ladder of pieces into use at a site.

    Parameters
    ----------
    site : str
        Code of the site.
    ladder : Ladder
        Its pieces.
    now : datetime
        When, with its offset.
    by : Person
        Who does it.

    Returns
    -------
    int
        Number of the ladder at this site, from 1.

    Raises
    ------
    Refused
        If the site has no protocol yet, or this very ladder is in use.
    """
    demand(Permission.TAKE_UP_PROTOCOLS, of=by)
    with act("ladder taken up", by=by, subject=f"site:{site}") as doing:
        if not ProtocolVersion.objects.filter(site=site).exists():
            remedy = "Take up the site's protocol first."
            raise Refused([_ladder_fault(site, "the site has no protocol", remedy)])
        kept = LadderVersion.objects.filter(site=site)
        last = kept.order_by("number").last()
        fingerprint = ladder_fingerprint(ladder)
        if last is not None and last.fingerprint == fingerprint:
            raise Refused([_ladder_fault(site, "this ladder is in use already", "Go on with it.")])
        number = 1 if last is None else last.number + 1
        LadderVersion(
            site=site,
            number=number,
            text=ladder_text(ladder),
            fingerprint=fingerprint,
            taken_up=now,
            taken_up_by=by.audit_key,
        ).save()
        doing.note(number=number, fingerprint=fingerprint)
    return number


def _fault(protocol: Protocol, what: str, remedy: str) -> Problem:
    where = f"protocol {protocol.version} of {protocol.site}"
    return Problem(where, what, remedy, "protocol")


def _ladder_fault(site: str, what: str, remedy: str) -> Problem:
    return Problem(f"ladder of {site}", what, remedy, "ladder")
