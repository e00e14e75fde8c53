"""The pages before the night sheets: cover, steps, positions, safety, not tonight.

The site's protocol brings the technique, the tiers, the emergency words and the questions of the
evening. What no site may leave out is written here and printed on every booklet.
"""

from collections.abc import Iterable
from typing import Any

from sidelong.paper.heads import say_head
from sidelong.paper.language import Language, message
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.safety import Tier
from sidelong.training.wording import FamilyText

Page = dict[str, Any]

ALWAYS = (
    message("An adult is there. You are upright and wide awake. One piece at a time."),
    message("Never force the neck. Leave out a position that hurts, and tell the clinic."),
    message("A practice piece is not a medicine. Never call a medicine a sweet."),
    message("Keep the pieces away from children under 3."),
    message("Take your own medicines as prescribed. Do not test them at home."),
    message("Ask the pharmacist before you crush, chew, split or open a medicine."),
    message("Practise before you brush your teeth. Stay upright afterwards."),
)

_TIER_HEADINGS = {
    Tier.PAUSE: message("Pause"),
    Tier.STOP_TONIGHT: message("Stop for tonight"),
    Tier.ACT_FIRST: message("Act first"),
}


def set_cover(plan: Plan, *, protocol: Protocol, language: Language) -> Page:
    """Say what the cover shows: the code, the site, the shape of the course; no name.

    Parameters
    ----------
    plan : Plan
        Whose booklet it is.
    protocol : Protocol
        The site's.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words as ``booklet.typ`` expects them.
    """
    say, count = language.say, language.count
    n_nights, n_positions = len(plan.nights), len(plan.positions)
    shape = [
        count("{n} evening", "{n} evenings", n_nights).format(n=n_nights),
        count("{n} head position", "{n} head positions", n_positions).format(n=n_positions),
        say("About five minutes an evening"),
    ]
    rules = [
        say("Use the sheets in order. After an evening off, go on with the next sheet."),
        say("Do the positions from top to bottom, as they are printed."),
        say("Write it down straight away. A blank is fine. A guess is not needed."),
        say("This booklet carries a code. Please write no names in it."),
        say("Bring it to your next visit."),
    ]
    versions = say("Course {course}, plan {version}").format(
        course=plan.course, version=plan.version
    )
    version = protocol.version
    made = [versions, say("Protocol {version}").format(version=language.number(version))]
    if plan.start is not None:
        day = language.number(plan.start.isoformat())
        made.append(say("First evening: {date}").format(date=day))
    return {
        "heading": say("Practice booklet"),
        "code": plan.trainee,
        "shape": shape,
        "rules": rules,
        "site_name": protocol.site_name,
        "made": made,
        "heads": [
            say_position(position, protocol=protocol, language=language)
            for position in plan.positions
        ],
        "figure": say(
            "Person seen from behind, "
            "a cup in the right hand and a patterned band on the right wrist."
        ),
        "print_hint": say("Printed at 100 %? Check the line on the last page."),
    }


def set_steps(plan: Plan, *, protocol: Protocol, language: Language) -> Page:
    """Say the steps of one swallow and what to change when it fails.

    Parameters
    ----------
    plan : Plan
        Whose booklet it is.
    protocol : Protocol
        The site's technique text.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words as ``booklet.typ`` expects them.
    """
    say = language.say
    return {
        "heading": say("One swallow, step by step"),
        "band": say(
            "Put a band on your right wrist. The person in the drawings has one too. "
            "You see them from behind, so their right is your right."
        ),
        "steps": _said(protocol.technique, protocol, language),
        "fails_heading": say("If it does not go down"),
        "fails": _said(protocol.when_it_fails, protocol, language),
        "figure": say(
            "Person seen from behind, looking ahead, "
            "a cup in the right hand and a patterned band on the right wrist."
        ),
        "positions": [position.value for position in plan.positions],
    }


