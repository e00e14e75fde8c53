"""The message catalogue: every sentence that a family reads passes through here.

English is the source language, so the sentence itself is the key. Templates hold no words; they
are handed sentences that went through a catalogue. Two pseudo-languages, named as in the Unicode
CLDR, show what was forgotten: `en-XA` puts accents on every letter and lengthens the sentence,
`ar-XB` runs it right to left. Both are for checks only.
"""

import gettext
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import as_file, files

from sidelong.problems import Problem, Refused

SOURCE = "en"
PSEUDO = ("en-XA", "ar-XB")
_RIGHT_TO_LEFT = ("ar", "fa", "he", "ur")
_ACCENTS = str.maketrans("aeiouyAEIOUYcnsz", "áéíóúýÁÉÍÓÚÝçñšž")


@dataclass(frozen=True)
class Language:
    """One language of the catalogue.

    Parameters
    ----------
    tag : str
        BCP 47 tag, for example ``en``.
    say : callable
        Translates one sentence; returns it unchanged where the catalogue has none.
    count : callable
        Translates a sentence that depends on a number: singular, plural, number.
    """

    tag: str
    say: Callable[[str], str]
    count: Callable[[str, str, int], str]

    @property
    def is_right_to_left(self) -> bool:
        """Whether lines run from right to left."""
        return self.tag.split("-")[0] in _RIGHT_TO_LEFT


def known_languages() -> tuple[str, ...]:
    """List the tags that :func:`read_language` accepts, the source language first."""
    folder = files("sidelong.paper") / "locale"
    found = (child.name for child in folder.iterdir() if child.is_dir()) if folder.is_dir() else ()
    return (SOURCE, *sorted(tag for tag in found if tag != SOURCE), *PSEUDO)


def read_language(tag: str) -> Language:
    """Open the catalogue of one language.

    Parameters
    ----------
    tag : str
        BCP 47 tag.

    Returns
    -------
    Language
        Ready to use.

    Raises
    ------
    Refused
        If there is no catalogue for this tag.
    """
    if tag == SOURCE:
        return Language(tag, _source, _source_count)
    if tag in PSEUDO:
        return Language(tag, _pseudo, lambda one, many, n: _pseudo(one if n == 1 else many))
    if tag not in known_languages():
        remedy = f"Use one of {', '.join(known_languages())}."
        raise Refused(
            [Problem("language", f'there is no catalogue for "{tag}"', remedy, "language")]
        )
    with as_file(files("sidelong.paper") / "locale") as folder:
        found = gettext.translation("sidelong", folder, [tag.replace("-", "_")])
    return Language(tag, found.gettext, found.ngettext)


def message(sentence: str) -> str:
    """Mark a sentence for the catalogue where it is written but not yet said."""
    return sentence


def _source(sentence: str) -> str:
    return sentence


def _source_count(one: str, many: str, n: int) -> str:
    return one if n == 1 else many


def _pseudo(sentence: str) -> str:
    """Accent and lengthen, leaving ``{fields}`` alone."""
    parts = sentence.replace("{", "\0{").replace("}", "}\0").split("\0")
    accented = (part if part.startswith("{") else part.translate(_ACCENTS) for part in parts)
    return f"[{''.join(accented)}{'·' * (len(sentence) // 3)}]"
