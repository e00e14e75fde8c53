"""What the report says about the nights themselves: kept, missing, and when they were written.

Facts without blame: a missing night or a late entry is stated, counted and left at that.
"""

from collections import Counter
from collections.abc import Sequence

from sidelong.paper.charts import NightState, NightStrip
from sidelong.paper.language import Language, message
from sidelong.paper.report import Section
from sidelong.pathway.report_words import listed
from sidelong.training.entry import Entry, Written
from sidelong.training.estimate import Estimate

_WRITTEN = {
    Written.SAME_EVENING: message("the same evening"),
    Written.NEXT_DAY: message("the next day"),
    Written.LATER: message("later"),
    None: message("not said"),
}


def answered_nights(entries: Sequence[Entry]) -> dict[int, Entry]:
    """Find the nights with at least one answer, by sheet number."""
    return {
        entry.night: entry
        for entry in entries
        if any(row.rating is not None or row.went_down is not None for row in entry.rows)
    }


def compose_strip(
    estimate: Estimate, entries: Sequence[Entry], language: Language
) -> tuple[Section, NightStrip]:
    """Say which nights were written down, and when.

    Parameters
    ----------
    estimate : Estimate
        What is said of the trainee.
    entries : sequence of Entry
        The trainee's nights.
    language : Language
        Where the sentences come from.

    Returns
    -------
    Section
        Nights used, nights missing, when they were written.
    NightStrip
        A box for every planned night.
    """
    answered = answered_nights(entries)
    n_positions = len(estimate.positions)
    nights = range(1, estimate.nights_planned + 1)
    missing = [night for night in nights if night not in answered]
    states = tuple(_state(answered.get(night), n_positions) for night in nights)
    used = language.count(
        "{used} of {planned} planned night was used.",
        "{used} of {planned} planned nights were used.",
        estimate.nights_planned,
    ).format(used=estimate.nights_used, planned=estimate.nights_planned)
    sentences = [used, _missing_words(missing, language)]
    if answered:
        sentences.append(_written_words(list(answered.values()), language))
    legend = (
        ("full", language.say("all positions")),
        ("part", language.say("some positions")),
        ("none", language.say("nothing written")),
    )
    alt = f"{used} {_missing_words(missing, language)}"
    section = Section(language.say("The nights"), tuple(sentences))
    return section, NightStrip(alt, states, legend)


def _state(entry: Entry | None, n_positions: int) -> NightState:
    if entry is None:
        return "none"
    told = sum(row.rating is not None or row.went_down is not None for row in entry.rows)
    return "full" if told >= n_positions else "part"


def _missing_words(missing: Sequence[int], language: Language) -> str:
    if not missing:
        return language.say("No night is missing.")
    said = language.count(
        "Nothing is written for night {nights}.",
        "Nothing is written for nights {nights}.",
        len(missing),
    )
    return said.format(nights=spans_of(missing, language))


def spans_of(nights: Sequence[int], language: Language) -> str:
    """Shorten an ascending row of numbers: 2, 5 to 9 and 14."""
    spans: list[list[int]] = []
    for night in nights:
        if spans and night == spans[-1][1] + 1:
            spans[-1][1] = night
        else:
            spans.append([night, night])
    parts = []
    for first, last in spans:
        if last - first >= 2:
            parts.append(language.say("{first} to {last}").format(first=first, last=last))
        else:
            parts += [str(night) for night in range(first, last + 1)]
    return listed(parts, language)


def _written_words(entries: Sequence[Entry], language: Language) -> str:
    counted = Counter(entry.written for entry in entries)
    parts = [
        language.say("{when} {n}").format(when=language.say(words), n=counted[when])
        for when, words in _WRITTEN.items()
        if counted[when]
    ]
    said = language.say(
        "When the nights were written down: {parts}. A plain fact; nobody is to blame."
    )
    return said.format(parts=listed(parts, language))
