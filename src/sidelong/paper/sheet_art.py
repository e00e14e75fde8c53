"""The outlines of a night sheet as one drawing: marks, boxes, stairs, rules, check line, piece.

They are drawn as SVG in millimetres from the corner of the box, so that one picture serves all
nights with the same piece. The outer edge of every outline is the edge that ``sheet.py`` names.
"""

from collections.abc import Iterator, Sequence

from sidelong.paper.sheet_areas import BOX_HEIGHT_MM, BOX_WIDTH_MM, Answer, Area, Sheet
from sidelong.training.layout import TargetKind

_POINT_MM = 25.4 / 72
# Drops out: nearly white in the red channel (0.94), where pens and pencils stay dark; to the eye
# and in grey it stands out from white 3.0 to 1 (WCAG 2.2, 1.4.11).
DROP_OUT = "#f06c3c"
_INK, _EDGE, _HAIR, _WASH = "#22303a", "#7f8a91", "#cdd3d6", "#f8efeb"


def draw_outlines(sheet: Sheet, *, piece: tuple[float, float, str], right_to_left: bool) -> str:
    """Draw all that is not words and not a head.

    Parameters
    ----------
    sheet : Sheet
        Where everything stands.
    piece : tuple of float, float, str
        Tonight's piece as :func:`sidelong.paper.true_size.piece_outline` gives it.
    right_to_left : bool
        Whether lines run from right to left.

    Returns
    -------
    str
        SVG; one unit is one millimetre.
    """
    shapes = [
        *_rules(sheet),
        *_stairs(sheet),
        *(_mark(answer) for answer in sheet.answers),
        *(
            _rect(area, _INK, _POINT_MM)
            for name, area in sheet.areas.items()
            if name.endswith(".box")
        ),
        _check_line(sheet.areas["check"]),
    ]
    if "piece.drawing" in sheet.areas:
        shapes.append(_piece(sheet.areas["piece.drawing"], piece, right_to_left=right_to_left))
    size = f'viewBox="0 0 {BOX_WIDTH_MM} {BOX_HEIGHT_MM}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} fill="none">{"".join(shapes)}</svg>'


def _mark(answer: Answer) -> str:
    if answer.kind is TargetKind.BOX:
        return _rect(answer.mark, DROP_OUT, _POINT_MM, radius=0.6)
    return _rect(answer.mark, DROP_OUT, _POINT_MM, radius=answer.mark.w / 2 - _POINT_MM / 2)


def _rect(
    area: Area, colour: str, thick: float, *, radius: float = 0.0, fill: str = "#ffffff"
) -> str:
    """Draw an outline whose outer edge is the edge of the area."""
    x, y = area.x + thick / 2, area.y + thick / 2
    w, h = area.w - thick, area.h - thick
    return (
        f'<rect x="{x:.3f}" y="{y:.3f}" width="{w:.3f}" height="{h:.3f}" rx="{radius:.3f}" '
        f'fill="{fill}" stroke="{colour}" stroke-width="{thick:.3f}"/>'
    )


def _line(points: Sequence[tuple[float, float]], colour: str, thick: float) -> str:
    path = " L".join(f"{x:.3f} {y:.3f}" for x, y in points)
    return f'<path d="M{path}" stroke="{colour}" stroke-width="{thick:.3f}"/>'


def _rules(sheet: Sheet) -> Iterator[str]:
    """Draw the line above every row and above the question about the whole night."""
    areas = [area for name, area in sheet.areas.items() if name.endswith(".row")]
    if "ask.band" in sheet.areas:
        areas.append(sheet.areas["ask.band"].moved(0.0, -1.1))
    for area in areas:
        yield _line([(area.x, area.y), (area.x + area.w, area.y)], _HAIR, 0.5 * _POINT_MM)


def _stairs(sheet: Sheet) -> Iterator[str]:
    """Draw the steps on which the ratings stand: a pale body, and its upper edge."""
    for slot in sheet.slots:
        steps = [answer.step for answer in sheet.of(f"p{slot}.rating") if answer.step]
        if not steps:
            continue
        steps.sort(key=lambda step: step.x)
        edge = [(x, step.y) for step in steps for x in (step.x, step.x + step.w)]
        foot = steps[0].y + steps[0].h
        body = " L".join(
            f"{x:.3f} {y:.3f}" for x, y in [(edge[0][0], foot), *edge, (edge[-1][0], foot)]
        )
        yield f'<path d="M{body} Z" fill="{_WASH}"/>'
        yield _line(edge, _EDGE, 0.75 * _POINT_MM)


def _check_line(area: Area) -> str:
    """Draw a line with a tick every centimetre, the longer ones at its ends."""
    ends = (0.0, area.w)
    ticks = [*ends, *(float(mm) for mm in range(10, int(area.w), 10))]
    drawn = [[(area.x, area.y), (area.x + area.w, area.y)]]
    for mm in ticks:
        half = 1.2 if mm in ends else 0.6
        drawn.append([(area.x + mm, area.y - half), (area.x + mm, area.y + half)])
    return "".join(_line(points, _INK, 0.5 * _POINT_MM) for points in drawn)


def _piece(area: Area, piece: tuple[float, float, str], *, right_to_left: bool) -> str:
    """Draw the piece at true size by its words; a larger one is left to the true-size page."""
    length, width, outline = piece
    if length > area.w or width > area.h:
        return ""
    x = area.x if right_to_left else area.x + area.w - length
    placed = Area(x, area.y + (area.h - width) / 2, length, width)
    thick = 0.75 * _POINT_MM
    if outline == "capsule":
        return _rect(placed, _INK, thick, radius=(width - thick) / 2, fill=_WASH)
    cx, cy = placed.x + length / 2, placed.y + width / 2
    return (
        f'<ellipse cx="{cx:.3f}" cy="{cy:.3f}" rx="{(length - thick) / 2:.3f}" '
        f'ry="{(width - thick) / 2:.3f}" fill="{_WASH}" stroke="{_INK}" '
        f'stroke-width="{thick:.3f}"/>'
    )
