"""What the drawn heads are called: the words that stand beside a glyph, and those that replace it.

The drawings themselves are the files in ``drawings``; ``heads.typ`` sets them. All are seen from
behind, so that the trainee's left is on the left of the page, and none is ever mirrored.
"""

from dataclasses import dataclass

from sidelong.paper.language import Language, message
from sidelong.training.position import Position


@dataclass(frozen=True)
class HeadWords:
    """The words of one position, still to be said in a language.

    Parameters
    ----------
    name : str
        One or two words, for the large print beside the glyph.
    side : str
        The second line: whose side, and how far.
    how : str
        One sentence for the steps.
    drawing : str
        What the drawing shows, for those who do not see it.
    """

    name: str
    side: str
    how: str
    drawing: str


HEAD_WORDS: dict[Position, HeadWords] = {
    Position.DOWN: HeadWords(
        name=message("Down"),
        side=message("chin to chest"),
        how=message("Nod your chin down towards your chest."),
        drawing=message("Head seen from behind, nodding down."),
    ),
    Position.LEFT: HeadWords(
        name=message("Left"),
        side=message("your left"),
        how=message("Turn your head to your left, as far as is comfortable."),
        drawing=message("Head seen from behind, turned a little to its own left."),
    ),
    Position.CENTRE: HeadWords(
        name=message("Centre"),
        side=message("look ahead"),
        how=message("Look straight ahead."),
        drawing=message("Head seen from behind, looking straight ahead."),
    ),
    Position.RIGHT: HeadWords(
        name=message("Right"),
        side=message("your right"),
        how=message("Turn your head to your right, as far as is comfortable."),
        drawing=message("Head seen from behind, turned a little to its own right."),
    ),
    Position.UP: HeadWords(
        name=message("Up"),
        side=message("a slight lift"),
        how=message("Lift your chin a little. Only a little."),
        drawing=message("Head seen from behind, chin lifted a little."),
    ),
}


def say_head(position: Position, *, language: Language) -> dict[str, str]:
    """Say the words of one position.

    Parameters
    ----------
    position : Position
        Which one.
    language : Language
        Catalogue to say them in.

    Returns
    -------
    dict of str to str
        ``position`` (its name in the tables and of its drawing), ``name``, ``side``, ``how`` and
        ``drawing``, as the templates expect them.
    """
    words = HEAD_WORDS[position]
    return {
        "position": position.value,
        "name": language.say(words.name),
        "side": language.say(words.side),
        "how": language.say(words.how),
        "drawing": language.say(words.drawing),
    }
