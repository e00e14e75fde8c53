"""Pages of photographed sheets: sending in, looking at what is unclear, confirming."""

import json
from collections.abc import Sequence

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.views import of_a_course
from sidelong.clinic.sheets import actions, queries
from sidelong.clinic.sheets.clearing import clear_when_due
from sidelong.clinic.sheets.forms import ConfirmForm, SpareForm, said_in_form
from sidelong.clinic.sheets.note_views import keep_notes
from sidelong.clinic.sheets.notes import MOST_CHARACTERS, Typed
from sidelong.clinic.sheets.queries import SheetLine
from sidelong.clinic.sheets.reading import Stranger
from sidelong.clinic.sheets.shown import compare_nights, sort_out
from sidelong.problems import Refused

_MOST_FILES = 40
_NO_SHEET = {
    Stranger.EXAMPLE: "this is the filled example that is printed in every booklet; there is "
    "nothing to enter, and it was not kept.",
    Stranger.OTHERS: "this is a sheet of another trainee or of another course, and it was not "
    "kept. The code stands below its number: send it from the page of that course.",
    None: "no sheet of this course was found, and it was not kept. "
    "Photograph the sheet flat, with all black-and-white squares in view and no "
    "shadow over it; check that it is this trainee's; or type the night by hand.",
}
_SAID = {
    actions.Outcome.KEPT: "The sheet is kept as its night.",
    actions.Outcome.COMPARED: "The sheet says what is known already; nothing was added.",
}


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def sheets(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show what came, and what has to be looked at, the most doubtful first."""
    return _page(request, code, course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def receive(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Take photographs in; each is kept or refused for itself."""
    files = request.FILES.getlist("photographs")
    if len(files) > _MOST_FILES:
        what = f"{len(files)} photographs came at once, and none was kept."
        return _page(request, code, course, problems=[f"{what} Send at most {_MOST_FILES}."])
    problems = []
    n_sheets = 0
    for number, file in enumerate(files, start=1):
        try:
            received = actions.receive_photograph(
                code=code, course=course, content=file.read(), now=timezone.now(), by=request.user
            )
        except Refused as refused:
            problems += [
                f"Photograph {number}: {each.what}. {each.remedy}" for each in refused.problems
            ]
            continue
        n_sheets += len(received.sheets)
        if received.is_again:
            problems.append(f"Photograph {number} had been sent before; nothing was added.")
        elif not received.sheets:
            problems.append(f"Photograph {number}: {_NO_SHEET[received.stranger]}")
    if not files:
        problems.append("No photograph was chosen. Choose one or more, then send them.")
    told = "Received: 1 sheet." if n_sheets == 1 else f"Received: {n_sheets} sheets."
    if n_sheets or not problems:
        messages.success(request, told)
    if problems:
        return _page(request, code, course, problems=problems)
    return redirect("sheets", code=code, course=course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
def say(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Keep one answer that the page's script sends."""
    try:
        sent = json.loads(request.body)
        field, value = str(sent["field"]), sent["value"]
        actions.say_answer(
            code=code,
            course=course,
            sheet=sheet,
            field=field,
            value=None if value is None else str(value),
            now=timezone.now(),
            by=request.user,
        )
    except (ValueError, KeyError, TypeError):
        return JsonResponse({"problems": ["Load the page again."]}, status=400)
    except Refused as refused:
        return JsonResponse({"problems": [str(each) for each in refused.problems]}, status=400)
    return JsonResponse({"kept": True})


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def look(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Keep the answers of all sheets where no script runs."""
    for sheet, field, value in said_in_form(request.POST):
        actions.say_answer(
            code=code,
            course=course,
            sheet=sheet,
            field=field,
            value=value,
            now=timezone.now(),
            by=request.user,
        )
    return redirect("sheets", code=code, course=course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def look_again(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Take back all that was said of a sheet, so that it is asked again; notes are no answers."""
    _, faults, typed = keep_notes(request, code, course, sheet=sheet)
    if faults:
        return _page(request, code, course, problems=faults, typed=typed)
    lines = queries.sheets_of(code, course, seen_by=request.user)
    for state in (state for each in lines if each.key == sheet for state in each.states.values()):
        if state.is_said:
            actions.say_answer(
                code=code,
                course=course,
                sheet=sheet,
                field=state.field,
                value=None,
                now=timezone.now(),
                by=request.user,
            )
    return redirect("sheets", code=code, course=course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def confirm_clear(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Let all sheets become nights about which nothing is out of line; each for itself."""
    lines = queries.sheets_of(code, course, seen_by=request.user)
    clear = [each.line for each in sort_out(lines).to_confirm if each.is_clear]
    # Only what the page showed: a sheet may have come or become clear meanwhile.
    shown = [line for line in clear if f"evening-{line.key}" in request.POST]
    n_kept, problems = _confirm_each(request, code, course, shown)
    if n_kept:
        messages.success(request, f"{n_kept} sheets are kept as their nights.")
    if problems:
        return _page(request, code, course, problems=problems)
    return redirect("sheets", code=code, course=course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def confirm(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Let a sheet become a night, with what was typed of its notes."""
    _, faults, typed = keep_notes(request, code, course, sheet=sheet)
    if faults:
        return _page(request, code, course, problems=faults, typed=typed)
    form = ConfirmForm(request.POST)
    if not form.is_valid():
        problems = [str(each) for faults in form.errors.values() for each in faults]
        return _page(request, code, course, problems=problems)
    try:
        done = actions.confirm_sheet(
            code=code,
            course=course,
            sheet=sheet,
            evening=form.evening_text,
            not_done=form.cleaned_data["not_done"],
            replaces=form.cleaned_data["replaces"],
            now=timezone.now(),
            today=timezone.localdate(),
            by=request.user,
        )
    except Refused as refused:
        return _page(request, code, course, problems=[str(each) for each in refused.problems])
    if done.theirs is not None and done.ours is not None:
        night = done.ours.night
        order = queries.order_known(code, course, night, seen_by=request.user)
        shown = {
            "code": code,
            "course": course,
            "sheet": sheet,
            "night": done.ours.night,
            "evening": form.evening_text,
            "not_done": form.cleaned_data["not_done"],
            "areas": queries.areas_of(code, course, sheet, seen_by=request.user),
            "differences": compare_nights(done.theirs, done.ours, order),
        }
        return render(request, "sheets/compare.html", shown)
    if done.outcome is None:
        faults = [f"Night {each.night}: {each.text}" for each in done.faults]
        return _page(request, code, course, problems=faults)
    messages.success(request, _SAID[done.outcome])
    return redirect("sheets", code=code, course=course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def stands_for(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Keep which night a spare sheet stands for, or take it back."""
    form = SpareForm(request.POST)
    is_back = "back" in request.POST
    if not is_back and not form.is_valid():
        told = "Write the number that stands in the box of the spare sheet."
        return _page(request, code, course, problems=[told])
    try:
        actions.name_spare(
            code=code,
            course=course,
            sheet=sheet,
            night=None if is_back else form.cleaned_data["night"],
            now=timezone.now(),
            by=request.user,
        )
    except Refused as refused:
        return _page(request, code, course, problems=[str(each) for each in refused.problems])
    return redirect("sheets", code=code, course=course)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def aside(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Leave a sheet out, and keep what was typed of its notes."""
    _, faults, typed = keep_notes(request, code, course, sheet=sheet)
    if faults:
        return _page(request, code, course, problems=faults, typed=typed)
    actions.set_aside(code=code, course=course, sheet=sheet, now=timezone.now(), by=request.user)
    messages.success(request, "The sheet is set aside; the night stays as it is known.")
    return redirect("sheets", code=code, course=course)


@require_GET
@requires(Permission.SEE_RESULTS)
def picture(request: StaffRequest, code: str, course: int, sheet: int, area: str) -> HttpResponse:
    """Show a sheet, or one area of it; never stored by the browser."""
    try:
        pixels = queries.picture_of(code, course, sheet, area, seen_by=request.user)
    except Refused as refused:
        raise Http404(str(refused)) from refused
    return HttpResponse(pixels, content_type="image/jpeg", headers={"Cache-Control": "no-store"})


def _confirm_each(
    request: StaffRequest, code: str, course: int, lines: Sequence[SheetLine]
) -> tuple[int, list[str]]:
    """Confirm some sheets with the dates that were sent; what fails holds back no other."""
    problems: list[str] = []
    n_kept = 0
    for line in lines:
        form = ConfirmForm({"evening": request.POST[f"evening-{line.key}"], "not_done": "other"})
        if not form.is_valid():
            problems += [f"Night {line.night}: {each}" for each in form.errors.get("evening", ())]
            continue
        try:
            done = actions.confirm_sheet(
                code=code,
                course=course,
                sheet=line.key,
                evening=form.evening_text,
                now=timezone.now(),
                today=timezone.localdate(),
                by=request.user,
            )
        except Refused as refused:
            problems += [str(each) for each in refused.problems]
            continue
        n_kept += done.outcome is not None
        problems += [f"Night {each.night}: {each.text}" for each in done.faults]
        if done.theirs is not None:
            problems.append(f"Night {line.night}: it is known otherwise. Confirm it for itself.")
    return n_kept, problems


def _page(
    request: StaffRequest,
    code: str,
    course: int,
    *,
    problems: Sequence[str] = (),
    typed: Typed | None = None,
) -> HttpResponse:
    clear_when_due(now=timezone.now())
    lines = queries.sheets_of(code, course, seen_by=request.user)
    shown = {
        "code": code,
        "course": course,
        "shown": sort_out(
            lines,
            begins=queries.first_evening_of(code, course, seen_by=request.user) if lines else None,
            today=timezone.localdate(),
            one_by_one="each" in request.GET,
            typed=typed,
        ),
        "most": MOST_CHARACTERS,
        "n_sheets": len(lines),
        "said": problems,
        "may_record": Permission.RECORD_NIGHTS in request.user.permissions,
    }
    return render(request, "sheets/sheets.html", shown)
