"""Forms for taking documents into use."""

from dataclasses import dataclass
from typing import Any

from django import forms

_MOST_BYTES = 2 * 1024 * 1024


@dataclass(frozen=True)
class Sent:
    """A file as it was sent: its name for messages, and its content."""

    name: str
    content: bytes


class ProtocolForm(forms.Form):
    """A signed protocol as a file."""

    file = forms.FileField(label="Signed protocol (TOML)")

    def clean_file(self) -> Sent:
        """Read the file, but for one that is too large to be right.

        Returns
        -------
        Sent
            Name and content.

        Raises
        ------
        ValidationError
            If it is too large.
        """
        sent: Any = self.cleaned_data["file"]
        if sent.size > _MOST_BYTES:
            raise forms.ValidationError("The file is larger than 2 MB. Choose the right one.")
        return Sent(sent.name, sent.read())


class LadderForm(ProtocolForm):
    """A table of pieces as a file."""

    file = forms.FileField(label="Table of pieces (CSV)")
