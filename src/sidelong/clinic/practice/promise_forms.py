"""Forms of promises: beginning a follow-up, and the first real dose."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from django import forms

from sidelong.paper.heads import HEAD_WORDS
from sidelong.problems import Refused
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.piece import LARGEST_MM, Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, SeenBy

KIND_WORDS = {
    DoseKind.TABLET: "Tablet",
    DoseKind.CAPSULE: "Capsule, hard",
    DoseKind.LIQUID_FILLED: "Capsule, soft and filled with liquid",
}
SHAPE_WORDS = {
    Shape.DISC: "Round and flat",
    Shape.OVAL: "Oval",
    Shape.CAPSULE: "Capsule-shaped",
    Shape.SPHERE: "A ball",
}
SEEN_WORDS = {
    SeenBy.STAFF: "Staff saw it",
    SeenBy.HOME: "Home told us: a report",
}
WENT_WORDS = {
    WentDown.FIRST: "At the first try",
    WentDown.LATER: "At a later try",
    WentDown.NO: "No",
}
WHY_WORDS = {
    WhyNot.SPAT_OUT: "Spat out",
    WhyNot.MELTED: "Chewed or melted",
    WhyNot.REFUSED: "Refused",
}
RATING_WORDS = ("1, very hard", "2, hard", "3, in between", "4, easy", "5, very easy")
_KNOWN = (("", "Not known"), ("yes", "Yes"), ("no", "No"))


class BeginForm(forms.Form):
    """Begins a follow-up; the position may be left open."""

    used = forms.ChoiceField(label="Position to be used today", required=False)

    def __init__(self, *args: Any, positions: Sequence[Position], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["used"].choices = _positions("Not decided yet", positions)  # type: ignore[attr-defined]

    def position(self) -> Position | None:
        """Give what was chosen; call it on a valid form."""
        return Position(self.cleaned_data["used"]) if self.cleaned_data["used"] else None


class FirstDoseForm(forms.Form):
    """What the first real dose was, and how it went."""

    given_on = forms.DateField(
        label="Day of the dose",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    seen_by = forms.ChoiceField(
        label="Who saw it", widget=forms.RadioSelect, choices=[*SEEN_WORDS.items()]
    )
    position = forms.ChoiceField(label="Position that was used", required=False)
    kind = forms.ChoiceField(label="What it was", choices=[("", "Choose"), *KIND_WORDS.items()])
    shape = forms.ChoiceField(label="Its shape", choices=[("", "Choose"), *SHAPE_WORDS.items()])
    largest_mm = forms.FloatField(
        label="Its largest dimension, mm",
        help_text="As the pharmacist measured it. No name of the medicine is asked for or kept.",
        min_value=0.5,
        max_value=LARGEST_MM,
        widget=forms.NumberInput(attrs={"step": "0.1", "inputmode": "decimal"}),
    )
    went_down = forms.ChoiceField(
        label="Whether it went down", widget=forms.RadioSelect, choices=[*WENT_WORDS.items()]
    )
    why_not = forms.ChoiceField(
        label="If not, why", choices=[("", "Not known"), *WHY_WORDS.items()], required=False
    )
    rating = forms.TypedChoiceField(
        label="How easy it felt, if it was asked",
        coerce=int,
        empty_value=None,
        choices=[("", "Not asked"), *enumerate(RATING_WORDS, start=1)],
        required=False,
    )
    whole = forms.ChoiceField(label="Whole", choices=_KNOWN, required=False)
    unchewed = forms.ChoiceField(label="Unchewed", choices=_KNOWN, required=False)
    unaided = forms.ChoiceField(
        label="Unaided", choices=_KNOWN, required=False, help_text="Nobody helped but with words."
    )

    def __init__(
        self, *args: Any, positions: Sequence[Position], today: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"].choices = _positions("Nobody knows", positions)  # type: ignore[attr-defined]
        self.fields["given_on"].widget.attrs["max"] = today.isoformat()

    def goes_through(self, do: Callable[[FirstDose], object], *, code: str, course: int) -> bool:
        """Do something with the dose, and keep every refusal where the form's own faults stand.

        Parameters
        ----------
        do : callable
            Called with the dose if the form itself has no fault.
        code : str
            The trainee's code.
        course : int
            Number of the course.

        Returns
        -------
        bool
            True where nothing was refused.
        """
        if not self.is_valid():
            return False
        try:
            do(self._dose(code, course))
        except Refused as refused:
            for problem in refused.problems:
                field = problem.where if problem.where in self.fields else None
                what = problem.what[:1].upper() + problem.what[1:]
                self.add_error(field, f"{what}. {problem.remedy}")
            return False
        return True

    def _dose(self, code: str, course: int) -> FirstDose:
        said = self.cleaned_data
        return FirstDose(
            trainee=code,
            course=course,
            given_on=said["given_on"],
            position=Position(said["position"]) if said["position"] else None,
            kind=DoseKind(said["kind"]),
            shape=Shape(said["shape"]),
            largest_mm=said["largest_mm"],
            seen_by=SeenBy(said["seen_by"]),
            went_down=WentDown(said["went_down"]),
            why_not=WhyNot(said["why_not"]) if said["why_not"] else None,
            rating=said["rating"],
            **{name: _known(said[name]) for name in ("whole", "unchewed", "unaided")},
        )


def _positions(blank: str, positions: Sequence[Position]) -> list[tuple[str, str]]:
    return [("", blank), *((str(each), HEAD_WORDS[each].name) for each in positions)]


def _known(said: str) -> bool | None:
    return {"yes": True, "no": False}.get(said)
