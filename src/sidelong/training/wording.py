"""Sentences that a family reads, as a protocol carries them.

The shipped sentences are keys of the message catalogue. A site that rewords one may bring its
own translations; where it brings none, the catalogue is asked, and where that has none either,
the sentence is shown as the site wrote it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from sidelong.problems import Problem, Refused


@dataclass(frozen=True)
class FamilyText:
    """One sentence, or a few that belong together.

    Parameters
    ----------
    text : str
        The sentence in the protocol's first language; the key in the message catalogue.
    translated : tuple of (str, str)
        The site's own translations: language tag and sentence, by tag.

    Raises
    ------
    Refused
        If a sentence is empty or a language is given twice.
    """

    text: str
    translated: tuple[tuple[str, str], ...] = ()

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
        if faults:
            raise Refused(faults)

    def said(self, tag: str, *, say: Callable[[str], str]) -> str:
        """Give the sentence in a language: the site's own words first, then the catalogue's.

        Parameters
        ----------
        tag : str
            BCP 47 tag.
        say : callable
            The catalogue of that language.

        Returns
        -------
        str
            The sentence.
        """
        return dict(self.translated).get(tag) or say(self.text)
