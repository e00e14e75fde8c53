"""The page of the clinic's own fit: what answers rest on, who consents, making it anew."""

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.fit_actions import record_consent, refit
from sidelong.clinic.practice.fit_queries import fit_now
from sidelong.problems import Refused
from sidelong.training.consent import Consent


class ConsentForm(forms.Form):
    """One trainee's answer."""

    code = forms.CharField(label="Code of the trainee", max_length=16)
    answer = forms.ChoiceField(
        label="May the nights count towards what is learned of all trainees?",
        choices=[(str(each), str(each)) for each in (Consent.YES, Consent.NO, Consent.NOT_ASKED)],
    )


@require_GET
@requires(Permission.SEE_RESULTS)
def fit(request: StaffRequest) -> HttpResponse:
    """Show what answers rest on."""
    return _page(request, form=ConsentForm())


@require_POST
@requires(Permission.FIT_COHORT)
def make(request: StaffRequest) -> HttpResponse:
    """Learn from everybody who consents."""
    try:
        _make(request)
    except Refused as refused:
        return _page(request, form=ConsentForm(), refused=refused)
    return redirect("fit")


@require_POST
@requires(Permission.RECORD_CONSENT)
def consent(request: StaffRequest) -> HttpResponse:
    """Keep one answer; a fit that went out of use by it is made anew where the person may."""
    form = ConsentForm(request.POST)
    if not form.is_valid():
        return _page(request, form=form)
    code, answer = form.cleaned_data["code"], Consent(form.cleaned_data["answer"])
    try:
        went_out = record_consent(code=code, answer=answer, now=timezone.now(), by=request.user)
        messages.success(request, f"Kept for {code}: {answer}.")
        if went_out and Permission.FIT_COHORT in request.user.permissions:
            _make(request)
        elif went_out:
            messages.warning(request, "The clinic's fit is out of use until a lead has it remade.")
    except Refused as refused:
        return _page(request, form=form, refused=refused)
    return redirect("fit")


def _make(request: StaffRequest) -> None:
    now = timezone.now()
    choice = refit(now=now, today=timezone.localdate(now), by=request.user)
    if choice.why:
        messages.warning(request, f"The shipped values stand: {choice.why}.")
    else:
        messages.success(request, f"Answers now rest on values {choice.fit.origin}.")


def _page(
    request: StaffRequest, *, form: ConsentForm, refused: Refused | None = None
) -> HttpResponse:
    permissions = request.user.permissions
    shown = {
        "now": fit_now(seen_by=request.user),
        "form": form,
        "problems": refused.problems if refused else (),
        "may_fit": Permission.FIT_COHORT in permissions,
        "may_record": Permission.RECORD_CONSENT in permissions,
    }
    return render(request, "practice/fit.html", shown)
