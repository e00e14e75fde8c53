"""What pages of practice send, as values: nights as JSON or as a plain form, events, signatures."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from sidelong.clinic.practice.models import ALL_THE_SAME
from sidelong.clinic.practice.passwords import PasswordForm
from sidelong.clinic.practice.typed import TypedCell, TypedNight, read_cell_text
from sidelong.clinic.practice.words import ANSWER_WORDS, DECISION_WORDS, TIER_WORDS
from sidelong.paper.heads import HEAD_WORDS
from sidelong.problems import Problem, Refused
from sidelong.training.position import Position

_MOST_NIGHTS = 40
_LONGEST = 40
_TEXTS = ("felt_best", "evening", "written", "not_done", "piece_mm", "scale", "rated_by")
_CELL = ("rating", "went_down", "why_not")
_SAME = {"same", "all the same", "0", ALL_THE_SAME}


def read_nights_json(body: bytes) -> tuple[TypedNight, ...]:
    """Read nights as the grid's script sends them.

    Parameters
    ----------
    body : bytes
        JSON; a list of nights under ``nights``.

    Returns
    -------
    tuple of TypedNight
        As typed; nothing is checked yet but their shape.

    Raises
    ------
    Refused
        If it has another shape.
    """
    try:
        return tuple(_night(each) for each in _few(json.loads(body)["nights"]))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise Refused([_wrong_shape()]) from error


def read_nights_form(
    sent: Mapping[str, str], *, orders: Mapping[int, Sequence[Position]]
) -> tuple[TypedNight, ...]:
    """Read nights from the form, which works without a script.

    Parameters
    ----------
    sent : mapping of str to str
        Fields of the form.
    orders : mapping of int to sequence of Position
        Order of the cells, by number of the sheet.

    Returns
    -------
    tuple of TypedNight
        Every night that the form holds.

    Raises
    ------
    Refused
        If a field has another shape.
    """
    nights = []
    for night, order in orders.items():
        start = f"n{night}"
        if f"{start}base" not in sent:
            continue
        cells = tuple(
            read_cell_text(_short(sent.get(f"{start}s{slot}", "")))
            for slot in range(1, len(order) + 1)
        )
        texts: dict[str, Any] = {
            name: _short(sent.get(f"{start}{name}", "").strip()) for name in _TEXTS
        }
        texts["felt_best"] = _best(texts["felt_best"], order)
        base = sent[f"{start}base"]
        if not base.isdecimal():
            raise Refused([_wrong_shape()])
        nights.append(TypedNight(night=night, base=int(base), cells=cells, **texts))
    return tuple(nights)


class EventForm(forms.Form):
    """What happened, when, and in which position."""

    night = forms.TypedChoiceField(coerce=int, label="Night")
    tier = forms.ChoiceField(
        label="What happened",
        choices=[("", "Choose"), *((str(tier), words) for tier, words in TIER_WORDS.items())],
    )
    position = forms.ChoiceField(label="Position", required=False)

    def __init__(
        self, *args: Any, n_nights: int, positions: Sequence[Position], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        nights = [(str(night), str(night)) for night in range(1, n_nights + 1)]
        self.fields["night"].choices = [("", "Choose"), *nights]  # type: ignore[attr-defined]
        self.fields["position"].choices = [  # type: ignore[attr-defined]
            ("", "Nobody knows: this closes every position"),
            *((str(each), HEAD_WORDS[each].name) for each in positions),
        ]


class AnswerForm(forms.Form):
    """What a clinician says about an event that locked practice."""

    answer = forms.ChoiceField(
        label="Your answer",
        widget=forms.RadioSelect,
        choices=[(str(each), words) for each, words in ANSWER_WORDS.items()],
    )


class SignForm(PasswordForm):
    """A decision, and the signer's password once more."""

    field_order = ("seen", "decision", "position", "password")
    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)
    decision = forms.ChoiceField(
        label="Your decision",
        widget=forms.RadioSelect,
        choices=[(str(each), words) for each, words in DECISION_WORDS.items()],
    )
    position = forms.ChoiceField(label="Position", required=False)

    def __init__(self, *args: Any, positions: Sequence[Position], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"].choices = [  # type: ignore[attr-defined]
            ("", "None was chosen"),
            *((str(each), HEAD_WORDS[each].name) for each in positions),
        ]


def _few(nights: Sequence[Any]) -> Sequence[Any]:
    if not 0 < len(nights) <= _MOST_NIGHTS:
        raise ValueError
    return nights


def _night(plain: Mapping[str, Any]) -> TypedNight:
    cells = plain["cells"]
    if len(cells) > len(Position):
        raise ValueError
    texts: dict[str, Any] = {name: _text(plain[name]) for name in _TEXTS}
    return TypedNight(
        night=_whole(plain["night"]),
        base=_whole(plain["base"]),
        cells=tuple(TypedCell(**{name: _text(each[name]) for name in _CELL}) for each in cells),
        **texts,
    )


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 10_000:
        raise ValueError
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return _short(value)


def _short(text: str) -> str:
    # Longer than any answer: what is shown again in a fault stays short.
    return text[:_LONGEST]


def _best(text: str, order: Sequence[Position]) -> str:
    """Read the night's best: a position, its place in the order, or "all the same"."""
    said = text.casefold()
    if said in _SAME:
        return ALL_THE_SAME
    if said.isdecimal() and 1 <= int(said) <= len(order):
        return str(order[int(said) - 1])
    return said


def _wrong_shape() -> Problem:
    return Problem("nights", "they cannot be read", "Load the page again.", "nights")
