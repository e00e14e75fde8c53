"""Today's page."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.trainees.queries import list_trainees


@requires(Permission.SEE_TODAY)
def today(request: StaffRequest) -> HttpResponse:
    """Show the date, and the trainees whose course is open."""
    user = request.user
    may_see = Permission.SEE_TRAINEES in user.permissions
    trainees = list_trainees(seen_by=user) if may_see else ()
    shown = {
        "day": timezone.localdate(),
        "roles": sorted(user.role_set),
        "may_see_trainees": may_see,
        "on_course": [each for each in trainees if each.has_open_course],
        "waiting": [each for each in trainees if not each.has_open_course],
    }
    return render(request, "today/today.html", shown)
