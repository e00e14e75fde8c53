"""Sentences that a family reads, as a protocol carries them.

The shipped sentences are keys of the message catalogue. A site that rewords one may bring its
own translations; where it brings none, the catalogue is asked, and where that has none either,
the sentence is shown as the site wrote it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from string import Formatter

from sidelong.problems import Problem, Refused

READERS = ("child", "teen", "adult")
# Numbers of the protocol that a sentence may name in braces, so that one edit changes both.
FILL_INS = ("minutes_trying", "minutes_upright", "tries", "failed_positions")


@dataclass(frozen=True)
class FamilyText:
    """One sentence, or a few that belong together.

    Parameters
    ----------
    text : str
        The sentence in the protocol's first language; the key in the message catalogue.
    translated : tuple of (str, str)
        The site's own translations: language tag and sentence, by tag.
    said_to : tuple of (str, str)
        Other wordings for some readers: ``child``, ``teen`` or ``adult``, and the sentence; the
        catalogue translates them.

    Raises
    ------
    Refused
        If a sentence is empty or a language is given twice.
    """

    text: str
    translated: tuple[tuple[str, str], ...] = ()
    # Came later: a text without it keeps the fingerprint under which it was signed.
    said_to: tuple[tuple[str, str], ...] = field(default=(), metadata={"later": True})

    def __post_init__(self) -> None:
        """Refuse a sentence that says nothing."""
        faults = []
        if not self.text.strip():
            remedy = "Write the sentence, or take the entry out."
            faults.append(Problem("text", "the sentence is empty", remedy, "protocol"))
        tags = [tag for tag, _ in self.translated]
        for tag, text in self.translated:
            if not tag or not text.strip():
                remedy = "Write the translation, or take it out."
                faults.append(Problem(f"translated.{tag}", "it is empty", remedy, "protocol"))
        if len(set(tags)) != len(tags):
            remedy = "Keep one translation a language."
            faults.append(Problem("translated", "a language is given twice", remedy, "protocol"))
        for reader, text in self.said_to:
            if reader not in READERS or not text.strip():
                remedy = f"Write a sentence for {', '.join(READERS)}, or take it out."
                faults.append(Problem(f"said_to.{reader}", "nobody reads it", remedy, "protocol"))
        for text in (self.text, *dict(self.translated).values(), *dict(self.said_to).values()):
            faults += _brace_faults(text)
        if faults:
            raise Refused(faults)

    def said(
        self,
        tag: str,
        *,
        say: Callable[[str], str],
        numbers: Mapping[str, int] | None = None,
        to: str = "",
    ) -> str:
        """Give the sentence in a language: the site's own words first, then the catalogue's.

        Parameters
        ----------
        tag : str
            BCP 47 tag.
        say : callable
            The catalogue of that language.
        numbers : mapping of str to int or None
            The protocol's `numbers`, put where the sentence names them in braces.
        to : str
            ``child``, ``teen`` or ``adult``; empty for the sentence that is said to all.

        Returns
        -------
        str
            The sentence.
        """
        own = dict(self.said_to).get(to)
        sentence = say(own) if own else dict(self.translated).get(tag) or say(self.text)
        return sentence if numbers is None else sentence.format_map(numbers)


def _brace_faults(text: str) -> list[Problem]:
    """Find braces that no number of the protocol fills."""
    try:
        named = [name for _, name, _, _ in Formatter().parse(text) if name is not None]
    except ValueError:
        named = ["{"]
    unknown = sorted(set(named) - set(FILL_INS))
    if not unknown:
        return []
    what = f"nothing fills {', '.join(unknown) or 'the empty braces'}"
    remedy = f"Use one of {', '.join(FILL_INS)}, or no braces."
    return [Problem("text", what, remedy, "protocol")]
