"""The pages of a booklet that say when not: safety, and not tonight.

The site's protocol brings the tiers, the emergency words and the questions of the evening. What
no site may leave out is written here and printed on every booklet.
"""

from sidelong.paper.family_words import FamilyWords, Page
from sidelong.paper.language import message
from sidelong.training.safety import Tier

_TOGETHER = (
    message("An adult is there. You are upright and wide awake. One piece at a time."),
    message("An adult is there. You are upright and wide awake. One piece at a time."),
    message("Another adult is there. You are upright and wide awake. One piece at a time."),
)
ALWAYS = (
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
_N_LOG = 5


def set_safety(words: FamilyWords) -> Page:
    """Say the three tiers, the site's emergency words and that nobody is watching."""
    say, number, line = words.language.say, words.language.number, words.protocol.clinic_line
    emergency = words.protocol.emergency_in(words.language.tag)
    return {
        "heading": say("Safety"),
        "see": say("You see"),
        "do": say("You do"),
        "tiers": [
            {
                "name": say(_TIER_HEADINGS[tier.tier]),
                "signs": words.said(tier.signs),
                "actions": words.said(tier.actions),
            }
            for tier in words.protocol.tiers
        ],
        "locked": say(
            "After that, practice is locked. No more pieces until a clinician has answered you."
        ),
        "emergency_heading": say("In an emergency call"),
        "number": number(emergency.number),
        "emergency": emergency.words,
        "emergency_ask": say("What the clinic taught you to do:"),
        "unwatched": words.said([line.unwatched])[0],
        "clinic": say("The clinic"),
        "phone": number(line.phone),
        "hours": words.said([] if line.hours is None else [line.hours]),
        "always_heading": say("This always holds"),
        "always": [words.choose(*_TOGETHER), *(say(sentence) for sentence in ALWAYS)],
    }


def set_tonight(words: FamilyWords) -> Page:
    """Say the questions before an evening, and keep room for the evenings off."""
    say = words.language.say
    return {
        "heading": say("Not tonight?"),
        "ask": say("Ask this before you start."),
        "yes": say("yes"),
        "no": say("no"),
        "questions": [
            {"text": words.said([each.question])[0], "yes_stops": each.yes_stops}
            for each in words.protocol.tonight
        ],
        "skip": say(
            "Is one of your answers a bold box? Then not tonight. That is fine. "
            "Keep tonight's sheet for the next evening."
        ),
        "log_heading": say("Evenings off"),
        "log": say("Write the date and tick the numbers of your reasons."),
        "date": say("Date"),
        "n_log": _N_LOG,
    }
