"""What every page looks like: heads, marks, charts, steps; the door to draw them from code."""

from sidelong.clinic.look.chances import ChancesPicture, picture_chances
from sidelong.clinic.look.earlier import EarlierPicture, picture_earlier
from sidelong.clinic.look.glyphs import draw_figure, draw_glyph
from sidelong.clinic.look.languages import name_language
from sidelong.clinic.look.pieces import say_piece
from sidelong.clinic.look.trend import TrendPicture, picture_trend
from sidelong.clinic.look.way import StepState, WayStep

__all__ = [
    "ChancesPicture",
    "EarlierPicture",
    "StepState",
    "TrendPicture",
    "WayStep",
    "draw_figure",
    "draw_glyph",
    "name_language",
    "picture_chances",
    "picture_earlier",
    "picture_trend",
    "say_piece",
]
