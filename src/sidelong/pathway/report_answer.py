"""What the report says first, and what it says to do next, for each verdict.

The words never claim more than one person's answers over two weeks can carry
(``docs/intended-use.md``): they name what was reported, how many nights it rests on, and that no
study settles the question. A position that may not be recommended is never named as a suggestion.
"""

from dataclasses import dataclass

from sidelong.paper.language import Language
from sidelong.paper.report import Answer, Section
from sidelong.pathway.report_outlook import better_than_centre_words
from sidelong.pathway.report_up import suggested_words
from sidelong.pathway.report_words import names_of, percent, pieces_of_ten, position_name
from sidelong.training.estimate import Estimate, PositionEstimate, Verdict
from sidelong.training.gate_rules import SignOff
from sidelong.training.position import Position
from sidelong.training.protocol import Success
from sidelong.training.stepping import Move

_GROUP_HOLDS = 0.8
_SELDOM = 0.6


@dataclass(frozen=True)
class NextStep:
    """A move on the ladder, and the piece that it leads to, as the report names it."""

    move: Move
    piece: str


def open_positions(estimate: Estimate) -> tuple[PositionEstimate, ...]:
    """List the positions that may be recommended, in listed order."""
    return tuple(each for each in estimate.positions if each.may_recommend)


def close_group(estimate: Estimate) -> tuple[Position, ...]:
    """Find the positions to choose among when the answer is too close.

    Parameters
    ----------
    estimate : Estimate
        What is said of the trainee.

    Returns
    -------
    tuple of Position
        The smallest group, at least two where there are two, that holds four fifths of the
        chance of being the best among the positions that may be recommended; in listed order.
    """
    open_to = open_positions(estimate)
    enough = _GROUP_HOLDS * sum(each.chance_ahead for each in open_to)
    group: set[Position] = set()
    held = 0.0
    for each in sorted(open_to, key=lambda one: -one.chance_ahead):
        if len(group) >= 2 and held >= enough:
            break
        group.add(each.position)
        held += each.chance_ahead
    return tuple(each.position for each in open_to if each.position in group)


def positions_to_discuss(estimate: Estimate) -> tuple[Position, ...]:
    """List the positions that the verdict puts forward: one, several or none."""
    if estimate.suggested is not None:
        return (estimate.suggested,)
    if estimate.verdict is Verdict.TOO_CLOSE:
        return close_group(estimate)
    return ()


def compose_answer(
    estimate: Estimate,
    language: Language,
    *,
    is_locked: bool = False,
    up_sign_off: SignOff | None = None,
) -> Answer:
    """Say the verdict, what it rests on and what it is not; a lock stands before all of it."""
    headline, lead = _verdict_words(estimate, language)
    named = positions_to_discuss(estimate)
    sentences = _locked_steps(language) if is_locked else []
    if not estimate.is_trusted:
        sentences.append(
            language.say(
                "These figures are less sure than they look: a check of them did not come out "
                "right. Do not rest a decision on them alone."
            )
        )
    sentences += [
        " ".join([*lead, _rests_on(estimate, language)]),
        *(suggested_words(estimate, up_sign_off, language) if Position.UP in named else ()),
        language.say(
            "It describes what was reported at home. It is not proof that one position is better."
        ),
        language.say(
            "We know of no study that shows one of these head positions to be best for everyone. "
            "The studies we know were small, mostly with healthy adults and mostly with liquids. "
            "For hard pieces, and for children, it is a guess."
        ),
    ]
    blocked = [each.position for each in estimate.positions if not each.may_recommend]
    if blocked and open_positions(estimate):
        said = language.say(
            "Not suggested, whatever the figures: {positions}. The reasons stand under the events."
        )
        sentences.append(said.format(positions=names_of(blocked, language)))
    return Answer(headline, named, tuple(sentences))


def _rests_on(estimate: Estimate, language: Language) -> str:
    said = language.count(
        "This rests on {used} of {planned} planned night.",
        "This rests on {used} of {planned} planned nights.",
        estimate.nights_planned,
    )
    return said.format(used=estimate.nights_used, planned=estimate.nights_planned)


