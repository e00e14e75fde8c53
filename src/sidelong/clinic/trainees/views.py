"""Pages of a trainee's way: read what was sent, do it, show what came of it."""

import secrets
from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, may_open, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.identities.queries import find_by_name, read_identities
from sidelong.clinic.protocols.queries import site_names, site_rules
from sidelong.clinic.trainees.actions import (
    WhyClosed,
    answer_questions,
    close_course,
    decide,
    refer_trainee,
    write_referral,
)
from sidelong.clinic.trainees.codes import tidy_code
from sidelong.clinic.trainees.forms import (
    BookletForm,
    ChangeForm,
    CloseForm,
    DecisionForm,
    IssueForm,
    ReferralForm,
    RefusableForm,
    VisitForm,
)
from sidelong.clinic.trainees.pages import (
    changed_referral,
    languages_of,
    pick_answers,
    readiness_shown,
    say_visit,
    told_lines,
)
from sidelong.clinic.trainees.plan_actions import (
    begin_allocation,
    hand_out_booklet,
    issue_plan,
    record_visit,
)
from sidelong.clinic.trainees.queries import (
    open_questions,
    read_record,
    read_records,
    usual_role,
)
from sidelong.clinic.trainees.question_groups import group_questions
from sidelong.clinic.trainees.record import Record
from sidelong.clinic.trainees.standing import Standing
from sidelong.clinic.trainees.way import openable, steps_of
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Audience, Edition, audience_at, audience_of
from sidelong.problems import Refused
from sidelong.training.evening_date import evening_date
from sidelong.training.referral import PRACTICE

_ON_A_LEAF = 50


@requires(Permission.SEE_TRAINEES)
@require_GET
def trainees(request: StaffRequest) -> HttpResponse:
    """List everybody: code, where each stands, what is next."""
    code = tidy_code(request.GET.get("code", ""))
    records = read_records(today=_today(), evening=_evening(), seen_by=request.user)
    if code in {each.code for each in records}:
        return redirect("trainee", code)
    lines = told_lines(records, waiting_for=request.GET.get("next", ""))
    leaf = Paginator(lines, _ON_A_LEAF).get_page(request.GET.get("leaf"))
    shown = {"leaf": leaf, "sought": code, "n_all": len(records)} | _sites(records)
    return render(request, "trainees/trainees.html", shown | _may(request))


@requires(Permission.FIND_BY_NAME)
@require_POST
def find(request: StaffRequest) -> HttpResponse:
    """Find codes by a whole word of a name; the search is recorded, the word is not."""
    words = request.POST.get("name", "")
    codes = set(find_by_name(words, seen_by=request.user)) if words.strip() else set()
    records = read_records(today=_today(), evening=_evening(), seen_by=request.user)
    lines = told_lines([each for each in records if each.code in codes])
    leaf = Paginator(lines, _ON_A_LEAF).get_page(1)
    shown = {"leaf": leaf, "by_name": True, "n_all": len(records)} | _sites(records)
    return render(request, "trainees/trainees.html", shown | _may(request))


@requires(Permission.ENTER_TRAINEES)
def new_referral(request: StaffRequest) -> HttpResponse:
    """Take up somebody new: the code is made here, the name goes to the identities alone."""
    sites = site_names(seen_by=request.user)
    languages = languages_of(tuple(sites), seen_by=request.user)
    form = ReferralForm(request.POST or None, sites=sites, languages=languages, today=_today())
    if request.method == "POST":
        made: list[str] = []
        if form.goes_through(lambda: made.append(_refer(form, request))):
            messages.success(request, f"Taken up as {made[0]}.")
            return redirect("questions", made[0])
    return render(request, "trainees/new_referral.html", {"form": form, "sites": sites})


@requires(Permission.SEE_TRAINEES)
@require_GET
def trainee(request: StaffRequest, code: str) -> HttpResponse:
    """Show one trainee's way: what is done, by whom, what is next."""
    record = _record(request, code)
    held = request.user.permissions
    steps = openable(steps_of(record), lambda path: may_open(path, held))
    shown = {"record": record, "steps": steps}
    return render(request, "trainees/trainee.html", shown | _may(request))


@requires(Permission.SEE_NAMES)
@require_GET
def name(request: StaffRequest, code: str) -> HttpResponse:
    """Show who a trainee is; the reading is recorded."""
    record = _record(request, code)
    identity = read_identities([code], seen_by=request.user).get(code)
    return render(request, "trainees/name.html", {"record": record, "identity": identity})


