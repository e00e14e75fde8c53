"""The page of all parts: what every page is made of, in one place."""

from datetime import date
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.look.forms import SampleForm
from sidelong.clinic.look.samples import sample_course
from sidelong.clinic.look.way import StepState, WayStep
from sidelong.paper.language import read_language
from sidelong.problems import Problem
from sidelong.training.position import Position

_FAULTY = {"faulty-code": "HL-0421-2026-11", "faulty-seen": "", "faulty-position": "left"}
_WAY = (
    WayStep("Referral", StepState.DONE, by="Sam Coach", on=date(2026, 11, 2)),
    WayStep(
        "Readiness",
        StepState.DONE,
        by="Dr Ada Clinician",
        on=date(2026, 11, 4),
        note="Ready, with one limit: no turn to the left.",
    ),
    WayStep("Teaching visit", StepState.SKIPPED, note="The plan was made before a visit."),
    WayStep("Plan", StepState.NEXT, url="#way", action="Set a plan", note="Four positions."),
    WayStep("Booklet", StepState.LATER),
    WayStep("Nights", StepState.STOPPED, note="Locked until a clinician has answered."),
    WayStep("Result", StepState.LATER),
)


@requires(Permission.SEE_TODAY)
def parts(request: StaffRequest) -> HttpResponse:
    """Show every part; ``?lines=rtl`` shows them in lines that run from right to left."""
    is_flipped = request.GET.get("lines") == "rtl"
    tag = "ar-XB" if is_flipped else "en"
    return render(request, "parts/all.html", {"is_flipped": is_flipped, **_shown(tag, request)})


def _shown(tag: str, request: StaffRequest) -> dict[str, Any]:
    course = sample_course(tag)
    leaves = Paginator(range(1, 61), 20)
    return {
        "language": read_language(tag),
        "report": course.report,
        "estimate": course.estimate,
        "positions": tuple(Position),
        "ratings": (1, 2, 3, 4, 5),
        "way": _WAY,
        "form": SampleForm(),
        "faulty": SampleForm(_FAULTY, prefix="faulty"),
        "problems": [
            Problem("night 3, left", "6 is not an answer", "Type a number from 1 to 5.", "cell")
        ],
        "leaf": leaves.get_page(request.GET.get("leaf", "2")),
    }
