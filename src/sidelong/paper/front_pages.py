"""The pages of a booklet that say how: cover, steps, positions, every evening.

The site's protocol brings the technique and the rules at home. All functions take the booklet's
words and give one page's.
"""

from sidelong.paper.family_words import FamilyWords, Page
from sidelong.paper.language import message
from sidelong.paper.version import Audience

# What the supporter of a child does beside watching; a teenager and an adult are not spoken over.
HELPER = (
    message("Count out tonight's pieces and sit close by."),
    message("Read each line out loud. Let your child do the rest."),
    message("Write down what your child says, not what you hoped for."),
    message("Praise the practice, not the swallow. An evening off is fine."),
)


def set_cover(words: FamilyWords, *, booklet: int = 1, is_reprint: bool = False) -> Page:
    """Say what the cover shows: the code, the site, the shape of the course; no name."""
    say, plan, language = words.language.say, words.plan, words.language
    n_nights, n_positions = len(plan.nights), len(plan.positions)
    shape = [
        language.count("{n} evening", "{n} evenings", n_nights).format(n=n_nights),
        language.count("{n} head position", "{n} head positions", n_positions).format(
            n=n_positions
        ),
        say("About five minutes an evening"),
    ]
    rules = [
        say("Use the sheets in order. After an evening off, go on with the next sheet."),
        say("Do the positions from top to bottom, as they are printed."),
        say("Write it down straight away. A blank is fine. A guess is not needed."),
        say("This booklet carries a code. Please write no names in it."),
        say("Bring it to your next visit."),
    ]
    return {
        "heading": words.choose(
            message("My practice booklet"),
            message("Practice booklet"),
            message("Practice booklet"),
        ),
        "code": plan.trainee,
        "shape": shape,
        "rules": rules,
        "site_name": words.protocol.site_name,
        "made": [*_made(words), *_which_one(words, booklet, is_reprint)],
        "heads": words.positions(),
        "figure": say(
            "Person seen from behind, "
            "a cup in the right hand and a patterned band on the right wrist."
        ),
        "print_hint": say('Printed at 100 %? Check the line on the page "True size".'),
    }


def _made(words: FamilyWords) -> list[str]:
    """Say which plan and protocol the booklet was made from."""
    say, plan, number = words.language.say, words.plan, words.language.number
    versions = say("Course {course}, plan {version}").format(
        course=plan.course, version=plan.version
    )
    protocol = say("Protocol {version}").format(version=number(words.protocol.version))
    if plan.start is None:
        return [versions, protocol]
    first = say("First evening: {date}").format(date=words.language.day(plan.start))
    return [versions, protocol, first]


def _which_one(words: FamilyWords, booklet: int, is_reprint: bool) -> list[str]:
    """Tell a booklet from those that were printed before it; the first one says nothing."""
    say = words.language.say
    said = [] if booklet == 1 else [say("Booklet {number} of this course").format(number=booklet)]
    return [*said, say("Printed again")] if is_reprint else said


def set_steps(words: FamilyWords) -> Page:
    """Say the steps of one swallow and what to change when it fails."""
    say = words.language.say
    return {
        "heading": say("One swallow, step by step"),
        "band": say(
            "Put a band on your right wrist. The person in the drawings has one too. "
            "You see them from behind, so their right is your right."
        ),
        "steps": words.said(words.protocol.technique),
        "fails_heading": say("If it does not go down"),
        "fails": words.said(words.protocol.when_it_fails),
        "figure": say(
            "Person seen from behind, looking ahead, "
            "a cup in the right hand and a patterned band on the right wrist."
        ),
    }


def set_positions(words: FamilyWords) -> Page:
    """Say how to hold the head in each position of the plan, and in no other."""
    say = words.language.say
    return {
        "heading": say("Your head positions"),
        "from_behind": say("Seen from behind. The band is on the right wrist."),
        "side_alt": {
            "down": say("The same from the side: the chin comes down towards the chest."),
            "up": say("The same from the side: the chin is lifted a little."),
        },
        "heads": words.positions(),
        "comfort": [
            say("Turn only as far as is comfortable. Nobody else moves your head."),
            say("Turn or nod first, then swallow. Come back to the middle and breathe."),
        ],
    }


def set_evening(words: FamilyWords) -> Page:
    """Say the rules at home, before, during and after the pieces."""
    say = words.language.say
    is_child = words.audience is Audience.CHILD
    return {
        "heading": say("Every evening"),
        "home": words.said(words.protocol.home_rules),
        "after_heading": say("Afterwards"),
        "after": words.said(words.protocol.afterwards),
        "teeth": say("Some pieces hold sugar. So practise before you brush your teeth."),
        "helper_heading": say("For your adult helper"),
        "helper": [say(sentence) for sentence in HELPER] if is_child else [],
    }