@requires(Permission.ENTER_TRAINEES)
def referral(request: StaffRequest, code: str) -> HttpResponse:
    """Show the referral, and write what has changed as a new version."""
    record = _record(request, code)
    now = timezone.now()
    kept = record.referral.referral if record.referral else None
    known = {} if kept is None else {n: getattr(kept, n) for n in ChangeForm.base_fields}
    form = ChangeForm(request.POST or None, initial=known)
    if request.method == "POST" and form.goes_through(
        lambda: write_referral(
            referral=changed_referral(record, form.cleaned_data), now=now, by=request.user
        )
    ):
        return redirect("trainee", code)
    return render(request, "trainees/referral.html", {"record": record, "form": form})


@requires(Permission.ENTER_TRAINEES)
def questions(request: StaffRequest, code: str) -> HttpResponse:
    """Ask the readiness questions; answers are saved one by one, or all with the button."""
    record = _record(request, code)
    standing = _standing(record)
    form = RefusableForm(request.POST or None)
    if request.method == "POST" and form.goes_through(lambda: _keep_answers(request, standing)):
        return redirect("readiness", code)
    groups = group_questions(standing.protocol, standing.referral)
    n_open = len(standing.sorted_referral.unanswered)
    shown = {"record": record, "groups": groups, "n_open": n_open, "form": form}
    return render(request, "trainees/questions.html", shown)


@requires(Permission.ENTER_TRAINEES)
@require_POST
def answer(request: StaffRequest, code: str) -> HttpResponse:
    """Save one answer as it is given, and tell what is still open."""
    try:
        given = pick_answers(request.POST, None)
        answer_questions(code=code, answers=given, now=timezone.now(), by=request.user)
    except Refused as refused:
        return JsonResponse({"refused": [str(each) for each in refused.problems]}, status=400)
    n_open = open_questions(code, today=_today(), seen_by=request.user)
    at = timezone.localtime().strftime("%H:%M")
    return JsonResponse({"saved": sorted(given), "at": at, "open": n_open})


@requires(Permission.SEE_TRAINEES)
@require_GET
def readiness(request: StaffRequest, code: str) -> HttpResponse:
    """Show where the referral stands, with every reason, and what was decided."""
    record = _record(request, code)
    shown = {"record": record, **readiness_shown(_standing(record))}
    return render(request, "trainees/readiness.html", shown | _may(request))


@requires(Permission.DECIDE)
def decision(request: StaffRequest, code: str, gate: str = PRACTICE) -> HttpResponse:
    """Let a clinician decide about one gate, or about practice as a whole."""
    record, today = _record(request, code), _today()
    standing = _standing(record)
    form = _decision_form(request, standing, gate=gate, today=today)
    who = request.user
    if request.method == "POST" and form.goes_through(
        lambda: decide(
            decision=form.decision(trainee=code, gate=gate, decided_by=who.display_name),
            now=timezone.now(),
            by=who,
        )
    ):
        return redirect("readiness", code)
    shown = {"record": record, "form": form, **readiness_shown(standing, gate=gate)}
    return render(request, "trainees/decision.html", shown)


@requires(Permission.RECORD_VISITS)
def visit(request: StaffRequest, code: str) -> HttpResponse:
    """Write down what was seen at the teaching visit."""
    record, now = _record(request, code), timezone.now()
    standing = _standing(record)
    rules = site_rules(record.site, seen_by=request.user)
    limits = standing.sorted_referral.limits
    form = VisitForm(
        request.POST or None,
        limits=limits,
        rules=rules,
        today=_today(),
        is_locked=record.is_locked,
    )
    keep = partial(record_visit, now=now, by=request.user)
    if request.method == "POST" and form.goes_through(
        lambda: keep(visit=form.visit(trainee=code), release=form.cleaned_data["release"])
    ):
        messages.success(request, say_visit(record, is_released=form.cleaned_data["release"]))
        return redirect("trainee", code)
    shown = {"record": record, "form": form, "standing": standing, "rules": rules}
    return render(request, "trainees/visit.html", shown | _may(request))


@requires(Permission.SEE_TRAINEES)
@require_GET
def plan(request: StaffRequest, code: str) -> HttpResponse:
    """Show the orders of all nights, how they were drawn, and earlier versions."""
    return _plan_page(request, _record(request, code), issue_form=IssueForm())


@requires(Permission.ISSUE_PLANS)
@require_POST
def issue(request: StaffRequest, code: str) -> HttpResponse:
    """Draw the next version of the plan."""
    now, by = timezone.now(), request.user
    form = IssueForm(request.POST)

    def draw() -> None:
        begin_allocation(now=now, by=by)
        issue_plan(code=code, start=form.cleaned_data["start"], now=now, by=by)

    if form.goes_through(draw):
        return redirect("plan", code)
    return _plan_page(request, _record(request, code), issue_form=form)


