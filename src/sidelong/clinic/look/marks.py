"""Small drawn marks, the same shapes as in print: answers, nights, steps, pieces, shares.

Shape comes before colour: a full disc, a ring, a cross and a square are told apart in grey.
All functions give one ``svg`` element; classes take their colours from ``page.css``.
"""

from math import floor

from sidelong.clinic.look.glyphs import picture_attributes
from sidelong.paper.charts import NightState, Outcome

_SHAPES: dict[str, str] = {
    "first": '<circle cx="8" cy="8" r="5.5" class="full"/>',
    "later": '<circle cx="8" cy="8" r="5" class="ring"/>',
    "no": '<path d="M3 3 L13 13 M3 13 L13 3" class="stroke"/>',
    "unknown": '<rect x="3.5" y="3.5" width="9" height="9" class="pale"/>',
    "band": '<rect x="0" y="3" width="16" height="10" class="band"/>'
    '<path d="M0 8 L16 8" class="middle"/>',
    "full": '<rect x="2" y="2" width="12" height="12" class="full"/>',
    "part": '<rect x="2" y="2" width="12" height="12" class="ring"/>'
    '<path d="M2 2 L2 14 L14 14 Z" class="full"/>',
    "none": '<rect x="2" y="2" width="12" height="12" class="ring"/>',
}
_N_STEPS = 5


def draw_mark(shape: Outcome | NightState | str, *, label: str = "") -> str:
    """Draw the mark of an answer, of a night, or of the estimate's band.

    Parameters
    ----------
    shape : str
        ``first``, ``later``, ``no``, ``unknown`` for an answer; ``full``, ``part``, ``none`` for a
        night; ``band`` for the estimate with its interval.
    label : str
        Its name; empty where words stand beside it.

    Returns
    -------
    str
        One ``svg`` element, 16 by 16 in its own units.

    Raises
    ------
    ValueError
        If there is no such shape.
    """
    if shape not in _SHAPES:
        raise ValueError(f"there is no mark {shape!r}; there are {', '.join(_SHAPES)}")
    return (
        f'<svg class="mark" viewBox="0 0 16 16" {picture_attributes(label)}>{_SHAPES[shape]}</svg>'
    )


def draw_stair(rating: int | None, *, label: str = "") -> str:
    """Draw the stair of a rating: five rising steps, with one disc on the step that was chosen.

    Parameters
    ----------
    rating : int or None
        1 (very hard) to 5 (very easy); None draws the empty stair.
    label : str
        Its name; empty where words stand beside it.

    Returns
    -------
    str
        One ``svg`` element, 50 by 24 in its own units.

    Raises
    ------
    ValueError
        If the rating is not on the stair.
    """
    if rating is not None and not 1 <= rating <= _N_STEPS:
        raise ValueError(f"a rating of {rating} is not on the stair of 1 to {_N_STEPS}")
    edge = " ".join(f"V{23 - 3 * step} H{10 * step}" for step in range(1, _N_STEPS + 1))
    disc = ""
    if rating is not None:
        disc = f'<circle cx="{10 * rating - 5}" cy="{18.6 - 3 * rating:g}" r="3.4" class="full"/>'
    stair = f'<path d="M0 23 {edge} V23 Z" class="stair"/>'
    return (
        f'<svg class="stairs" viewBox="0 0 50 24" {picture_attributes(label)}>{stair}{disc}</svg>'
    )


def draw_pieces(chance: float, *, flipped: bool = False) -> str:
    """Draw ten pieces in a row, as many full as are expected to go down at the first try.

    Never all and never none: the ends of the range show half a piece, as in print.

    Parameters
    ----------
    chance : float
        In [0, 1].
    flipped : bool
        Whether the row fills from the right.

    Returns
    -------
    str
        One ``svg`` element without a name; the words stand beside it.
    """
    halves = _halves(chance)
    discs = []
    for index in range(10):
        x = 8 + 16 * (9 - index if flipped else index)
        filled = min(2, max(0, halves - 2 * index))
        if filled == 2:
            discs.append(f'<circle cx="{x}" cy="8" r="6" class="full"/>')
        elif filled == 1:
            sweep = 1 if flipped else 0
            discs.append(f'<path d="M{x} 2 A6 6 0 0 {sweep} {x} 14 Z" class="full"/>')
        discs.append(f'<circle cx="{x}" cy="8" r="6" class="ring"/>')
    drawn = "".join(discs)
    return f'<svg class="pieces" viewBox="0 0 160 16" {picture_attributes("")}>{drawn}</svg>'


def draw_share(share: float, *, is_ahead: bool = False) -> str:
    """Draw one upright bar between 0 and 1; the one that is ahead is full, the others are hatched.

    Parameters
    ----------
    share : float
        In [0, 1].
    is_ahead : bool
        Whether it is the largest of its row or column.

    Returns
    -------
    str
        One ``svg`` element without a name; the figure stands beside it.

    Raises
    ------
    ValueError
        If the share is outside [0, 1].
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"a share of {share} is not within 0..1")
    height = 36 * share
    kind = "ahead" if is_ahead else "part-of"
    frame = '<rect x="1" y="2" width="14" height="36" class="frame"/>'
    bar = f'<rect x="1" y="{38 - height:.1f}" width="14" height="{height:.1f}" class="{kind}"/>'
    return f'<svg class="share" viewBox="0 0 16 40" {picture_attributes("")}>{frame}{bar}</svg>'


def _halves(chance: float) -> int:
    if not 0.0 <= chance <= 1.0:
        raise ValueError(f"a chance of {chance} is not within 0..1")
    if chance >= 0.95:
        return 19
    if chance < 0.05:
        return 1
    return 2 * floor(chance * 10 + 0.5)
