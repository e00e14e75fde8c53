"""Tags of an invented clinic's own parts: ``{% load demonstration %}``."""

from typing import Any

from django import template

from sidelong.clinic.demonstration.staff import PASSWORD, STAFF

register = template.Library()


@register.simple_tag(takes_context=True)
def cast(context: Any) -> dict[str, Any]:
    """Give who works here, who is signed in, and where to lead on: ``{% cast as here %}``."""
    request = context.get("request")
    username = getattr(getattr(request, "user", None), "username", "")
    return {
        "members": STAFF,
        "password": PASSWORD,
        "now": next((each for each in STAFF if each.username == username), None),
        # What was sent cannot be asked for again by an address alone.
        "next": request.get_full_path() if request is not None and request.method == "GET" else "",
    }
