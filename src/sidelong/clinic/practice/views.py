"""Pages of practice: the grid of nights, events, the result and its signature."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice import actions, queries
from sidelong.clinic.practice.answers import Answer, compose
from sidelong.clinic.practice.beside import notes_beside
from sidelong.clinic.practice.forms import (
    AnswerForm,
    EventForm,
    SignForm,
    read_nights_form,
    read_nights_json,
)
from sidelong.clinic.practice.passwords import check_password
from sidelong.clinic.practice.promise_actions import lock_estimate
from sidelong.clinic.practice.promise_views import may_begin_now, promises_shown
from sidelong.clinic.practice.reading_once import reading_once
from sidelong.clinic.practice.shown import (
    for_script,
    key_help,
    night_lines,
    reply_of,
    shown_nights,
)
from sidelong.clinic.practice.up_queries import up_now
from sidelong.clinic.practice.words import ANSWER_WORDS, DECISION_WORDS, TIER_WORDS
from sidelong.paper.language import read_language
from sidelong.paper.report import set_report
from sidelong.problems import Refused
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.safety import Tier

View = Callable[..., HttpResponseBase]


def of_a_course(view: View) -> View:
    """Answer that there is no such page where there is no such course, plan or result.

    Parameters
    ----------
    view : callable
        Takes the request, and the parts of the address by name.

    Returns
    -------
    callable
        The same page; what it refuses is not found.
    """

    @wraps(view)
    def page(request: HttpRequest, **kwargs: Any) -> HttpResponseBase:
        try:
            return view(request, **kwargs)
        except Refused as refused:
            raise Http404(str(refused)) from refused

    return page


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def nights(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show the grid of a course's nights."""
    return _grid_page(request, code, course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
def keep(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Keep what the grid's script sends; the answer says what became of every night."""
    try:
        kept = actions.keep_nights(
            code=code,
            course=course,
            nights=read_nights_json(request.body),
            now=timezone.now(),
            today=timezone.localdate(),
            by=request.user,
        )
    except Refused as refused:
        return JsonResponse({"problems": [str(each) for each in refused.problems]}, status=400)
    return JsonResponse(
        reply_of(
            versions=kept.versions,
            faults=kept.faults,
            notices=kept.notices,
            clashes=kept.clashes,
        )
    )


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def keep_form(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Keep what the form sends where no script runs."""
    typed = read_nights_form(
        request.POST, orders=queries.orders_of(code, course, seen_by=request.user)
    )
    kept = actions.keep_nights(
        code=code,
        course=course,
        nights=typed,
        now=timezone.now(),
        today=timezone.localdate(),
        by=request.user,
    )
    if kept.faults or kept.clashes:
        return _grid_page(
            request, code, course, typed=typed, faults=kept.faults, clashes=kept.clashes
        )
    messages.success(request, "All nights are saved.")
    return redirect("nights", code=code, course=course)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def versions(request: StaffRequest, code: str, course: int, night: int) -> HttpResponse:
    """Show every version of one night: who kept what, and when."""
    found = queries.versions_of(code, course, night, seen_by=request.user)
    shown = {
        "code": code,
        "course": course,
        "night": night,
        "versions": found,
        "notes": notes_beside(code, course, seen_by=request.user)(night),
    }
    return render(request, "practice/versions.html", shown)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def events(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show what happened during practice, and what waits for a clinician."""
    return _events_page(request, code, course)


@require_POST
@requires(Permission.RECORD_EVENTS)
@of_a_course
def record(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Record what happened."""
    form = _event_form(request, code, course)
    if not form.is_valid():
        return _events_page(request, code, course, form=form)
    said = form.cleaned_data
    actions.record_event(
        code=code,
        course=course,
        night=said["night"],
        tier=Tier(said["tier"]),
        position=Position(said["position"]) if said["position"] else None,
        now=timezone.now(),
        by=request.user,
    )
    messages.success(request, "The event is recorded.")
    return redirect("events", code=code, course=course)


@require_POST
@requires(Permission.ANSWER_EVENTS)
@of_a_course
def answer(request: StaffRequest, code: str, course: int, event: int) -> HttpResponse:
    """Answer an event that locked practice."""
    form = AnswerForm(request.POST)
    if form.is_valid():
        actions.answer_event(
            code=code,
            event=event,
            answer=actions.ClinicianAnswer(form.cleaned_data["answer"]),
            now=timezone.now(),
            by=request.user,
        )
        messages.success(request, "Your answer is recorded.")
    else:
        messages.error(request, "Choose one of the two answers.")
    return redirect("events", code=code, course=course)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def result(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show what the nights say, verdict first; at follow-up it is fixed before it is seen."""
    with reading_once():
        if not may_begin_now(request, code, course):
            return _result_page(request, code, course)
    lock_estimate(code=code, course=course, now=timezone.now(), by=request.user)
    with reading_once():
        return _result_page(request, code, course)


@require_POST
@requires(Permission.SIGN_RESULTS)
@of_a_course
def sign(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Sign the result as it was seen, with the password once more."""
    now = queries.result_now(code, course, seen_by=request.user)
    form = SignForm(request.POST, positions=_open_positions(now.answer))
    check_password(request, form)
    if not form.is_valid():
        return _result_page(request, code, course, form=form)
    said = form.cleaned_data
    try:
        actions.sign_result(
            code=code,
            course=course,
            seen=said["seen"],
            decision=actions.Decision(said["decision"]),
            position=Position(said["position"]) if said["position"] else None,
            now=timezone.now(),
            by=request.user,
        )
    except Refused as refused:
        return _result_page(request, code, course, refused=refused)
    messages.success(request, "The result is signed.")
    return redirect("result", code=code, course=course)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def signed(request: StaffRequest, code: str, course: int, number: int) -> HttpResponse:
    """Show a result as it was when it was signed."""
    found = queries.signed_result(code, course, number, seen_by=request.user)
    today = timezone.localdate(found.signed.signed)
    shown = {
        "code": code,
        "course": course,
        "number": number,
        "estimate": found.answer.estimate,
        "report": _compose(found.answer, found.protocol, today),
        "night_lines": night_lines(found.answer.evidence.entries),
        "signed": [_signature_words(found.signed)],
    }
    return render(request, "practice/signed.html", shown)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def report_now(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Send the report of what the nights say now."""
    now = queries.result_now(code, course, seen_by=request.user)
    return _pdf(now.answer, now.protocol, timezone.localdate(), name=code)


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def report_signed(request: StaffRequest, code: str, course: int, number: int) -> HttpResponse:
    """Send the report of a result as it was signed."""
    found = queries.signed_result(code, course, number, seen_by=request.user)
    today = timezone.localdate(found.signed.signed)
    return _pdf(found.answer, found.protocol, today, name=f"{code}-{number}")


def _grid_page(request: StaffRequest, code: str, course: int, **sent: Any) -> HttpResponse:
    user = request.user
    grid = queries.grid_of(code, course, today=timezone.localdate(), seen_by=user)
    url = reverse("keep_nights", kwargs={"code": code, "course": course})
    shown = {
        "code": code,
        "course": course,
        "grid": grid,
        "nights": shown_nights(grid, notes_of=notes_beside(code, course, seen_by=user), **sent),
        "n_faulty": len({fault.night for fault in sent.get("faults", ())}),
        "n_clashed": len(sent.get("clashes", ())),
        "keys": key_help(grid),
        "may_record": Permission.RECORD_NIGHTS in user.permissions,
        "known": for_script(grid, user=user.audit_key, url=url),
    }
    return render(request, "practice/nights.html", shown)


def _event_form(request: StaffRequest, code: str, course: int) -> EventForm:
    plan = queries.plan_seen(code, course, seen_by=request.user)
    sent = request.POST if request.method == "POST" else None
    return EventForm(sent, n_nights=len(plan.nights), positions=plan.positions)


def _events_page(
    request: StaffRequest, code: str, course: int, *, form: EventForm | None = None
) -> HttpResponse:
    found = queries.events_of(code, course, seen_by=request.user)
    shown = {
        "code": code,
        "course": course,
        "events": [_event_words(each) for each in found],
        "form": form or _event_form(request, code, course),
        "answer_form": AnswerForm(),
        "may_record": Permission.RECORD_EVENTS in request.user.permissions,
        "may_answer": Permission.ANSWER_EVENTS in request.user.permissions,
    }
    return render(request, "practice/events.html", shown)


def _result_page(
    request: StaffRequest,
    code: str,
    course: int,
    *,
    form: SignForm | None = None,
    refused: Refused | None = None,
) -> HttpResponse:
    now = queries.result_now(code, course, seen_by=request.user)
    positions = _open_positions(now.answer)
    shown = {
        "code": code,
        "course": course,
        "now": now,
        "estimate": now.answer.estimate,
        "report": _compose(now.answer, now.protocol, timezone.localdate()),
        "night_lines": night_lines(now.answer.evidence.entries),
        "events": [_event_words(each) for each in now.events],
        "signed": [_signature_words(each) for each in now.signed],
        "form": form or SignForm(initial={"seen": now.fingerprint}, positions=positions),
        "problems": refused.problems if refused else (),
        "may_sign": Permission.SIGN_RESULTS in request.user.permissions,
        "up": up_now(code, course, seen_by=request.user),
        **promises_shown(request, code, course),
    }
    return render(request, "practice/result.html", shown)


def _open_positions(said: Answer) -> tuple[Position, ...]:
    return tuple(each.position for each in said.estimate.positions if each.may_recommend)


def _compose(said: Answer, protocol: Protocol, today: Any) -> Any:
    return compose(said, protocol=protocol, language=read_language("en"), today=today)


def _pdf(said: Answer, protocol: Protocol, today: Any, *, name: str) -> HttpResponse:
    report = _compose(said, protocol, today)
    pdf = set_report(report, language=read_language("en"))
    disposition = f'inline; filename="{name}.pdf"'
    return HttpResponse(
        pdf, content_type="application/pdf", headers={"Content-Disposition": disposition}
    )


def _event_words(line: queries.EventLine) -> dict[str, Any]:
    words = TIER_WORDS[line.tier]
    answer = ANSWER_WORDS[actions.ClinicianAnswer(line.answer)] if line.answer else ""
    return {
        "line": line,
        "grade": list(Tier).index(line.tier) + 1,
        "title": words[0].upper() + words[1:],
        "answer": answer,
    }


def _signature_words(line: queries.SignedLine) -> dict[str, Any]:
    return {"line": line, "decision": DECISION_WORDS[actions.Decision(line.meaning)]}
