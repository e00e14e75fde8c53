"""The page of questions to ask kindly: staff's own screen at a follow-up visit."""

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.practice.asking import to_ask_about
from sidelong.clinic.practice.reading_once import reading_once
from sidelong.clinic.practice.views import of_a_course
from sidelong.paper.language import read_language
from sidelong.pathway.backfill import PieceCount

_MOST_PIECES = 9999


class PiecesForm(forms.Form):
    """Pieces counted at the visit; both counts or none."""

    given = forms.IntegerField(
        label="Practice pieces given", required=False, min_value=0, max_value=_MOST_PIECES
    )
    returned = forms.IntegerField(
        label="Pieces that came back", required=False, min_value=0, max_value=_MOST_PIECES
    )

    def clean(self) -> dict[str, Any]:
        """Refuse one count without the other, and more pieces back than were given."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        given, returned = said.get("given"), said.get("returned")
        if not self.errors and (given is None) != (returned is None):
            missing = "given" if given is None else "returned"
            self.add_error(missing, "Give both numbers, or leave both empty.")
        elif given is not None and returned is not None and returned > given:
            self.add_error("returned", "More pieces came back than were given: count again.")
        return said

    def pieces(self) -> PieceCount | None:
        """Give the count; None where none was given or it is wrong."""
        if not self.is_bound or not self.is_valid() or self.cleaned_data["given"] is None:
            return None
        return PieceCount(self.cleaned_data["given"], self.cleaned_data["returned"])


@require_GET
@requires(Permission.BEGIN_FOLLOW_UPS)
@of_a_course
def to_ask(request: StaffRequest, code: str, course: int) -> HttpResponse:
    """Show what to ask about; a count of pieces is used for this page and not kept."""
    form = PiecesForm(request.GET or None)
    language = read_language("en")
    with reading_once():
        found = to_ask_about(
            code, course, pieces=form.pieces(), language=language, seen_by=request.user
        )
    shown = {
        "code": code,
        "course": course,
        "form": form,
        "found": found,
        "has_pieces": form.pieces() is not None,
    }
    return render(request, "practice/asking.html", shown)
