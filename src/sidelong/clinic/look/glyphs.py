"""The drawn heads as SVG for pages: the very files that the printed booklet is set from.

Ink, paper and accent follow the page, so that a head reads in the dark too. No drawing is ever
mirrored: the trainee's left stays on the left of the page in lines of either direction.
"""

from functools import cache
from html import escape
from importlib.resources import files

from sidelong.training.position import Position

# What a colour of the drawings becomes on a page; ``page.css`` gives the classes their colours.
_ON_A_PAGE = {
    ' stroke="#22303a"': ' stroke="currentColor"',
    ' fill="#22303a"': ' fill="currentColor"',
    ' stroke="#a8482a"': ' class="in-accent" stroke="currentColor"',
    ' stroke="#ffffff"': ' class="paper-line" stroke="#ffffff"',
    ' fill="#ffffff"': ' class="paper-area" fill="#ffffff"',
}


def draw_glyph(position: Position, *, label: str = "") -> str:
    """Draw the glyph of one position.

    Parameters
    ----------
    position : Position
        Where the head is.
    label : str
        What it shows, for those who do not see it; empty where the name stands beside it, and
        the drawing is then passed over in silence.

    Returns
    -------
    str
        One ``svg`` element, 100 wide and 107 high in its own units.
    """
    return _labelled(_drawing(f"head-{position.value}"), "glyph", label)


def draw_figure(position: Position, *, label: str = "") -> str:
    """Draw the whole figure from behind, with the patterned band on its own right wrist.

    Parameters
    ----------
    position : Position
        Where the head is.
    label : str
        As for :func:`draw_glyph`.

    Returns
    -------
    str
        One ``svg`` element: the glyph of this position on the body of the booklet's steps.
    """
    placed = '<svg x="0" y="-7" width="100" height="107" '
    head = _drawing(f"head-{position.value}").replace("<svg ", placed, 1)
    body = _drawing("body").replace("</svg>", f"{head}</svg>")
    return _labelled(body, "figure-behind", label)


def picture_attributes(label: str) -> str:
    """Give the attributes that name a drawing, or that pass over it where it has no name."""
    if label:
        return f'role="img" aria-label="{escape(label)}"'
    return 'aria-hidden="true" focusable="false"'


def _labelled(drawing: str, kind: str, label: str) -> str:
    return drawing.replace("<svg ", f'<svg class="{kind}" {picture_attributes(label)} ', 1)


@cache
def _drawing(name: str) -> str:
    """Read a drawing and let it take the page's colours."""
    path = files("sidelong.paper") / "drawings" / f"{name}.svg"
    drawing = path.read_text(encoding="utf-8")
    for printed, shown in _ON_A_PAGE.items():
        drawing = drawing.replace(printed, shown)
    return " ".join(drawing.replace(' xmlns="http://www.w3.org/2000/svg"', "").split())