def set_positions(plan: Plan, *, protocol: Protocol, language: Language) -> Page:
    """Say how to hold the head in each position of the plan.

    Parameters
    ----------
    plan : Plan
        Its positions are shown, no others.
    protocol : Protocol
        The site's words for them.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words as ``booklet.typ`` expects them.
    """
    say = language.say
    return {
        "heading": say("Your head positions"),
        "from_behind": say("Seen from behind. The band is on the right wrist."),
        "side_alt": {
            "down": say("The same from the side: the chin comes down towards the chest."),
            "up": say("The same from the side: the chin is lifted a little."),
        },
        "heads": [
            say_position(position, protocol=protocol, language=language)
            for position in plan.positions
        ],
        "comfort": [
            say("Turn only as far as is comfortable. Nobody else moves your head."),
            say("Turn or nod first, then swallow. Come back to the middle and breathe."),
        ],
    }


def set_safety(*, protocol: Protocol, language: Language) -> Page:
    """Say the three tiers, the site's emergency words and that nobody is watching.

    Parameters
    ----------
    protocol : Protocol
        The site's tiers, emergency words and line to the clinic.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words as ``booklet.typ`` expects them.
    """
    say, line = language.say, protocol.clinic_line
    emergency = protocol.emergency_in(language.tag)
    return {
        "heading": say("Safety"),
        "see": say("You see"),
        "do": say("You do"),
        "tiers": [
            {
                "name": say(_TIER_HEADINGS[words.tier]),
                "signs": _said(words.signs, protocol, language),
                "actions": _said(words.actions, protocol, language),
            }
            for words in protocol.tiers
        ],
        "locked": say(
            "After that, practice is locked. No more pieces until a clinician has answered you."
        ),
        "emergency_heading": say("In an emergency call"),
        "number": language.number(emergency.number),
        "emergency": emergency.words,
        "unwatched": _said([line.unwatched], protocol, language)[0],
        "clinic": say("The clinic"),
        "phone": language.number(line.phone),
        "hours": _said([] if line.hours is None else [line.hours], protocol, language),
        "always_heading": say("This always holds"),
        "always": [say(sentence) for sentence in ALWAYS],
    }


def set_evening(*, protocol: Protocol, language: Language) -> Page:
    """Say the rules at home, before, during and after the pieces.

    Parameters
    ----------
    protocol : Protocol
        The site's rules.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words as ``booklet.typ`` expects them.
    """
    say = language.say
    return {
        "heading": say("Every evening"),
        "home": _said(protocol.home_rules, protocol, language),
        "after_heading": say("Afterwards"),
        "after": _said(protocol.afterwards, protocol, language),
        "teeth": say("Some pieces hold sugar. So practise before you brush your teeth."),
    }


def set_tonight(*, protocol: Protocol, language: Language) -> Page:
    """Say the questions before an evening, and keep room for the evenings off.

    Parameters
    ----------
    protocol : Protocol
        The site's questions.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict
        Words as ``booklet.typ`` expects them.
    """
    say = language.say
    return {
        "heading": say("Not tonight?"),
        "ask": say("Ask this before you start."),
        "yes": say("yes"),
        "no": say("no"),
        "questions": [
            {"text": _said([each.question], protocol, language)[0], "yes_stops": each.yes_stops}
            for each in protocol.tonight
        ],
        "skip": say(
            "Is one of your answers a bold box? Then not tonight. That is fine. "
            "Keep tonight's sheet for the next evening."
        ),
        "log_heading": say("Evenings off"),
        "log": say("Write the date and tick the numbers of your reasons."),
        "date": say("Date"),
        "box": say("Empty box to tick."),
        "n_log": 5,
    }


def _said(texts: Iterable[FamilyText], protocol: Protocol, language: Language) -> list[str]:
    """Say the protocol's sentences, its numbers filled in."""
    return [text.said(language.tag, say=language.say, numbers=protocol.numbers) for text in texts]


def say_position(position: Position, *, protocol: Protocol, language: Language) -> dict[str, str]:
    """Say a position in the site's words, in our own where it has none.

    Parameters
    ----------
    position : Position
        Which one.
    protocol : Protocol
        The site's words.
    language : Language
        Catalogue to say it in.

    Returns
    -------
    dict of str to str
        As :func:`sidelong.paper.heads.say_head`.
    """
    said = say_head(position, language=language)
    for words in protocol.position_words:
        if words.position is position:
            said["name"], said["how"] = _said([words.name, words.how], protocol, language)
    return said
