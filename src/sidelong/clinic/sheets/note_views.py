"""Pages of what is written by hand on a sheet: typed beside its picture, corrected, taken back."""

import json

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.views import of_a_course
from sidelong.clinic.sheets import note_actions, note_queries
from sidelong.clinic.sheets.forms import notes_in_form
from sidelong.clinic.sheets.notes import MOST_CHARACTERS, Typed
from sidelong.problems import Refused

_LOAD_AGAIN = "Load the page again."


@require_GET
@requires(Permission.SEE_RESULTS)
@of_a_course
def handwriting(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Show what is written by hand on one sheet beside what was typed of it."""
    return _page(request, code, course, sheet)


@require_POST
@requires(Permission.RECORD_NIGHTS)
@of_a_course
def keep(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Keep what was typed on that page; an empty field takes back what stood there."""
    n_kept, problems, typed = keep_notes(request, code, course, sheet=sheet)
    if problems:
        return _page(request, code, course, sheet, problems=problems, typed=typed)
    messages.success(request, "What you typed is kept." if n_kept else "Nothing was changed.")
    return redirect("handwriting", code=code, course=course, sheet=sheet)


@require_POST
@requires(Permission.RECORD_NIGHTS)
def say(request: StaffRequest, code: str, course: int, sheet: int) -> HttpResponse:
    """Keep one text that the page's script sends; the answer says on what the next one rests."""
    try:
        sent = json.loads(request.body)
        base = note_actions.type_note(
            code=code,
            course=course,
            sheet=sheet,
            area=str(sent["area"]),
            text=str(sent["text"]),
            base=int(sent["base"]),
            now=timezone.now(),
            by=request.user,
        )
    except (ValueError, KeyError, TypeError):
        return JsonResponse({"problems": [_LOAD_AGAIN]}, status=400)
    except Refused as refused:
        return JsonResponse({"problems": [str(each) for each in refused.problems]}, status=400)
    return JsonResponse({"base": base})


def keep_notes(
    request: StaffRequest, code: str, course: int, *, sheet: int
) -> tuple[int, list[str], Typed]:
    """Keep what a form's fields hold of one sheet, each for itself.

    Parameters
    ----------
    request : StaffRequest
        With the form.
    code : str
        The trainee's code.
    course, sheet : int
        Number of the course; key of the sheet.

    Returns
    -------
    n_kept : int
        How many were kept or taken back.
    problems : list of str
        Why others were not.
    typed : mapping of (int, str) to str
        What was typed and not kept, by sheet and area.
    """
    n_kept, problems = 0, list[str]()
    typed: dict[tuple[int, str], str] = {}
    for sent in notes_in_form(request.POST.dict()):
        if sent.sheet != sheet or not sent.is_changed:
            continue
        try:
            note_actions.type_note(
                code=code,
                course=course,
                sheet=sheet,
                area=sent.area,
                text=sent.text,
                base=sent.base,
                now=timezone.now(),
                by=request.user,
            )
            n_kept += 1
        except Refused as refused:
            problems += [str(each) for each in refused.problems]
            typed[sheet, sent.area] = sent.text
    return n_kept, problems, typed


def _page(
    request: StaffRequest,
    code: str,
    course: int,
    sheet: int,
    *,
    problems: list[str] | None = None,
    typed: Typed | None = None,
) -> HttpResponse:
    found = note_queries.sheet_typed(code, course, sheet, seen_by=request.user)
    kept = {(sheet, each.hand.area): each.hand.text for each in found.areas}
    texts = kept | dict(typed or {})
    shown = {
        "code": code,
        "course": course,
        "sheet": found,
        "areas": [(each, texts[sheet, each.hand.area]) for each in found.areas],
        "said": problems or (),
        "most": MOST_CHARACTERS,
        "may_record": Permission.RECORD_NIGHTS in request.user.permissions,
    }
    return render(request, "sheets/handwriting.html", shown)
