"""Tags that draw: ``{% load look %}``.

Where words stand beside a drawing it is passed over by screen readers; where it stands alone it
carries a name. All tags but ``{% glyph %}`` and ``{% mark %}`` bring their words along.
"""

import re
from typing import Any

from django import template
from django.conf import settings
from django.utils.safestring import SafeString, mark_safe

from sidelong.clinic.look.chances import picture_chances
from sidelong.clinic.look.earlier import picture_earlier
from sidelong.clinic.look.glyphs import draw_figure, draw_glyph
from sidelong.clinic.look.marks import draw_mark, draw_stair
from sidelong.clinic.look.pieces import say_piece
from sidelong.clinic.look.trend import picture_trend
from sidelong.paper.charts import NightStrip, TrendChart
from sidelong.paper.heads import say_head
from sidelong.paper.language import Language, read_language
from sidelong.paper.report import ChanceTable, WordTable
from sidelong.pathway.report_words import rating_word
from sidelong.training.estimate import Estimate
from sidelong.training.piece import Piece
from sidelong.training.position import Position

register = template.Library()


@register.simple_tag
def glyph(position: str, *, alone: bool = True, language: Language | None = None) -> SafeString:
    """Draw a position: ``{% glyph "left" %}``; ``alone=False`` where its name stands beside it."""
    words = say_head(Position(position), language=language or read_language("en"))
    return _drawn(draw_glyph(Position(position), label=words["drawing"] if alone else ""))


@register.simple_tag
def figure_behind(position: str, *, language: Language | None = None) -> SafeString:
    """Draw the whole figure from behind, with the band on its own right wrist."""
    words = say_head(Position(position), language=language or read_language("en"))
    return _drawn(draw_figure(Position(position), label=words["drawing"]))


@register.inclusion_tag("parts/position.html")
def position(
    position: str, *, side: bool = False, language: Language | None = None
) -> dict[str, Any]:
    """Draw a position with its name; ``side=True`` adds whose side, and how far."""
    head = say_head(Position(position), language=language or read_language("en"))
    return {"head": head, "side": side}


@register.simple_tag
def mark(shape: str, label: str = "") -> SafeString:
    """Draw the mark of an answer or of a night: ``{% mark "later" "at a later try" %}``."""
    return _drawn(draw_mark(shape, label=label))


@register.simple_tag
def stair(rating: int | None, *, language: Language | None = None) -> SafeString:
    """Draw a rating on its stair, named as the sheets do: ``{% stair 4 %}``."""
    label = ""
    if rating is not None:
        word = rating_word(float(rating), language or read_language("en"))
        label = f"{rating}, {word}"
    return _drawn(draw_stair(rating, label=label))


@register.inclusion_tag("parts/trend.html")
def trend_chart(chart: TrendChart | None, language: Language | None = None) -> dict[str, Any]:
    """Draw ``report.trend``; draws nothing where there is nothing to draw."""
    said = language or read_language("en")
    return {"picture": None if chart is None else picture_trend(chart, language=said)}


@register.inclusion_tag("parts/chances.html")
def chances_chart(
    table: ChanceTable, estimate: Estimate, language: Language | None = None
) -> dict[str, Any]:
    """Draw ``report.chances``: first try before best."""
    said = language or read_language("en")
    return {"picture": picture_chances(table, estimate=estimate, language=said)}


@register.inclusion_tag("parts/earlier.html")
def earlier_chart(estimate: Estimate, language: Language | None = None) -> dict[str, Any]:
    """Draw what would have been said on the way."""
    return {"picture": picture_earlier(estimate, language=language or read_language("en"))}


@register.inclusion_tag("parts/strip.html")
def night_strip(strip: NightStrip) -> dict[str, Any]:
    """Draw ``report.strip``: a box for each night."""
    return {"strip": strip, "nights": list(enumerate(strip.states, start=1))}


@register.inclusion_tag("parts/words.html")
def word_table(table: WordTable, *, caption: bool = True) -> dict[str, Any]:
    """Set a table of the report, such as ``report.exact``, so that it reads at 320 px too."""
    rows = [list(zip(table.columns, row, strict=True)) for row in table.rows]
    return {"table": table, "rows": rows, "caption": caption}


@register.simple_tag
def installation() -> dict[str, Any]:
    """Name the clinic, and tell whether all of it is invented: ``{% installation as here %}``."""
    here = settings.INSTALLATION
    return {"name": here.name, "demo": here.demo}


def _drawn(svg: str) -> SafeString:
    # Drawn here, from our own files and numbers; every label is escaped where it enters.
    return mark_safe(svg)  # noqa: S308


@register.filter
def sentence_case(heading: str) -> str:
    """Write a heading of the library's as ours are: one capital, and those of abbreviations."""
    written = " ".join(heading.split())
    return written[:1] + re.sub(r"[A-Z][a-z]+", lambda word: word[0].lower(), written[1:])


@register.filter
def piece_words(piece: Piece) -> str:
    """Say shape, size and code of a piece."""
    return say_piece(piece)


@register.filter
def spelled(key: object) -> str:
    """Show a key of the protocol or of a closed set as words."""
    return str(key).replace("_", " ")
