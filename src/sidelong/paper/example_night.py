"""A sheet that is filled in already: invented, and never to be read as somebody's night.

Its marks and words show how a sheet is used. Its markers and codes name it as the example, so
that a photograph of it is recognised as one.
"""

from sidelong.paper.language import Language, message
from sidelong.paper.night_page import TYPE_SIZES, Item
from sidelong.paper.sheet_areas import Area, Sheet
from sidelong.paper.version import Edition
from sidelong.training.entry import Scale, WentDown, WhyNot, Written

TITLE = message("Example")
_PEN = "#1f3f8f"  # dark blue, as a pen; the crosses show it without the colour
_WRITTEN_IN = {
    "date": message("3 March"),
    "present": message("my aunt"),
    "notes": message("Better with a fuller sip."),
    "seen": message("Two sips each time. Calm. The second piece came out once."),
}


def fill_in(
    sheet: Sheet, *, scale: Scale | None, language: Language, edition: Edition
) -> tuple[str, list[Item]]:
    """Fill in a sheet as an invented family would.

    Parameters
    ----------
    sheet : Sheet
        What is filled in.
    scale : Scale or None
        Form of the rating.
    language : Language
        Catalogue to say it in.
    edition : Edition
        How large it is set.

    Returns
    -------
    str
        Crosses as SVG; one unit is one millimetre.
    list of dict
        Words in the boxes, as :func:`sidelong.paper.night_page.set_night` gives them.
    """
    chosen = set(_chosen(sheet, scale))
    crosses = [
        _cross(answer.mark) for answer in sheet.answers if (answer.field, answer.value) in chosen
    ]
    frame = 'xmlns="http://www.w3.org/2000/svg" viewBox="0 0 184.6 254"'
    pen = f'fill="none" stroke="{_PEN}" stroke-width="0.9" stroke-linecap="round"'
    size = TYPE_SIZES[edition].note + 2
    style = {"weight": "medium", "align": "center", "valign": "middle", "role": "p"}
    written = {name: language.say(words) for name, words in _WRITTEN_IN.items()}
    n = len(sheet.order)
    written["pieces"] = str(n + (n >= 2) + (n >= 3))  # a fresh piece for every second try
    items = [
        {"do": "text", "text": words, "size": size, "colour": "pen"}
        | style
        | vars(sheet.areas[f"{name}.box"])
        for name, words in written.items()
        if f"{name}.box" in sheet.areas
    ]
    return f"<svg {frame} {pen}>{''.join(crosses)}</svg>", items


def _chosen(sheet: Sheet, scale: Scale | None) -> list[tuple[str, str]]:
    """Choose the answers: the first position easy and best, the second later, the third not."""
    n = len(sheet.order)
    answers = [("written", Written.SAME_EVENING.value)]
    for slot in range(1, n + 1):
        went = {2: WentDown.LATER, 3: WentDown.NO}.get(slot, WentDown.FIRST)
        answers.append((f"p{slot}.went_down", went.value))
        if went is WentDown.NO:
            answers.append((f"p{slot}.why_not", WhyNot.SPAT_OUT.value))
        if scale is not None:
            place = {1: -1, 3: 0}.get(slot, -2)
            answers.append((f"p{slot}.rating", str(scale.ratings[place])))
    best = "tomorrow" if scale is None else "felt_best"
    return [*answers, (best, sheet.order[0].value)]


def _cross(mark: Area) -> str:
    """Draw a cross that stays inside its mark."""
    left, top = mark.x + 1.6, mark.y + 1.6
    right, bottom = mark.x + mark.w - 1.4, mark.y + mark.h - 1.7
    down = f"M{left:.2f} {top:.2f}L{right:.2f} {bottom:.2f}"
    return f'<path d="{down}M{right:.2f} {top:.2f}L{left:.2f} {bottom:.2f}"/>'
