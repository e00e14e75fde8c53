"""Whose booklet is being written, and how its sentences are said: one value for all its pages."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sidelong.paper.heads import say_head
from sidelong.paper.language import Language
from sidelong.paper.version import Audience
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.wording import FamilyText

Page = dict[str, Any]  # words of one page, as the templates expect them


@dataclass(frozen=True)
class FamilyWords:
    """What the pages of one booklet are written from.

    Parameters
    ----------
    plan : Plan
        Whose booklet it is.
    protocol : Protocol
        The site's words and rules.
    language : Language
        Catalogue to say them in.
    audience : Audience
        For whom they are made.
    """

    plan: Plan
    protocol: Protocol
    language: Language
    audience: Audience

    def say(self, sentence: str) -> str:
        """Say one of our own sentences, already marked for the catalogue."""
        return self.language.say(sentence)

    def choose(self, child: str, teen: str, adult: str) -> str:
        """Say the one of three sentences that is made for this booklet's reader."""
        by_audience = {Audience.CHILD: child, Audience.TEEN: teen, Audience.ADULT: adult}
        return self.language.say(by_audience[self.audience])

    def said(self, texts: Iterable[FamilyText]) -> list[str]:
        """Say the protocol's sentences, its numbers filled in."""
        return [
            text.said(
                self.language.tag,
                say=self.language.say,
                numbers=self.protocol.numbers,
                to=self.audience.value,
            )
            for text in texts
        ]

    def position(self, position: Position) -> dict[str, str]:
        """Say a position in the site's words, in our own where it has none."""
        said = say_head(position, language=self.language)
        for words in self.protocol.position_words:
            if words.position is position:
                said["name"], said["how"] = self.said([words.name, words.how])
        return said

    def positions(self) -> list[dict[str, str]]:
        """Say all positions of the plan, in listed order."""
        return [self.position(position) for position in self.plan.positions]
