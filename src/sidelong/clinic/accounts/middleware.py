"""What stands before every page: how long a session lasts, and who comes in."""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import ImproperlyConfigured
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone

from sidelong.clinic.accounts.access import access_of
from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import demand
from sidelong.clinic.accounts.second_factors import has_second_factor

_STARTED, _SEEN = "session_started", "session_seen"
# A session is not written anew for every keystroke in the grid.
_WRITE_AFTER = timedelta(minutes=1)

_security = logging.getLogger("sidelong.security")
Respond = Callable[[HttpRequest], HttpResponseBase]


def session_has_ended(
    *, started: datetime, seen: datetime, now: datetime, idle: timedelta, longest: timedelta
) -> bool:
    """Tell whether a session is over.

    Parameters
    ----------
    started, seen, now : datetime
        Sign-in, last request that was noted, and this moment.
    idle, longest : timedelta
        How long it may rest, and how long it may last at all.

    Returns
    -------
    bool
        True after either; also when the clock has gone back before the sign-in.
    """
    return now - seen > idle or now - started > longest or now < started


class SessionLimits:
    """Ends sessions that rest too long or last too long, on the server's side."""

    def __init__(self, respond: Respond) -> None:
        self.respond = respond

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Look at the session, then go on."""
        user = request.user
        if isinstance(user, User):
            now = timezone.now()
            started = _moment(request.session.get(_STARTED)) or now
            seen = _moment(request.session.get(_SEEN)) or now
            idle = timedelta(minutes=settings.INSTALLATION.idle_minutes)
            longest = timedelta(seconds=settings.SESSION_COOKIE_AGE)
            if session_has_ended(started=started, seen=seen, now=now, idle=idle, longest=longest):
                _security.info("session ended", extra={"facts": {"actor": user.audit_key}})
                request.session.flush()
                return redirect_to_login(request.get_full_path())
            if _SEEN not in request.session or now - seen > _WRITE_AFTER:
                request.session[_STARTED] = started.isoformat()
                request.session[_SEEN] = now.isoformat()
        return self.respond(request)


class AccessGate:
    """Lets nobody onto a page before what the page asks is given."""

    def __init__(self, respond: Respond) -> None:
        self.respond = respond

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Go on; the gate itself stands before the page."""
        response = self.respond(request)
        if not response.has_header("Cache-Control"):
            response["Cache-Control"] = "no-store"
        return response

    def process_view(
        self, request: HttpRequest, view: Any, _args: Any, _kwargs: Any
    ) -> HttpResponseBase | None:
        """Send a visitor to sign-in or second factor, or refuse.

        Returns
        -------
        HttpResponse or None
            Where to go first; None to go on to the page.

        Raises
        ------
        ImproperlyConfigured
            If the page does not say what it asks.
        NotPermitted
            If somebody may not see the page.
        """
        access = access_of(view)
        if access is None:
            raise ImproperlyConfigured(f"{request.resolver_match} says not who may see it")
        if not access.sign_in:
            return None
        user = request.user
        if not isinstance(user, User):
            return redirect_to_login(request.get_full_path())
        needs_factor = access.second_factor and not settings.INSTALLATION.demo
        if needs_factor and not has_second_factor(user):
            return redirect("mfa_index")
        if access.permission is not None:
            demand(access.permission, of=user)
        return None


def _moment(text: Any) -> datetime | None:
    return datetime.fromisoformat(text) if isinstance(text, str) else None
