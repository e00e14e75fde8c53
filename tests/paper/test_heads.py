"""The drawn heads and their words."""

import re
from importlib.resources import files

import pytest

from sidelong.paper.heads import HEAD_WORDS, say_head
from sidelong.paper.language import read_language
from sidelong.training.position import ALL_POSITIONS, Position

DRAWINGS = files("sidelong.paper") / "drawings"


def drawn(name: str) -> str:
    return (DRAWINGS / f"{name}.svg").read_text(encoding="utf-8")


def test_every_position_has_a_drawing_and_words_of_its_own() -> None:
    drawings = {drawn(f"head-{position}") for position in ALL_POSITIONS}
    assert len(drawings) == len(ALL_POSITIONS)
    for field in ("name", "side", "how", "drawing"):
        assert len({getattr(HEAD_WORDS[each], field) for each in ALL_POSITIONS}) == 5


def test_right_is_drawn_as_the_mirror_image_of_left() -> None:
    # Only the drawing files are related by a mirror; no page ever mirrors one of them.
    left, right = drawn("head-left"), drawn("head-right")
    assert 'transform="matrix(-1 0 0 1 100 0)"' in right
    assert set(re.findall(r' d="([^"]+)"', left)) == set(re.findall(r' d="([^"]+)"', right))


def test_the_turned_head_points_to_its_own_side_seen_from_behind() -> None:
    # Seen from behind, the trainee's left is the reader's left: the arrow ends there.
    arrow = re.findall(r' d="M([\d.]+) [\d.]+ L([\d.]+) ', drawn("head-left"))[-1]
    assert "#a8482a" in drawn("head-left")
    assert float(arrow[1]) < float(arrow[0])


def test_the_band_is_on_the_right_wrist_of_the_figures() -> None:
    # From behind, right is where x is large; the band is drawn in the accent colour.
    [band] = re.findall(r'd="([^"]+)" stroke="#a8482a"', drawn("body"))
    assert min(float(x) for x in re.findall(r"[ML]?([\d.]+) [\d.]+", band)) > 100
    for name in ("side-down", "side-up"):
        assert drawn(name).count("#a8482a") == 2, "a band and an arrow"


@pytest.mark.parametrize("tag", ["en", "en-XA", "ar-XB"])
def test_words_are_said_in_the_language_asked_for(tag: str) -> None:
    language = read_language(tag)
    said = say_head(Position.LEFT, language=language)
    assert said["position"] == "left"
    assert said["name"] == language.say("Left")
    assert (said["name"] == "Left") == (tag == "en")
