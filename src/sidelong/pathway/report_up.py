"""Who signed for ``up``: for practising it at all, and for suggesting it to one person."""

from sidelong.paper.language import Language, message
from sidelong.pathway.report_words import listed, position_name
from sidelong.training.estimate import Estimate
from sidelong.training.gate_rules import SignOff
from sidelong.training.position import Position
from sidelong.training.protocol import SWALLOWING_SPECIALIST, Meaning, Protocol

_ROLES = {SWALLOWING_SPECIALIST: message("swallowing specialist")}


def practised_words(
    estimate: Estimate, protocol: Protocol | None, language: Language
) -> tuple[str, ...]:
    """Say by whose signature ``up`` is in the plan; nothing where it is not.

    Parameters
    ----------
    estimate : Estimate
        Its positions are those of the plan.
    protocol : Protocol or None
        The site's; None where it is not at hand.
    language : Language
        Where the sentences come from.

    Returns
    -------
    tuple of str
        A sentence, or none.
    """
    if all(each.position is not Position.UP for each in estimate.positions):
        return ()
    name = position_name(Position.UP, language)
    if protocol is None:
        said = language.say(
            "{position} is in the plan. Those who made it stated that their protocol is signed "
            "for it; no name was given."
        )
        return (said.format(position=name),)
    signed = [
        _signed(SignOff(each.role, each.name, each.signed_on), language)
        for each in protocol.signatures
        if each.meaning is Meaning.UP_ALLOWED
        and each.role.strip().casefold() == SWALLOWING_SPECIALIST
    ]
    if not signed:
        said = language.say(
            "{position} is in the plan, and nobody has signed for it under the protocol named "
            "below. Ask before it is practised again."
        )
        return (said.format(position=name),)
    said = language.say("That {position} may be practised here was signed by {who}.")
    return (said.format(position=name, who=listed(signed, language)),)


def suggested_words(
    estimate: Estimate, sign_off: SignOff | None, language: Language
) -> tuple[str, ...]:
    """Say who signed that ``up`` may be suggested to this person; nothing where it may not.

    Parameters
    ----------
    estimate : Estimate
        What is said of the trainee.
    sign_off : SignOff or None
        The specialist's for this person; None where only a statement is known.
    language : Language
        Where the sentences come from.

    Returns
    -------
    tuple of str
        A sentence, or none.
    """
    open_to = {each.position for each in estimate.positions if each.may_recommend}
    if Position.UP not in open_to:
        return ()
    name = position_name(Position.UP, language)
    if sign_off is None:
        said = language.say(
            "That {position} may be suggested was stated by those who made this report; no name "
            "was given."
        )
        return (said.format(position=name),)
    said = language.say("That {position} may be suggested to this person was signed by {who}.")
    return (said.format(position=name, who=_signed(sign_off, language)),)


def _signed(each: SignOff, language: Language) -> str:
    role = _ROLES.get(each.role.strip().casefold())
    return language.say("{name}, {role}, on {date}").format(
        name=each.name,
        role=each.role if role is None else language.say(role),
        date=language.day(each.signed_on),
    )
