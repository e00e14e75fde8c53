"""Coming in as anybody, in an invented clinic alone: there is nothing in it that could be seen."""

from allauth.account.adapter import get_adapter
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import Resolver404, resolve
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from sidelong.clinic.accounts.access import access_of, public
from sidelong.clinic.accounts.models import User
from sidelong.clinic.demonstration.staff import STAFF


@require_POST
def come_in(request: HttpRequest) -> HttpResponse:
    """Sign somebody in by a click, and lead on to where the visitor was.

    Returns
    -------
    HttpResponse
        To the page that was asked for, where this person may see it; else to today's.

    Raises
    ------
    Http404
        If this is no invented clinic, or nobody of that name works there.
    """
    # The route exists in an invented clinic alone; this is the second lock of the same door.
    if not settings.INSTALLATION.demo:
        raise Http404("This clinic is not an invented one.")
    username = request.POST.get("member", "")
    user = User.objects.filter(username=username, is_active=True).first()
    if user is None or username not in {member.username for member in STAFF}:
        raise Http404("Nobody of that name works here.")
    adapter = get_adapter(request)
    if request.user.is_authenticated:
        adapter.logout(request)
    adapter.login(request, user)
    return redirect(_place(request, user))


def _place(request: HttpRequest, user: User) -> str:
    """Find where to lead on: the page that was looked at, if this person may see it."""
    wanted = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(wanted, allowed_hosts=None) or "://" in wanted:
        return "today"
    try:
        access = access_of(resolve(wanted.partition("?")[0]).func)
    except Resolver404:
        return "today"
    if access is None or not access.sign_in or access.permission is None:
        return "today"
    return wanted if access.permission in user.permissions else "today"


come_in_page = public(come_in)
