"""The page on which a swallowing specialist signs that ``up`` may be suggested."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.passwords import PasswordForm, check_password
from sidelong.clinic.practice.up_actions import sign_off_up, withdraw_up
from sidelong.clinic.practice.up_queries import up_now
from sidelong.clinic.practice.views import of_a_course
from sidelong.problems import Refused
from sidelong.training.protocol import SWALLOWING_SPECIALIST


class WithdrawForm(PasswordForm):
    """Why a sign-off is taken back."""

    field_order = ("reason", "password")
    reason = forms.CharField(
        label="Why", max_length=500, widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"})
    )


class SignOffForm(PasswordForm):
    """What a swallowing specialist signs."""

    field_order = ("reason", "specialist", "password")
    reason = forms.CharField(
        label="What for",
        help_text="What you saw or know of this person; no name.",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}),
    )
    specialist = forms.BooleanField(label=f"I sign as a {SWALLOWING_SPECIALIST}.", required=False)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def up(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show whether ``up`` may be suggested, and who signed what."""
    return _up_page(request, code, course)


@require_POST
@requires(Permission.SIGN_OFF_UP)
@of_a_course
def sign_up(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Sign that ``up`` may be suggested."""
    form = SignOffForm(request.POST)
    check_password(request, form)
    if not form.is_valid():
        return _up_page(request, code, course, sign_form=form)
    role = SWALLOWING_SPECIALIST if form.cleaned_data["specialist"] else "clinician"
    reason = form.cleaned_data["reason"]
    try:
        sign_off_up(
            code=code, course=course, role=role, reason=reason, now=timezone.now(), by=request.user
        )
    except Refused as refused:
        return _up_page(request, code, course, refused=refused)
    messages.success(request, "Signed: up may be suggested where the nights say so.")
    return redirect("up_sign_off", code=code, course=course)


@require_POST
@requires(Permission.SIGN_OFF_UP)
@of_a_course
def take_back(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Take a sign-off back."""
    form = WithdrawForm(request.POST)
    check_password(request, form)
    if not form.is_valid():
        return _up_page(request, code, course, withdraw_form=form)
    reason = form.cleaned_data["reason"]
    try:
        withdraw_up(code=code, course=course, reason=reason, now=timezone.now(), by=request.user)
    except Refused as refused:
        return _up_page(request, code, course, refused=refused)
    messages.success(request, "Taken back: up is not suggested.")
    return redirect("up_sign_off", code=code, course=course)


def _up_page(
    request: StaffRequest,
    code: str,
    course: int,
    *,
    sign_form: SignOffForm | None = None,
    withdraw_form: WithdrawForm | None = None,
    refused: Refused | None = None,
) -> HttpResponse:
    now = up_now(code, course, seen_by=request.user)
    form: Any = withdraw_form or WithdrawForm() if now.is_signed_off else sign_form or SignOffForm()
    shown = {
        "code": code,
        "course": course,
        "now": now,
        "form": form,
        "problems": refused.problems if refused else (),
        "may_sign": Permission.SIGN_OFF_UP in request.user.permissions,
    }
    return render(request, "practice/up.html", shown)
