"""How badly each severity treats a sheet: the ranges and odds from which one image is drawn."""

from dataclasses import dataclass

Range = tuple[float, float]
NONE: Range = (0.0, 0.0)


@dataclass(frozen=True)
class Lens:
    """What becomes of the light: blur, noise and the file."""

    blur_mm: Range  # standard deviation on the paper, to which blur_px is added
    blur_px: Range
    moves: float  # odds that the phone moved
    motion_mm: Range
    noise: Range  # standard deviation, grey levels
    noise_is_coarse: bool
    jpeg_quality: tuple[int, int]  # the second is not reached


@dataclass(frozen=True)
class Conditions:
    """One severity of photographs; a share is of the width, of the light or of the picture."""

    bend_mm: Range
    fold: float
    fold_mm: Range
    crumple: float
    turn_deg: float  # standard deviation around a quarter turn
    tilt_deg: float  # at most, about either axis
    long_side_px: tuple[int, ...]
    fill: Range
    cut_off: float
    falloff: Range  # of the light across the picture
    cast: float  # standard deviation of warm or cold light
    has_two_lights: bool
    shadow: float
    shadow_depth: Range
    exposure: Range
    glare: float
    thumb: float
    lens: Lens


SCANNER = Lens(
    blur_mm=NONE,
    blur_px=(0.3, 0.7),
    moves=0,
    motion_mm=NONE,
    noise=(0.5, 3),
    noise_is_coarse=False,
    jpeg_quality=(82, 95),
)
PHONES = {
    "good_phone": Conditions(
        bend_mm=(0, 3),
        fold=0,
        fold_mm=NONE,
        crumple=0,
        turn_deg=3,
        tilt_deg=9,
        long_side_px=(4000, 3264, 3264, 2560, 2048, 1600),
        fill=(0.82, 0.96),
        cut_off=0,
        falloff=(0, 0.12),
        cast=0.04,
        has_two_lights=False,
        shadow=0.12,
        shadow_depth=(0.15, 0.15),
        exposure=(0.82, 1.02),
        glare=0,
        thumb=0,
        lens=Lens(
            blur_mm=(0.04, 0.1),
            blur_px=(0.3, 0.3),
            moves=0,
            motion_mm=NONE,
            noise=(1, 4),
            noise_is_coarse=False,
            jpeg_quality=(78, 93),
        ),
    ),
    "poor_phone": Conditions(
        bend_mm=(2, 10),
        fold=0.5,
        fold_mm=(1.5, 4),
        crumple=0,
        turn_deg=8,
        tilt_deg=22,
        long_side_px=(3264, 2560, 2048, 1600),
        fill=(0.7, 0.95),
        cut_off=0,
        falloff=(0.1, 0.4),
        cast=0.12,
        has_two_lights=True,
        shadow=0.65,
        shadow_depth=(0.2, 0.5),
        exposure=(0.6, 1.0),
        glare=0,
        thumb=0,
        lens=Lens(
            blur_mm=(0.08, 0.22),
            blur_px=NONE,
            moves=0.15,
            motion_mm=(0.2, 0.4),
            noise=(4, 10),
            noise_is_coarse=True,
            jpeg_quality=(55, 66),
        ),
    ),
    "terrible": Conditions(
        bend_mm=(8, 25),
        fold=0.6,
        fold_mm=(1.5, 8),
        crumple=0.6,
        turn_deg=15,
        tilt_deg=28,
        long_side_px=(2048, 1600, 1400, 1200),
        fill=(0.72, 1.0),
        cut_off=0.2,
        falloff=(0.2, 0.6),
        cast=0.16,
        has_two_lights=True,
        shadow=0.6,
        shadow_depth=(0.3, 0.6),
        exposure=(0.35, 0.8),
        glare=0.35,
        thumb=0.25,
        lens=Lens(
            blur_mm=(0.1, 0.28),
            blur_px=NONE,
            moves=1,
            motion_mm=(0.2, 0.9),
            noise=(6, 14),
            noise_is_coarse=True,
            jpeg_quality=(38, 60),
        ),
    ),
}
SEVERITIES = ("clean_scan", *PHONES)
