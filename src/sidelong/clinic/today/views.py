"""Today's page."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.progress_queries import last_heard
from sidelong.clinic.sheets.clearing import clear_when_due
from sidelong.clinic.today.worklist import lay_out
from sidelong.clinic.trainees.pages import told_lines
from sidelong.clinic.trainees.queries import read_records
from sidelong.training.evening_date import evening_date


@requires(Permission.SEE_TODAY)
def today(request: StaffRequest) -> HttpResponse:
    """Show the date, and what waits: locked practice first, then one's own work."""
    user, now = request.user, timezone.localtime()
    clear_when_due(now=now)
    may_see = Permission.SEE_TRAINEES in user.permissions
    evening = evening_date(now)
    records = read_records(today=now.date(), evening=evening, seen_by=user) if may_see else ()
    heard = last_heard([each.code for each in records], seen_by=user) if may_see else {}
    shown = {
        "day": now.date(),
        "evening": evening,
        "roles": sorted(user.role_set),
        "may_see_trainees": may_see,
        "may_enter": Permission.ENTER_TRAINEES in user.permissions,
        "n_trainees": len(records),
        "several_sites": len({each.site for each in records}) > 1,
        "work": lay_out(told_lines(records), heard=heard, may=user.permissions),
    }
    return render(request, "today/today.html", shown)
