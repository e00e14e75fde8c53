"""Forms of a trainee's way: they turn what was typed into values, and hold no tables."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django import forms

from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.look import name_language, say_piece
from sidelong.clinic.protocols.queries import SiteRules
from sidelong.clinic.trainees.actions import WhyClosed
from sidelong.clinic.trainees.visit import Seen, SeenPiece, SeenWater, TeachingVisit
from sidelong.paper.gate_words import CHANGE_WORDS, LIMIT_WORDS
from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import known_languages
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Audience, Edition
from sidelong.problems import Refused
from sidelong.training.entry import Scale
from sidelong.training.gates import Gate, PlanChange
from sidelong.training.piece import IngredientLimit, fit_limits
from sidelong.training.position import Position, in_listed_order
from sidelong.training.readiness import Limits
from sidelong.training.referral import Decided, Decision, PieceForm, Referral

_DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
_FORMS = (
    (PieceForm.HARD_SUGAR, "Small hard sugar pieces"),
    (PieceForm.OTHER, "Another kind of piece"),
)


class RefusableForm(forms.Form):
    """A form that shows the refusals of the rooms below where its own faults stand."""

    def goes_through(self, do: Callable[[], object]) -> bool:
        """Do something with what was typed, and keep every fault that is found in it.

        Parameters
        ----------
        do : callable
            Called if the form itself has no fault.

        Returns
        -------
        bool
            True where nothing was refused.
        """
        if not self.is_valid():
            return False
        try:
            do()
        except Refused as refused:
            for problem in refused.problems:
                self.add_error(None, str(problem))
            return False
        return True


class CloseForm(RefusableForm):
    """Why a course ends."""

    why = forms.ChoiceField(
        label="Why it ends",
        widget=forms.RadioSelect,
        choices=(
            (str(WhyClosed.FINISHED), "Finished: the follow-up was held"),
            (str(WhyClosed.STOPPED), "Stopped before its end"),
            (str(WhyClosed.LOST), "Lost to follow-up: nobody could be reached"),
        ),
    )


class ReferralForm(RefusableForm):
    """What comes with a referral; names go to the identities, all else under the code."""

    given_names = forms.CharField(max_length=80)
    family_name = forms.CharField(max_length=80)
    birth_date = forms.DateField(widget=_DAY)
    supporter_name = forms.CharField(
        label="Adult at home who will be present", max_length=80, required=False
    )
    phone = forms.CharField(max_length=40, required=False)
    email = forms.EmailField(required=False)
    site = forms.ChoiceField()
    language = forms.ChoiceField(label="Language of the family")
    form = forms.ChoiceField(label="Kind of piece that is meant", choices=_FORMS)
    referred = forms.DateField(label="Day of the referral", widget=_DAY)

    def __init__(
        self,
        *args: Any,
        sites: Mapping[str, str],
        languages: Sequence[str],
        today: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self._today = today
        self.fields["site"] = forms.ChoiceField(choices=list(sites.items()))
        self.fields["language"] = forms.ChoiceField(
            label="Language of the family",
            choices=[(each, name_language(each)) for each in languages],
        )
        self.fields["referred"].initial = today
        self.fields["birth_date"].widget.attrs["max"] = today.isoformat()

    def clean_birth_date(self) -> date:
        """Refuse a birth date after today."""
        born: date = self.cleaned_data["birth_date"]
        if born > self._today:
            raise forms.ValidationError("The birth date is after today.")
        return born

    def identity(self) -> Identity:
        """Make the identity, which is kept sealed and apart from everything else."""
        names = ("given_names", "family_name", "birth_date", "supporter_name", "phone", "email")
        return Identity(**{name: self.cleaned_data[name] for name in names})

    def referral(self) -> Referral:
        """Make what is kept under the code, which is still to be drawn."""
        typed = self.cleaned_data
        return Referral(
            trainee="to be drawn",
            site=typed["site"],
            age_years=self.identity().completed_years(self._today),
            language=typed["language"],
            form=PieceForm(typed["form"]),
            referred=typed["referred"],
        )


class ChangeForm(RefusableForm):
    """What has changed since the referral: a visit, an illness, a new medicine, the age."""

    age_years = forms.IntegerField(label="Age in completed years", min_value=0, max_value=120)
    form = forms.ChoiceField(label="Kind of piece that is meant", choices=_FORMS)
    last_change = forms.DateField(
        label="Day of the last illness, visit elsewhere or new medicine",
        help_text="Decisions from before this day are open again.",
        widget=_DAY,
        required=False,
    )


class DecisionForm(RefusableForm):
    """What a clinician decides, about one gate or about practice as a whole."""

    decided = forms.ChoiceField(label="Decision", widget=forms.RadioSelect)
    reason = forms.CharField(
        max_length=500, help_text="Why; no names. It stands beside the decision."
    )
    role = forms.CharField(
        label="Your role", max_length=80, help_text="For example: swallowing specialist."
    )
    decided_on = forms.DateField(label="Day of the decision", widget=_DAY)
    expires_on = forms.DateField(label="Holds until", widget=_DAY)
    gives_back = forms.MultipleChoiceField(
        label="Positions that are allowed nevertheless",
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    takes_out = forms.MultipleChoiceField(
        label="Positions that you rule out", widget=forms.CheckboxSelectMultiple, required=False
    )
    lifts = forms.MultipleChoiceField(
        label="Limits that you lift", widget=forms.CheckboxSelectMultiple, required=False
    )
    max_piece_mm = forms.FloatField(
        label="Largest piece allowed, mm", min_value=0.1, max_value=50, required=False
    )
    water_ml = forms.FloatField(
        label="Water allowed for an evening, mL", min_value=1, max_value=2000, required=False
    )

    def __init__(
        self,
        *args: Any,
        gate: Gate | None,
        positions: Sequence[Position],
        today: date,
        decision_days: int,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        decided: Any = self.fields["decided"]
        decided.choices = [
            ("go", "Go"),
            ("go_with_limits", "Go, with limits"),
            ("do_not_go", "Do not go"),
        ]
        if gate is not None and gate.decides_after_stop:
            decided.choices = [*decided.choices, ("stop_ended", "What stopped it has ended")]
        self.fields["decided_on"].initial = today
        self.fields["expires_on"].initial = today + timedelta(days=decision_days)
        held = in_listed_order(gate.holds if gate else set())
        out = [each for each in positions if each is not Position.CENTRE]
        self._offer("gives_back", [(str(each), HEAD_WORDS[each].name) for each in held])
        self._offer("takes_out", [(str(each), HEAD_WORDS[each].name) for each in out])
        self._offer("lifts", list(_liftable(gate)))

    def _offer(self, name: str, choices: list[tuple[str, str]]) -> None:
        field: Any = self.fields[name]
        field.choices = choices
        if not choices:
            del self.fields[name]

    def decision(self, *, trainee: str, gate: str, decided_by: str) -> Decision:
        """Make the value of what was typed; refuses what contradicts itself."""
        typed = self.cleaned_data
        return Decision(
            trainee=trainee,
            gate=gate,
            decided=Decided(typed["decided"]),
            decided_by=decided_by,
            role=typed["role"],
            decided_on=typed["decided_on"],
            expires_on=typed["expires_on"],
            reason=typed["reason"],
            gives_back=frozenset(map(Position, typed.get("gives_back", ()))),
            takes_out=frozenset(map(Position, typed.get("takes_out", ()))),
            lifts=frozenset(map(_limit_or_change, typed.get("lifts", ()))),
            max_piece_mm=typed["max_piece_mm"],
            water_ml=typed["water_ml"],
        )


class VisitForm(RefusableForm):
    """What was seen at the teaching visit, in each position."""

    held_on = forms.DateField(label="Day of the visit", widget=_DAY)
    adult_present = forms.BooleanField(
        label="The adult who will be there at home was present and was taught too", required=False
    )
    trainee_agreed = forms.BooleanField(label="The trainee wants to practise", required=False)
    piece = forms.ChoiceField(
        label="Piece that was tried",
        help_text="The largest one, where there were several.",
        required=False,
    )
    scale = forms.ChoiceField(
        label="Form of the rating that the warm-up picked",
        required=False,
        choices=(
            ("", "the usual one of the age band"),
            ("5", "five answers"),
            ("4", "four answers"),
            ("3", "three answers"),
            ("2", "two answers"),
        ),
    )
    release = forms.BooleanField(
        label="Pieces may go home",
        help_text="Only where a piece was seen swallowed cleanly, and nothing gave cause to stop.",
        required=False,
    )

    def __init__(
        self,
        *args: Any,
        limits: Limits,
        rules: SiteRules,
        today: date,
        is_locked: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        if is_locked:
            # Sent all the same by a page from before the lock, it is refused and not overlooked.
            self.fields["release"].widget.attrs["disabled"] = True
            self.fields["release"].help_text = "Practice is locked: no piece goes home."
        self.positions = limits.positions
        self.fields["held_on"].initial = today
        for position in self.positions:
            name = HEAD_WORDS[position].name
            self.fields[f"water_{position}"] = _seen_field(f"Water, {name}", _WATER)
            self.fields[f"piece_{position}"] = _seen_field(f"Piece, {name}", _PIECE)
        pieces: Any = self.fields["piece"]
        steps = rules.ladder.steps if rules.ladder else ()
        pieces.choices = [
            ("", "none"),
            *(
                (piece.code, say_piece(piece))
                for piece in steps
                if fit_limits(piece, limits.ingredients, max_piece_mm=limits.max_piece_mm).fits
            ),
        ]

    def rows(self) -> Iterator[tuple[Position, forms.BoundField, forms.BoundField]]:
        """Give each position with its two fields.

        Yields
        ------
        tuple
            Position, water and piece.
        """
        for position in self.positions:
            yield position, self[f"water_{position}"], self[f"piece_{position}"]

    def others(self) -> list[forms.BoundField]:
        """Give the fields that stand outside the table."""
        return [each for each in self if not each.name.startswith(("water_", "piece_"))]

    def visit(self, *, trainee: str) -> TeachingVisit:
        """Make the value of what was typed; refuses what contradicts itself."""
        typed = self.cleaned_data
        return TeachingVisit(
            trainee=trainee,
            held_on=typed["held_on"],
            adult_present=typed["adult_present"],
            trainee_agreed=typed["trainee_agreed"],
            seen=tuple(
                Seen(
                    position,
                    SeenWater(typed[f"water_{position}"]),
                    SeenPiece(typed[f"piece_{position}"]),
                )
                for position in self.positions
            ),
            piece=typed["piece"],
            scale=Scale(int(typed["scale"])) if typed["scale"] else None,
        )


class IssueForm(RefusableForm):
    """When a plan begins."""

    start = forms.DateField(
        label="First evening", help_text="Where one was agreed.", widget=_DAY, required=False
    )


class BookletForm(RefusableForm):
    """For whom a booklet speaks, how large it is set, on what, and in which language."""

    audience = forms.ChoiceField(
        label="Speaks to",
        help_text="Proposed by age. Words and drawings differ, the sheets do not.",
        choices=[
            (Audience.CHILD, "a child and the adult who helps"),
            (Audience.TEEN, "a teenager"),
            (Audience.ADULT, "an adult"),
        ],
        required=False,
    )
    edition = forms.ChoiceField(
        label="Print",
        help_text="Either is read as well from a black-and-white printer.",
        choices=[
            (Edition.STANDARD, "standard, one page a night"),
            (Edition.LARGE, "large print, two pages a night"),
        ],
        required=False,
    )
    paper = forms.ChoiceField(choices=[(Paper.A4, "A4"), (Paper.LETTER, "Letter")])
    language = forms.ChoiceField()

    def __init__(self, *args: Any, language: str, audience: Audience | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        spoken = [tag for tag in known_languages() if "-X" not in tag]
        field: Any = self.fields["language"]
        field.choices = [(tag, name_language(tag)) for tag in spoken]
        field.initial = language if language in spoken else spoken[0]
        self.fields["audience"].initial = audience


_WATER = (
    (SeenWater.NOT_TRIED, "not tried"),
    (SeenWater.CLEAN, "went down cleanly"),
    (SeenWater.HURTS, "the head was not comfortable"),
    (SeenWater.SIGNS, "cough, wet voice or distress"),
)
_PIECE = (
    (SeenPiece.NOT_TRIED, "not tried"),
    (SeenPiece.CLEAN, "swallowed cleanly"),
    (SeenPiece.NOT_DOWN, "did not go down"),
    (SeenPiece.SIGNS, "cough, wet voice or distress"),
)


def _seen_field(label: str, choices: Sequence[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, initial=choices[0][0])


def _liftable(gate: Gate | None) -> Iterator[tuple[str, str]]:
    if gate is None:
        return
    limits = gate.held_limits | (gate.limits if gate.either else frozenset())
    for limit in IngredientLimit:
        if limit in limits:
            yield str(limit), LIMIT_WORDS[limit]
    for change in PlanChange:
        if gate.either and change in gate.changes:
            yield str(change), CHANGE_WORDS[change]


def _limit_or_change(word: str) -> IngredientLimit | PlanChange:
    return IngredientLimit(word) if word in set(IngredientLimit) else PlanChange(word)