def _verdict_words(estimate: Estimate, language: Language) -> tuple[str, list[str]]:
    """Give the headline and the sentences that explain it."""
    if not open_positions(estimate):
        return language.say("No position can be suggested now."), [
            language.say("The reasons stand under the events. A clinician looks first.")
        ]
    if len(estimate.positions) == 1:
        return _single_words(estimate, language)
    if estimate.verdict is Verdict.INSUFFICIENT:
        return language.say("There is not enough yet to name a position."), [
            language.say(
                "The figures below still lean on what is expected of anybody, more than on these "
                "evenings."
            )
        ]
    if estimate.verdict is Verdict.ALL_WORK:
        return _all_work_words(estimate, language)
    if estimate.verdict is Verdict.TOO_CLOSE:
        return language.say("It is too close to call."), [_close_words(estimate, language)]
    if estimate.suggested is None:
        return language.say("The figures point to no position that may be suggested."), [
            language.say("A clinician looks at the reasons with you at the follow-up visit.")
        ]
    return _ahead_words(estimate, estimate.suggested, language)


def _single_words(estimate: Estimate, language: Language) -> tuple[str, list[str]]:
    name = position_name(estimate.positions[0].position, language)
    headline = language.say("One position was practised: {position}.").format(position=name)
    lead = [language.say("There is nothing to compare it with. The figures say how it went.")]
    if estimate.verdict is Verdict.INSUFFICIENT:
        lead.append(language.say("They are not enough yet to say that it works."))
    return headline, lead


def _all_work_words(estimate: Estimate, language: Language) -> tuple[str, list[str]]:
    lead = [
        language.say(
            "Pieces went down well in all of them, and no position came out much easier than the "
            "others."
        )
    ]
    if estimate.suggested is Position.CENTRE:
        said = language.say("Then the simplest is {position}: no turn, and nothing to remember.")
        lead.append(said.format(position=position_name(Position.CENTRE, language)))
    elif estimate.suggested is not None:
        name = position_name(estimate.suggested, language)
        lead.append(language.say("A simple one to talk about: {position}.").format(position=name))
    return language.say("All these positions worked about equally well."), lead


def _close_words(estimate: Estimate, language: Language) -> str:
    group = close_group(estimate)
    if len(group) < 2:
        return language.say("The evenings cannot tell the positions apart.")
    said = language.say(
        "These came out too close together to tell them apart: {positions}. The choice among "
        "them is yours."
    )
    return said.format(positions=names_of(group, language))


def _ahead_words(
    estimate: Estimate, suggested: Position, language: Language
) -> tuple[str, list[str]]:
    best = next(each for each in estimate.positions if each.position is suggested)
    name = position_name(suggested, language)
    n = len(open_positions(estimate))
    if n < len(estimate.positions):
        chance = language.count(
            "Of the {n} position that may be suggested, the chance that it is the easiest for you "
            "is {percent}.",
            "Of the {n} positions that may be suggested, the chance that it is the easiest for you "
            "is {percent}.",
            n,
        )
    else:
        chance = language.count(
            "The chance that it is the easiest of the {n} position for you is {percent}.",
            "The chance that it is the easiest of the {n} positions for you is {percent}.",
            n,
        )
    chance = chance.format(n=n, percent=percent(best.chance_ahead, language))
    against = better_than_centre_words(estimate, language)
    if estimate.verdict is Verdict.CLEAR:
        headline = language.say("One position came out ahead: {position}.")
        return headline.format(position=name), [chance, *against]
    headline = language.say("One position is probably ahead: {position}.")
    doubt = language.say("Another one may still turn out to be easier.")
    return headline.format(position=name), [chance, *against, doubt]