@requires(Permission.RUN_COURSES)
def close(request: StaffRequest, code: str) -> HttpResponse:
    """Close the open course, and say why."""
    record = _record(request, code)
    form = CloseForm(request.POST or None)
    if request.method == "POST" and form.goes_through(
        lambda: close_course(
            code=code,
            why=WhyClosed(form.cleaned_data["why"]),
            now=timezone.now(),
            by=request.user,
        )
    ):
        messages.success(request, f"Course {record.course} is closed.")
        return redirect("trainee", code)
    return render(request, "trainees/close.html", {"record": record, "form": form})


@requires(Permission.ISSUE_PLANS)
@require_POST
def booklet(request: StaffRequest, code: str) -> HttpResponse:
    """Make the booklet of the plan that counts, and send it."""
    record = _record(request, code)
    form = BookletForm(request.POST, language=record.language, audience=_audience(record))
    made: list[bytes] = []
    if form.goes_through(lambda: made.append(_make_booklet(form, code, request))):
        response = HttpResponse(made[0], content_type="application/pdf")
        response["Content-Disposition"] = f'attachment; filename="{code}.pdf"'
        return response
    return _plan_page(request, record, issue_form=IssueForm(), booklet_form=form)


def _sites(records: Sequence[Record]) -> dict[str, bool]:
    """Say whether a list names each one's site: where there is but one, it says nothing."""
    return {"several_sites": len({each.site for each in records}) > 1}


def _refer(form: ReferralForm, request: StaffRequest) -> str:
    return refer_trainee(
        referral=form.referral(),
        identity=form.identity(),
        now=timezone.now(),
        below=secrets.randbelow,
        by=request.user,
    )


def _keep_answers(request: StaffRequest, standing: Standing) -> None:
    answers = pick_answers(request.POST, standing.referral)
    if answers:
        code = standing.referral.trainee
        answer_questions(code=code, answers=answers, now=timezone.now(), by=request.user)


def _make_booklet(form: BookletForm, code: str, request: StaffRequest) -> bytes:
    return hand_out_booklet(
        code=code,
        paper=Paper(form.cleaned_data["paper"]),
        language=form.cleaned_data["language"],
        audience=Audience(form.cleaned_data["audience"]) if form.cleaned_data["audience"] else None,
        edition=Edition(form.cleaned_data["edition"] or Edition.STANDARD),
        now=timezone.now(),
        by=request.user,
    )


def _decision_form(
    request: StaffRequest, standing: Standing, *, gate: str, today: date
) -> DecisionForm:
    protocol = standing.protocol
    about = next((each for each in protocol.active_gates if each.key == gate), None)
    if about is None and gate != PRACTICE:
        raise Http404("The protocol in use has no such question.")
    return DecisionForm(
        request.POST or None,
        gate=about,
        positions=standing.sorted_referral.limits.positions,
        today=today,
        decision_days=protocol.course.decision_days,
        initial={"role": usual_role(seen_by=request.user)},
    )


def _plan_page(
    request: StaffRequest,
    record: Record,
    *,
    issue_form: IssueForm,
    booklet_form: BookletForm | None = None,
) -> HttpResponse:
    shown = {
        "record": record,
        "kept": record.plan,
        "earlier": record.plans[:-1],
        "issue_form": issue_form,
        "booklet_form": booklet_form
        or BookletForm(language=record.language, audience=_audience(record)),
        "gaps": record.standing.told_gaps if record.standing else (),
    }
    return render(request, "trainees/plan.html", shown | _may(request))


def _audience(record: Record) -> Audience | None:
    """Propose for whom a booklet speaks: by age, else by the plan's age band."""
    age = record.referral.referral.age_years if record.referral else None
    if age is not None:
        return audience_at(age)
    kept = record.plan
    return audience_of(kept.plan, kept.protocol) if kept else None


def _record(request: StaffRequest, code: str) -> Record:
    found = read_record(code, today=_today(), evening=_evening(), seen_by=request.user)
    if found is None:
        raise Http404("There is no trainee with this code.")
    return found


def _standing(record: Record) -> Standing:
    if record.standing is None:
        raise Http404("There is no referral, or the site's protocol does not fit it.")
    return record.standing


def _may(request: StaffRequest) -> dict[str, Any]:
    """Say which buttons somebody gets; the gate before each page decides anew."""
    held = request.user.permissions
    return {
        "may_enter": Permission.ENTER_TRAINEES in held,
        "may_decide": Permission.DECIDE in held,
        "may_record_visits": Permission.RECORD_VISITS in held,
        "may_issue": Permission.ISSUE_PLANS in held,
        "may_run_courses": Permission.RUN_COURSES in held,
        "may_see_names": Permission.SEE_NAMES in held,
        "may_see_results": Permission.SEE_RESULTS in held,
        "may_find": Permission.FIND_BY_NAME in held,
    }


def _today() -> date:
    return timezone.localdate()


def _evening() -> date:
    return evening_date(timezone.localtime())
