"""The message catalogue: every sentence that a family reads passes through here.

English is the source language, so the sentence itself is the key. Templates hold no words; they
are handed sentences that went through a catalogue. Two pseudo-languages, named as in the Unicode
CLDR, show what was forgotten: `en-XA` puts accents on the letters and lengthens the sentence,
`ar-XB` sets Arabic letters for Latin ones, so that lines run right to left and letters join. Both
are for checks only; neither is a language.
"""

import gettext
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from importlib.resources import as_file, files

from sidelong.problems import Problem, Refused

SOURCE = "en"
PSEUDO = ("en-XA", "ar-XB")
_RIGHT_TO_LEFT = ("ar", "fa", "he", "ur")
_ACCENTS = str.maketrans("aeiouyAEIOUYcnsz", "áéíóúýÁÉÍÓÚÝçñšž")
_ARABIC = str.maketrans("abcdefghijklmnopqrstuvwxyz?,;", "ابثدهفغحيجكلمنوپقرستعڤوخيز؟،؛")
_ISOLATE_LTR, _END_ISOLATE = "\u2066", "\u2069"  # Unicode UAX 9: first strong has no say inside


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
        return runs_right_to_left(self.tag)

    def number(self, text: str) -> str:
        """Keep a number, its unit or a code in its own order inside lines of either direction."""
        return f"{_ISOLATE_LTR}{text}{_END_ISOLATE}" if text and self.is_right_to_left else text

    def day(self, day: date) -> str:
        """Say a day as a sentence does, with the month by its name.

        Parameters
        ----------
        day : date
            The day.

        Returns
        -------
        str
            For example ``29 November 2026``; each language has its own order.
        """
        month = self.say(_MONTHS[day.month - 1])
        # Translators: a date, for example 29 November 2026.
        return self.say("{day} {month} {year}").format(day=day.day, month=month, year=day.year)


def runs_right_to_left(tag: str) -> bool:
    """Tell whether lines of a language run from right to left, also of one without a catalogue."""
    return tag.split("-")[0] in _RIGHT_TO_LEFT


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
        pseudo = _lengthened if tag == "en-XA" else _in_arabic_letters
        return Language(tag, pseudo, lambda one, many, n: pseudo(one if n == 1 else many))
    if tag not in known_languages():
        real = [each for each in known_languages() if each not in PSEUDO]
        remedy = f"Use {' or '.join(real)}."
        raise Refused(
            [Problem("language", f'there is no catalogue for "{tag}"', remedy, "language")]
        )
    with as_file(files("sidelong.paper") / "locale") as folder:
        found = gettext.translation("sidelong", folder, [tag.replace("-", "_")])
    return Language(tag, found.gettext, found.ngettext)


def message(sentence: str) -> str:
    """Mark a sentence for the catalogue where it is written but not yet said."""
    return sentence


_MONTHS = (
    message("January"),
    message("February"),
    message("March"),
    message("April"),
    message("May"),
    message("June"),
    message("July"),
    message("August"),
    message("September"),
    message("October"),
    message("November"),
    message("December"),
)


def _source(sentence: str) -> str:
    return sentence


def _source_count(one: str, many: str, n: int) -> str:
    return one if n == 1 else many


def _lengthened(sentence: str) -> str:
    """Accent and lengthen, leaving ``{fields}`` alone."""
    accented = (
        part if part.startswith("{") else part.translate(_ACCENTS) for part in _parts(sentence)
    )
    return f"[{''.join(accented)}{'·' * (len(sentence) // 3)}]"


def _in_arabic_letters(sentence: str) -> str:
    """Set an Arabic letter for every Latin one, leaving ``{fields}`` alone."""
    return "".join(
        part if part.startswith("{") else part.lower().translate(_ARABIC)
        for part in _parts(sentence)
    )


def _parts(sentence: str) -> list[str]:
    """Cut a sentence into words and ``{fields}``."""
    return sentence.replace("{", "\0{").replace("}", "}\0").split("\0")
