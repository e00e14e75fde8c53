"""How firm the answer is: against centre, by whose evenings, and what more of them might change.

All of it is rough on purpose: tenths, and a rise in whole points. Nothing is said where the figures
failed their check, and nothing of it is a promise.
"""

from math import floor

from sidelong.paper.language import Language
from sidelong.paper.report import Section, WordTable
from sidelong.pathway.report_words import percent, position_name, rough_percent, tenths_of_cases
from sidelong.training.estimate import Estimate, FurtherNights, PositionEstimate
from sidelong.training.position import Position

_HARDLY = 0.03
"""Rise of a chance below which more evenings would hardly make the answer surer."""


def compose_outlook(estimate: Estimate, language: Language) -> WordTable | None:
    """Say how much rests on own evenings, and how likely each position is easier than centre.

    Parameters
    ----------
    estimate : Estimate
        What is said of the trainee.
    language : Language
        Where the sentences come from.

    Returns
    -------
    WordTable or None
        A column for each position; None where there is nothing to compare. Without rows where
        centre may not be suggested, or where the figures failed their check.
    """
    heading = language.say("How firm the answer is")
    columns = ("", *(position_name(each.position, language) for each in estimate.positions))
    n_open = sum(each.may_recommend for each in estimate.positions)
    if n_open < 2 or not estimate.nights_used:
        return None
    if not estimate.is_trusted:
        said = language.say("Not worked out: a check of the figures did not come out right.")
        return WordTable(heading, (said,), columns, ())
    if estimate.own_share is None and not estimate.p_better:
        return None
    return WordTable(
        heading, _share_words(estimate, language), columns, _better_rows(estimate, language)
    )


def compose_further(estimate: Estimate, language: Language) -> Section | None:
    """Say what more evenings might change; None where that is no question."""
    further = estimate.further
    if further is None or not estimate.is_trusted:
        return None
    heading = language.count(
        "What {n} more evening might change", "What {n} more evenings might change", further.nights
    )
    sentences = (
        f"{_another_words(further, language)} {_rise_words(further, language)}",
        language.say(
            "This is worked out from the answers so far. It is not a promise, and more evenings "
            "ask more of you too."
        ),
    )
    return Section(heading.format(n=further.nights), sentences)


def better_than_centre_words(estimate: Estimate, language: Language) -> list[str]:
    """Compare the suggested position with centre, where that is not said already."""
    suggested = estimate.suggested
    n_open = sum(each.may_recommend for each in estimate.positions)
    if suggested is None or suggested is Position.CENTRE or n_open < 3 or not estimate.is_trusted:
        return []
    chance = estimate.better_than_centre(suggested)
    if chance is None:
        return []
    said = language.say("The chance that it is easier for you than {centre} is {percent}.")
    centre = position_name(Position.CENTRE, language)
    return [said.format(centre=centre, percent=percent(chance, language))]


def _share_words(estimate: Estimate, language: Language) -> tuple[str, ...]:
    if estimate.own_share is None:
        return ()
    said = language.say(
        "Your own evenings carry {share} of this comparison. The rest is what is taken to hold for "
        "everyone."
    )
    return (said.format(share=rough_percent(estimate.own_share, language)),)


def _better_rows(estimate: Estimate, language: Language) -> tuple[tuple[str, ...], ...]:
    if not estimate.p_better:
        return ()
    centre = position_name(Position.CENTRE, language)
    head = language.say("chance to be easier than {centre}").format(centre=centre)
    pairs = zip(estimate.positions, estimate.p_better, strict=True)
    return ((head, *(_better_cell(each, chance, language) for each, chance in pairs)),)


def _better_cell(each: PositionEstimate, chance: float | None, language: Language) -> str:
    if chance is not None:
        return percent(chance, language)
    return "–" if each.may_recommend else language.say("not suggested")


def _another_words(further: FurtherNights, language: Language) -> str:
    said = language.count(
        "After {n} more evening like these another position would come out ahead in {cases}.",
        "After {n} more evenings like these another position would come out ahead in {cases}.",
        further.nights,
    )
    return said.format(n=further.nights, cases=tenths_of_cases(further.another, language))


def _rise_words(further: FurtherNights, language: Language) -> str:
    if further.rise < _HARDLY:
        return language.say("The answer would hardly be surer.")
    points = floor(further.rise * 100 + 0.5)
    said = language.count(
        "The chance that the one ahead is the easiest would grow by about {points} in 100.",
        "The chance that the one ahead is the easiest would grow by about {points} in 100.",
        points,
    )
    return said.format(points=points)
