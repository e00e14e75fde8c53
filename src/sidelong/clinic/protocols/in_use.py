"""The rows that hold at a site now, for apps that refer to them."""

from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion
from sidelong.problems import Problem, Refused


def protocol_row(site: str) -> ProtocolVersion:
    """Find the protocol that a site took up last.

    Parameters
    ----------
    site : str
        Code of the site.

    Returns
    -------
    ProtocolVersion
        Its row.

    Raises
    ------
    Refused
        If the site has none.
    """
    row: ProtocolVersion | None = ProtocolVersion.objects.filter(site=site).last()
    if row is None:
        what = "no protocol was taken into use there"
        remedy = "A lead takes up the signed protocol first."
        raise Refused([Problem(f"site {site}", what, remedy, "protocol")])
    return row


def ladder_row(site: str) -> LadderVersion:
    """Find the ladder that a site took up last.

    Parameters
    ----------
    site : str
        Code of the site.

    Returns
    -------
    LadderVersion
        Its row.

    Raises
    ------
    Refused
        If the site has none.
    """
    row: LadderVersion | None = LadderVersion.objects.filter(site=site).last()
    if row is None:
        what = "no ladder was taken into use there"
        remedy = "A lead takes up the table of pieces first."
        raise Refused([Problem(f"site {site}", what, remedy, "ladder")])
    return row
