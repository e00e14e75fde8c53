"""Tags and shared templates: what they render, and that nothing on a page needs inline styles."""

import re
from importlib.resources import files
from pathlib import Path

import pytest
from django.template import engines

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.look.way import StepState, WayStep

CLINIC = Path(str(files("sidelong.clinic")))
STYLES = sorted((CLINIC / "static" / "clinic").glob("*.css"))


def render(text, **context):
    return engines["django"].from_string("{% load look %}" + text).render(context)


def luminance(colour):
    """Relative luminance as WCAG 2.2 defines it (https://www.w3.org/TR/WCAG22/)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def tokens():
    """The colours of :root, light and dark."""
    text = (CLINIC / "static" / "clinic" / "tokens.css").read_text(encoding="utf-8")
    light, dark = text.split("prefers-color-scheme: dark")[:2]
    return [dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", each)) for each in (light, dark)]


@pytest.mark.parametrize("which", [0, 1], ids=["light", "dark"])
def test_words_reach_4_5_to_1_and_outlines_3_to_1(which):
    """WCAG 2.2, 1.4.3 and 1.4.11."""
    colours = tokens()[which]
    for ground in ("paper", "wash"):
        for words in ("ink", "quiet", "accent"):
            assert contrast(colours[words], colours[ground]) >= 4.5, (words, ground)
    assert contrast(colours["on-accent"], colours["accent"]) >= 4.5
    assert contrast(colours["edge"], colours["paper"]) >= 3.0


def test_pages_have_the_colours_of_everything_printed():
    look = (files("sidelong.paper") / "look.typ").read_text(encoding="utf-8")
    printed = dict(re.findall(r'#let ([a-z]+) = rgb\("(#[0-9a-f]{6})"\)', look))
    light = tokens()[0]
    assert printed.keys() >= {"accent", "ink", "quiet", "edge", "hair", "wash"}
    assert {name: light[name] for name in printed} == printed


@pytest.mark.parametrize("style", STYLES, ids=lambda path: path.name)
def test_no_style_names_a_physical_side(style):
    """Left and right of a page change places where lines run from right to left."""
    text = re.sub(r"/\*.*?\*/", "", style.read_text(encoding="utf-8"), flags=re.DOTALL)
    physical = re.findall(
        r"\b(?:margin|padding|border|inset)-(?:left|right)\b|text-align: (?:left|right)|float:",
        text,
    )
    assert physical == []


def test_no_shared_template_carries_styles_or_scripts_of_its_own():
    for path in (CLINIC / "templates").rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"\sstyle=|<style|\son[a-z]+=", text), path.name


def test_a_position_is_named_once_for_those_who_listen():
    shown = render("{% position 'left' side=True %}")
    assert shown.count("Left") == 1
    assert 'aria-hidden="true"' in shown
    assert "your left" in shown


def test_a_glyph_alone_says_what_it_shows():
    assert 'aria-label="Head seen from behind, nodding down."' in render("{% glyph 'down' %}")
    assert "aria-label" not in render("{% glyph 'down' alone=False %}")


def test_a_rating_says_its_number_and_word():
    assert 'aria-label="4, easy"' in render("{% stair 4 %}")


def test_a_label_cannot_break_out_of_its_attribute():
    shown = render("{% mark 'no' label %}", label='"><script>')
    assert "<script>" not in shown


def test_the_way_marks_what_is_next_and_keeps_what_was_skipped():
    steps = [
        WayStep("Visit", StepState.SKIPPED, note="Not held."),
        WayStep("Plan", StepState.NEXT, url="/plan/", action="Set a plan"),
    ]
    shown = render("{% include 'parts/way.html' %}", steps=steps)
    assert shown.count('aria-current="step"') == 1
    assert "skipped" in shown
    assert "Not held." in shown


@pytest.mark.parametrize("role", Role)
def test_every_role_may_see_the_page_of_all_parts(role, make_staff, signed_in):
    page = signed_in(make_staff(role)).get("/parts/")
    assert page.status_code == 200
    assert "Invented example" in page.content.decode()


def test_a_field_at_fault_is_described_by_its_fault(make_staff, signed_in):
    page = signed_in(make_staff(Role.COACH)).get("/parts/").content.decode()
    control = re.search(r'<input[^>]*name="faulty-code"[^>]*>', page)[0]
    for name in re.search(r'aria-describedby="([^"]+)"', control)[1].split():
        assert f'id="{name}"' in page
    assert 'href="#id_faulty-code"' in page
