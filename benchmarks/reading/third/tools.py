"""What a family writes with: how wide, how dark, how the ink lies, in which colours."""

from dataclasses import dataclass

import numpy as np

Colour = tuple[int, int, int]


@dataclass(frozen=True)
class Texture:
    """How unevenly ink covers paper: noise of one grain, lifted, stretched and cut off."""

    grain_px: float
    base: float
    gain: float
    lowest: float
    highest: float


SMOOTH = Texture(grain_px=6, base=1, gain=0.5, lowest=0.8, highest=1.05)
GRAIN = Texture(grain_px=1.3, base=0.85, gain=0.9, lowest=0.3, highest=1.1)
WAX = Texture(grain_px=1.8, base=0.7, gain=2.2, lowest=0.05, highest=1.0)


@dataclass(frozen=True)
class Kind:
    """A kind of tool, with the ranges from which one is drawn."""

    width_mm: tuple[float, float]
    darkness: tuple[float, float]
    texture: Texture
    colours: tuple[Colour, ...]


@dataclass(frozen=True)
class Tool:
    """One tool in one hand; `darkness` is the share of light that its ink takes."""

    name: str
    width_mm: float
    darkness: float
    texture: Texture
    colour: Colour


KINDS = {
    "ball": Kind((0.35, 0.6), (0.82, 0.97), SMOOTH,
                 ((25, 45, 150), (20, 35, 120), (28, 28, 34), (28, 28, 34), (30, 60, 170),
                  (180, 30, 40))),
    "pencil": Kind((0.45, 0.8), (0.62, 0.85), GRAIN, ((70, 70, 76), (60, 60, 66))),
    "faint": Kind((0.4, 0.7), (0.25, 0.4), GRAIN, ((80, 80, 86),)),
    "felt": Kind((1.0, 2.0), (0.85, 0.95), SMOOTH,
                 ((20, 20, 25), (30, 50, 170), (200, 30, 45), (20, 120, 60), (110, 40, 140),
                  (235, 105, 45))),
    "crayon": Kind((1.6, 3.0), (0.7, 0.92), WAX,
                   ((200, 50, 50), (40, 80, 180), (40, 140, 70), (130, 60, 140), (120, 75, 45),
                    (235, 120, 40))),
    "highlighter": Kind((3.2, 4.6), (0.7, 0.9), SMOOTH,
                        ((255, 240, 60), (255, 130, 190), (140, 240, 120), (255, 175, 70))),
}  # fmt: skip
# A yellow or orange highlighter cannot be seen in a grey scan or a dark photograph.
SEEN_HIGHLIGHTERS: tuple[Colour, ...] = ((255, 130, 190), (110, 220, 100))
# Nor can the faintest pencil in a poor photograph: what nobody can see is no test.
FAINT_IS_DARKER = {"poor_phone": 0.05, "terrible": 0.15}


def draw_tool(name: str, *, severity: str, is_grey: bool, rng: np.random.Generator) -> Tool:
    """Draw one tool of a kind."""
    kind = KINDS[name]
    colours = kind.colours
    if name == "highlighter" and (is_grey or severity == "terrible"):
        colours = SEEN_HIGHLIGHTERS
    darkness = rng.uniform(*kind.darkness)
    if name == "faint":
        darkness += FAINT_IS_DARKER.get(severity, 0)
    return Tool(
        name=name,
        width_mm=rng.uniform(*kind.width_mm),
        darkness=darkness,
        texture=kind.texture,
        colour=colours[rng.integers(len(colours))],
    )
