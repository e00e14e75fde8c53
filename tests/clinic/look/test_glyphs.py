import re
from importlib.resources import files
from xml.etree import ElementTree

import pytest

from sidelong.clinic.look.glyphs import draw_figure, draw_glyph
from sidelong.training.position import Position

COLOUR = re.compile(r"#[0-9a-f]{6}")


def paths_of(svg):
    return re.findall(r' d="([^"]+)"', svg)


def printed(name):
    return (files("sidelong.paper") / "drawings" / f"{name}.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize("position", Position)
def test_a_page_shows_the_very_strokes_of_the_printed_head(position):
    assert paths_of(draw_glyph(position)) == paths_of(printed(f"head-{position.value}"))


@pytest.mark.parametrize("position", Position)
def test_every_colour_but_paper_follows_the_page(position):
    for svg in (draw_glyph(position), draw_figure(position)):
        root = ElementTree.fromstring(svg)
        for each in root.iter():
            for attribute in ("fill", "stroke"):
                colour = each.get(attribute, "")
                if COLOUR.fullmatch(colour):
                    assert colour == "#ffffff"
                    assert each.get("class") in {"paper-area", "paper-line"}


def test_no_two_positions_have_the_same_shape():
    shapes = {(*paths_of(svg), svg.count("matrix")) for svg in map(draw_glyph, Position)}
    assert len(shapes) == len(Position)


def test_right_is_left_seen_in_a_mirror_and_no_page_mirrors_it_again():
    left, right = draw_glyph(Position.LEFT), draw_glyph(Position.RIGHT)
    assert "matrix(-1 0 0 1 100 0)" in right
    assert paths_of(left) == paths_of(right)
    css = (files("sidelong.clinic") / "static" / "clinic" / "parts.css").read_text(encoding="utf-8")
    assert "scale" not in css
    assert "direction: ltr" in css


def test_a_drawing_alone_carries_a_name_and_one_beside_its_name_is_silent():
    alone = ElementTree.fromstring(draw_glyph(Position.UP, label='lifted a "little" & no more'))
    assert alone.get("role") == "img"
    assert alone.get("aria-label") == 'lifted a "little" & no more'
    beside = ElementTree.fromstring(draw_glyph(Position.UP))
    assert beside.get("aria-hidden") == "true"
    assert beside.get("aria-label") is None


@pytest.mark.parametrize("position", Position)
def test_the_figure_wears_its_band_on_its_own_right_wrist(position):
    """The figure is seen from behind, so its right is on the right of the page."""
    svg = draw_figure(position)
    band = next(d for d in paths_of(printed("body")) if d.startswith("M118 92"))
    assert band in svg
    xs = [float(x) for x in re.findall(r"[ML]([\d.]+)", band)]
    assert min(xs) > 100, "beyond the head and body, which end at 100"
    assert set(paths_of(printed(f"head-{position.value}"))) <= set(paths_of(svg))
