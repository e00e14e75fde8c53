"""From which address a visitor comes."""

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """Give the visitor's address.

    Parameters
    ----------
    request : HttpRequest
        What came in.

    Returns
    -------
    str
        The connection's own address, or behind a proxy the last one in ``X-Forwarded-For``: that
        is what our proxy appended, while all before it could be invented by the visitor.
    """
    if settings.INSTALLATION.behind_proxy:
        forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", "")).split(",")[-1].strip()
        if forwarded:
            return forwarded
    return str(request.META.get("REMOTE_ADDR", ""))