def compose_next_steps(
    estimate: Estimate,
    language: Language,
    *,
    seen_floating: bool = False,
    is_locked: bool = False,
    success: Success | None = None,
    advice: NextStep | None = None,
) -> Section:
    """Say what to do next: what the verdict calls for, then what holds for everyone.

    Parameters
    ----------
    estimate : Estimate
        What is said of the trainee.
    language : Language
        Where the sentences come from.
    seen_floating : bool
        Whether staff saw this trainee swallow a floating piece.
    is_locked : bool
        Whether practice waits for a clinician's answer after an event.
    success : Success or None
        What counts as success by the site's protocol; None where it is not at hand.
    advice : NextStep or None
        What the site's written rules say about the piece; None where they were not asked.

    Returns
    -------
    Section
        A sentence or two for each step.
    """
    sentences = [
        *(_locked_steps(language) if is_locked else _verdict_steps(estimate, language)),
        *([] if is_locked or advice is None else _ladder_steps(advice, language)),
        _success_words(success, language),
        language.say(
            "The step to the real medicine is decided with the pharmacist. Until then medicines "
            "go on as prescribed and are not tried out at home."
        ),
    ]
    if not seen_floating:
        sentences.append(
            language.say(
                "Pieces that sink say nothing about a floating capsule. That is taught apart, with "
                "staff watching."
            )
        )
    sentences.append(
        language.say(
            "This report says nothing about crushing, chewing, splitting or opening a medicine. "
            "Ask the pharmacist."
        )
    )
    return Section(language.say("What to do next"), tuple(sentences))


def _locked_steps(language: Language) -> list[str]:
    return [language.say("Practice is locked. No more pieces until a clinician has answered.")]


def _ladder_steps(advice: NextStep, language: Language) -> list[str]:
    """Say the move that the written rules name; staff and family agree on it."""
    said = {
        Move.STAY: language.say("By this site's rules the piece stays the same: {piece}."),
        Move.UP: language.say("By this site's rules the next larger piece may be tried: {piece}."),
        Move.BACK: language.say("By this site's rules the next piece is a smaller one: {piece}."),
        Move.FINISH: language.say("By this site's rules the course may end here: {piece}."),
    }
    agreed = language.say("Staff agree on it with you. A new piece means a new plan.")
    moved = said.get(advice.move)
    return [] if moved is None else [f"{moved.format(piece=advice.piece)} {agreed}"]


def _success_words(success: Success | None, language: Language) -> str:
    said = language.say(
        "Success is what staff see: whole, not chewed, without help, at the target size. What is "
        "said from home is a report."
    )
    if success is None:
        return said
    numbers = language.count(
        "This site asks for {swallows} of {attempts} try.",
        "This site asks for {swallows} of {attempts} tries.",
        success.attempts,
    ).format(swallows=success.swallows, attempts=success.attempts)
    return f"{said} {numbers}"


def _verdict_steps(estimate: Estimate, language: Language) -> list[str]:
    if not open_positions(estimate):
        return [language.say("Talk with a clinician before any more practice.")]
    if estimate.verdict is Verdict.INSUFFICIENT:
        return [
            language.say(
                "Talk about what made the evenings hard, and whether more evenings, a smaller "
                "piece or another time of day would help. The clinic makes the new plan."
            )
        ]
    discuss = positions_to_discuss(estimate)
    if not discuss:
        return [language.say("Talk with a clinician about which position to use.")]
    if len(discuss) > 1:
        said = language.say(
            "Choose one of these at the follow-up visit and try it with staff watching: "
            "{positions}. What feels right is a good reason."
        )
        return [said.format(positions=names_of(discuss, language))]
    said = language.say(
        "Talk about this position at the follow-up visit and try it with staff watching: "
        "{position}."
    )
    steps = [said.format(position=position_name(discuss[0], language))]
    chance = next(each.p_first_try for each in estimate.positions if each.position is discuss[0])
    if chance < _SELDOM:
        often = pieces_of_ten(chance, language)
        slow = language.say(
            "Even there only {pieces} may go down at the first try. Talk about the piece size "
            "before going on."
        )
        steps.append(slow.format(pieces=often))
    return steps
