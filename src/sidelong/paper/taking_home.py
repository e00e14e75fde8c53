"""The pages of a booklet for what goes out and comes back: pieces, evenings, photographs."""

from collections import Counter
from collections.abc import Sequence

from sidelong.paper.family_words import FamilyWords, Page
from sidelong.paper.language import message
from sidelong.paper.true_size import piece_words
from sidelong.training.piece import Piece

# What is said and what the drawing of the same number shows.
PHOTO_RULES = (
    (
        message("Lay the sheet flat on a dark, plain table."),
        message("A sheet lies flat on a dark table, its six black squares in sight."),
    ),
    (
        message("Get the whole sheet into the picture, with all six black squares."),
        message("A phone shows the whole sheet with its six black squares, and a tick."),
    ),
    (
        message("Use light from a window or a lamp. No flash, and no shadow on the sheet."),
        message("Light falls from a window onto a sheet."),
    ),
    (
        message("Hold the phone flat above the sheet. Wait until the picture is sharp."),
        message("Seen from the side: a phone is held flat, straight above a sheet on a table."),
    ),
)


def set_pieces(words: FamilyWords, *, pieces: Sequence[Piece]) -> Page:
    """Say how many pieces go out, keep room for counting them back, and mark the evenings.

    Parameters
    ----------
    words : FamilyWords
        Whose booklet it is.
    pieces : sequence of Piece
        The site's pieces.

    Returns
    -------
    dict
        Words as ``taking_home.typ`` expects them.
    """
    say, count, plan = words.language.say, words.language.count, words.plan
    spares = words.protocol.course.spares
    n_positions = len(plan.positions)
    by_code = {piece.code: piece for piece in pieces}
    nights = Counter((night.piece_mm, night.piece) for night in plan.nights)
    rows = [
        {
            "name": piece_words(size_mm, by_code.get(code), language=words.language),
            "count": str(n_nights * n_positions),
        }
        for (size_mm, code), n_nights in sorted(nights.items())
    ]
    n_planned = len(plan.nights) * n_positions
    return {
        "heading": say("Pieces and evenings"),
        "rules": [
            say("The clinic counts the pieces into your box and writes the number here."),
            say("Bring back all that is left, and the box. Every number is fine."),
        ],
        "heads": [
            say("Piece"),
            say("In the plan"),
            say("Handed out"),
            say("Came back"),
            say("Used"),
        ],
        "pieces": rows,
        "counted_by": say("Counted by (initials)"),
        "sum": count(
            "{n} piece is planned, and {spares} more are spare, for second tries and losses.",
            "{n} pieces are planned, and {spares} more are spare, for second tries and losses.",
            n_planned,
        ).format(n=n_planned, spares=spares),
        "trail_heading": words.choose(
            message("Your path"), message("Your evenings"), message("Your evenings")
        ),
        "trail": words.choose(
            message(
                "Colour one stone for each evening that you sat down to practise. "
                "It counts even if nothing went down."
            ),
            message(
                "Tick each evening that you sat down to practise. "
                "It counts even if nothing went down."
            ),
            message(
                "Tick each evening that you sat down to practise. "
                "It counts even if nothing went down."
            ),
        ),
        "n_nights": len(plan.nights),
    }


def set_photo(words: FamilyWords) -> Page:
    """Say how to photograph a sheet, in four drawn rules."""
    say = words.language.say
    return {
        "heading": say("Photograph a sheet"),
        "when": say(
            "Only if your clinic has asked for pictures. Bringing the booklet is just as good."
        ),
        "rules": [{"say": say(rule), "drawing": say(drawing)} for rule, drawing in PHOTO_RULES],
        "more": [
            say("Mark with a dark pen, a pencil or a crayon. One mark for each question."),
            say("Wrong mark? Rub it out, or write in the notes which one you meant."),
            say("No faces, no names and no other papers in the picture."),
            say("Send it only in the way that your clinic showed you."),
        ],
    }
