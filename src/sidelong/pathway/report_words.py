"""Names and numbers as a family reads them: positions, parts of ten, per cent, ratings.

A chance is never rounded to nothing or to certainty: the ends of the range are said as "over" and
"under".
"""

from collections.abc import Sequence
from math import floor

from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import Language, message
from sidelong.training.estimate import Verdict
from sidelong.training.position import Position

_NO_BREAK = "\u00a0"
_RATINGS = (
    message("very hard"),
    message("hard"),
    message("in between"),
    message("easy"),
    message("very easy"),
)
_VERDICTS = {
    Verdict.CLEAR: message("one is ahead"),
    Verdict.LIKELY: message("one is probably ahead"),
    Verdict.TOO_CLOSE: message("too close to call"),
    Verdict.ALL_WORK: message("all work"),
    Verdict.INSUFFICIENT: message("not enough yet"),
}


def position_name(position: Position, language: Language) -> str:
    """Name a position as the booklet does."""
    return language.say(HEAD_WORDS[position].name)


def rating_word(rating: float, language: Language) -> str:
    """Say the nearest of the five answers for a rating within 1..5."""
    return language.say(_RATINGS[min(4, max(0, floor(rating - 0.5)))])


def verdict_word(verdict: Verdict, language: Language) -> str:
    """Say a verdict in a few words, for a table."""
    return language.say(_VERDICTS[verdict])


def rating_figure(rating: float) -> str:
    """Give a rating to one digit."""
    return f"{rating:.1f}"


def percent(chance: float, language: Language) -> str:
    """Say a chance in [0, 1] in whole per cent, never as none and never as all."""
    if chance >= 0.995:
        return language.say("over {percent}").format(percent=_percent_figure(99, language))
    if chance < 0.005:
        return language.say("under {percent}").format(percent=_percent_figure(1, language))
    return _percent_figure(floor(chance * 100 + 0.5), language)


def _percent_figure(whole: int, language: Language) -> str:
    said = language.say("{percent} %").format(percent=whole)
    return language.number(said.replace(" ", _NO_BREAK))


def pieces_of_ten(chance: float, language: Language) -> str:
    """Say a chance in [0, 1] as pieces out of ten, never as none and never as all."""
    if chance >= 0.95:
        return language.say("more than 9 of 10 pieces")
    if chance < 0.05:
        return language.say("fewer than 1 of 10 pieces")
    tenths = floor(chance * 10 + 0.5)
    said = language.count("about {n} of 10 pieces", "about {n} of 10 pieces", tenths)
    return said.format(n=tenths)


def rough_percent(share: float, language: Language) -> str:
    """Say a share in [0, 1] in tens of per cent, never as none and never as all."""
    tens = floor(share * 10 + 0.5)
    if tens < 1:
        return language.say("under {percent}").format(percent=_percent_figure(10, language))
    if tens > 9:
        return language.say("over {percent}").format(percent=_percent_figure(90, language))
    return language.say("about {percent}").format(percent=_percent_figure(10 * tens, language))


def tenths_of_cases(chance: float, language: Language) -> str:
    """Say a chance in [0, 1] as cases out of ten, never as none and never as all."""
    tenths = floor(chance * 10 + 0.5)
    if tenths < 1:
        return language.say("fewer than 1 of 10 such cases")
    if tenths > 9:
        return language.say("more than 9 of 10 such cases")
    said = language.count("about {n} of 10 such cases", "about {n} of 10 such cases", tenths)
    return said.format(n=tenths)


def listed(parts: Sequence[str], language: Language) -> str:
    """Join one or more parts as a sentence does: a, b and c."""
    *start, last = parts
    if not start:
        return last
    first = start[0]
    for part in start[1:]:
        first = language.say("{start}, {more}").format(start=first, more=part)
    return language.say("{start} and {last}").format(start=first, last=last)


def names_of(positions: Sequence[Position], language: Language) -> str:
    """Join the names of one or more positions."""
    return listed([position_name(each, language) for each in positions], language)
