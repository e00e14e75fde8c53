"""What pages of sheets send, as values."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django import forms

from sidelong.clinic.practice.evening import NotDone

_PREFIX, _TOGETHER = "said", "guesses"
_NOTE = "note"

NOT_DONE_WORDS = {
    NotDone.ILL: "ill",
    NotDone.TIRED: "tired",
    NotDone.AWAY: "away",
    NotDone.FORGOTTEN: "forgotten",
    NotDone.NO_WISH: "no wish to",
    NotDone.OTHER: "other, or not said",
}


class ConfirmForm(forms.Form):
    """A sheet on its way to become a night."""

    evening = forms.DateField(
        label="Date on the sheet",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    not_done = forms.ChoiceField(
        label="Why nobody practised",
        required=False,
        choices=[(str(each), words) for each, words in NOT_DONE_WORDS.items()],
    )
    replaces = forms.BooleanField(required=False)

    @property
    def evening_text(self) -> str:
        """The date as :class:`sidelong.clinic.practice.typed.TypedNight` takes it."""
        given = self.cleaned_data["evening"]
        return given.isoformat() if given else ""


def field_name(sheet: int, field: str) -> str:
    """Name the choice of one field in a form."""
    return f"{_PREFIX}-{sheet}-{field}"


def guesses_name(number: int) -> str:
    """Name the choice that takes all likely guesses of a group for right."""
    return f"{_TOGETHER}-{number}"


def write_guesses(guesses: Iterable[tuple[int, str, str]]) -> str:
    """Write sheets, fields and values as one choice; none of them has a space or these signs."""
    return " ".join(f"{sheet}:{field}={value}" for sheet, field, value in guesses)


def said_in_form(sent: Mapping[str, str]) -> Iterator[tuple[int, str, str]]:
    """Read the answers of a form.

    Parameters
    ----------
    sent : mapping of str to str
        Fields of the form.

    Yields
    ------
    tuple of (int, str, str)
        Sheet, field, value; empty for nothing marked.
    """
    for name, value in sent.items():
        prefix, _, rest = name.partition("-")
        sheet, _, field = rest.partition("-")
        if prefix == _PREFIX and sheet.isdecimal():
            yield int(sheet), field, value
        if prefix == _TOGETHER and rest.isdecimal():
            yield from _read_guesses(value)


def _read_guesses(value: str) -> Iterator[tuple[int, str, str]]:
    for guess in value.split():
        sheet, _, rest = guess.partition(":")
        field, _, guessed = rest.partition("=")
        if sheet.isdecimal():
            yield int(sheet), field, guessed


@dataclass(frozen=True)
class NoteSent:
    """What was typed of one area written by hand, and what stood there when the page was made."""

    sheet: int
    area: str
    text: str
    was: str
    base: int

    @property
    def is_changed(self) -> bool:
        """Whether anybody touched it; what was not is left to whoever changed it meanwhile."""
        return self.text.split() != self.was.split()


def notes_in_form(sent: Mapping[str, str]) -> Iterator[NoteSent]:
    """Read what was typed of areas written by hand.

    Parameters
    ----------
    sent : mapping of str to str
        Fields of the form: ``note-12-note.0``, and ``was-`` and ``base-`` of the same.

    Yields
    ------
    NoteSent
        Also where nothing was changed.
    """
    for name, text in sent.items():
        prefix, _, rest = name.partition("-")
        sheet, _, area = rest.partition("-")
        if prefix == _NOTE and sheet.isdecimal():
            base = sent.get(f"base-{rest}", "")
            was = sent.get(f"was-{rest}", "")
            yield NoteSent(int(sheet), area, text, was, int(base) if base.isdecimal() else 0)


class SpareForm(forms.Form):
    """Which night a spare sheet stands for."""

    night = forms.IntegerField(label="Stands for night", min_value=1, max_value=95)
