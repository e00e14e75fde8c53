"""Pages of promises: a follow-up begins, a first dose is recorded, and the programme looks back."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.promise_actions import lock_estimate, record_first_dose
from sidelong.clinic.practice.promise_forms import BeginForm, FirstDoseForm
from sidelong.clinic.practice.promise_queries import FollowUp, follow_up_of, promises_kept
from sidelong.clinic.practice.promise_shown import show_dose, show_lock, show_promises
from sidelong.problems import Refused
from sidelong.training.promise import FirstDose


def may_begin_now(request: StaffRequest, code: str, course: int) -> bool:
    """Tell whether the result is opened when every planned night is accounted for.

    Whoever opens it then is at the follow-up, and must not see figures that are not fixed: the
    estimate is locked first. Looking earlier, on the way, locks nothing; those who may not begin a
    follow-up lock nothing either.

    Returns
    -------
    bool
        True where the estimate has to be locked now, by whoever looks.
    """
    if Permission.BEGIN_FOLLOW_UPS not in request.user.permissions:
        return False
    return follow_up_of(code, course, seen_by=request.user).is_due


def promises_shown(request: StaffRequest, code: str, course: int) -> dict[str, Any]:
    """Give what ``practice/locked.html`` shows on the page of a result."""
    found = follow_up_of(code, course, seen_by=request.user)
    may = request.user.permissions
    return {
        "follow_up": found,
        "locks": [show_lock(each) for each in found.locks],
        "doses": [show_dose(each) for each in found.doses],
        "begin_form": BeginForm(positions=found.positions),
        "may_begin": Permission.BEGIN_FOLLOW_UPS in may,
        "may_record_dose": Permission.RECORD_FIRST_DOSES in may,
    }


@require_POST
@requires(Permission.BEGIN_FOLLOW_UPS)
def begin(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Begin a follow-up: what the nights say now is fixed."""
    found = _follow_up(request, code, course)
    form = BeginForm(request.POST, positions=found.positions)
    if not form.is_valid():
        messages.error(request, "Choose one of the positions, or leave it open.")
        return redirect("result", code=code, course=course)
    number = lock_estimate(
        code=code,
        course=course,
        used=form.position(),
        now=timezone.now(),
        by=request.user,
    )
    messages.success(request, f"Estimate {number} is fixed.")
    return redirect("result", code=code, course=course)


@require_http_methods(["GET", "POST"])
@requires(Permission.RECORD_FIRST_DOSES)
def first_dose(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show and record the first real dose of a course."""
    found = _follow_up(request, code, course)
    today = timezone.localdate()
    sent = request.POST if request.method == "POST" else None
    form = FirstDoseForm(sent, positions=found.positions, today=today, initial={"given_on": today})

    def record(dose: FirstDose) -> None:
        record_first_dose(dose=dose, now=timezone.now(), by=request.user)

    if sent is not None and form.goes_through(record, code=code, course=course):
        messages.success(request, "The first dose is recorded.")
        return redirect("result", code=code, course=course)
    shown = {
        "code": code,
        "course": course,
        "form": form,
        "locks": [show_lock(each) for each in found.locks if each.is_promise and not each.knew],
        "doses": [show_dose(each) for each in found.doses],
        "may_see_results": Permission.SEE_RESULTS in request.user.permissions,
    }
    return render(request, "practice/first_dose.html", shown)


@require_GET
@requires(Permission.SEE_PROMISES)
def promises(request: StaffRequest) -> HttpResponse:
    """Lay what happened against what was said, for the whole programme."""
    shown = show_promises(promises_kept(seen_by=request.user))
    may = request.user.permissions
    shown["may_record_dose"] = Permission.RECORD_FIRST_DOSES in may
    shown["may_see_fit"] = Permission.SEE_RESULTS in may
    return render(request, "practice/promises.html", shown)


def _follow_up(request: StaffRequest, code: str, course: int) -> FollowUp:
    """Give a course's follow-up, or answer that there is no such page."""
    try:
        return follow_up_of(code, course, seen_by=request.user)
    except Refused as refused:
        raise Http404(str(refused)) from refused
