"""Capsule sizes against the industry table (no standard number exists).

Lengths, cap diameters and volumes: capsule-size charts, read in others' summaries. Body diameters
and shell masses: the long-standing handbook table, from memory. L + 2D and densities: computed.
"""

from itertools import pairwise

import pytest

from sidelong.training.capsules import (
    CAPSULE_SIZES,
    ELONGATED_SIZES,
    capsule_size,
    measures_like,
)
from sidelong.training.piece import WATER_G_PER_ML

# name, length, cap, body, volume, shell, L + 2D
TABLE = (
    ("000", 25.9, 9.96, 9.55, 1.37, 163, 45.8),
    ("00", 23.5, 8.55, 8.18, 0.95, 118, 40.6),
    ("0", 21.4, 7.66, 7.34, 0.68, 96, 36.7),
    ("1", 19.3, 6.93, 6.63, 0.50, 76, 33.2),
    ("2", 17.8, 6.37, 6.07, 0.37, 61, 30.5),
    ("3", 15.8, 5.85, 5.57, 0.30, 48, 27.5),
    ("4", 14.4, 5.33, 5.05, 0.21, 38, 25.1),
    ("5", 11.4, 4.91, 4.68, 0.13, 28, 21.2),
)
# The other charts' values, from memory; makers differ by 0.3 to 0.5 mm.
OTHER_CHARTS = (
    ("000", 26.1, 9.91),
    ("00", 23.3, 8.53),
    ("0", 21.7, 7.65),
    ("1", 19.4, 6.91),
    ("2", 18.0, 6.35),
    ("3", 15.9, 5.82),
    ("4", 14.3, 5.32),
    ("5", 11.1, 4.91),
)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row[0])
def test_size_is_as_tabled(row: tuple[str, float, float, float, float, float, float]) -> None:
    name, length, cap, body, volume, shell, index = row
    size = capsule_size(name)

    assert (size.length_mm, size.cap_mm, size.body_mm) == (length, cap, body)
    assert (size.volume_ml, size.shell_mg) == (volume, shell)
    assert size.length_and_twice_diameter_mm == pytest.approx(index, abs=0.051)


def test_larger_numbers_are_smaller_capsules() -> None:
    assert [size.name for size in CAPSULE_SIZES] == [row[0] for row in TABLE]
    for large, small in pairwise(CAPSULE_SIZES):
        assert large.length_mm > small.length_mm
        assert large.cap_mm > small.cap_mm
        assert large.volume_ml > small.volume_ml


# Ranges computed elsewhere for fills of 0.6, 0.8 and 1.0 g/mL; they hold for sizes 0 to 5. Sizes 00
# and 000, with relatively less shell, come out lighter and float all the more.
@pytest.mark.parametrize(
    ("fill", "low", "high"), [(0.6, 0.57, 0.61), (0.8, 0.71, 0.77), (1.0, 0.85, 0.93)]
)
def test_filled_capsules_have_the_computed_density_and_float(
    fill: float, low: float, high: float
) -> None:
    usual = [size.filled_density_g_per_ml(fill) for size in CAPSULE_SIZES[2:]]
    large = [size.filled_density_g_per_ml(fill) for size in CAPSULE_SIZES[:2]]

    assert min(usual) == pytest.approx(low, abs=0.006)
    assert max(usual) == pytest.approx(high, abs=0.006)
    assert max(*usual, *large) < WATER_G_PER_ML
    assert max(large) < high


def test_empty_capsules_have_the_computed_density() -> None:
    # Computed elsewhere: about 0.11 to 0.15 g/mL.
    for size in CAPSULE_SIZES[2:]:
        assert 0.105 < size.filled_density_g_per_ml(0) < 0.155


def test_capsule_sinks_only_with_a_heavy_fill() -> None:
    for size in CAPSULE_SIZES:
        assert size.filled_density_g_per_ml(1.03) < WATER_G_PER_ML
        assert size.filled_density_g_per_ml(1.25) > WATER_G_PER_ML


def test_shell_of_an_elongated_size_is_not_made_up() -> None:
    with pytest.raises(ValueError, match="not weighed"):
        capsule_size("0el").filled_density_g_per_ml(0.8)


@pytest.mark.parametrize("row", OTHER_CHARTS, ids=lambda row: row[0])
def test_other_charts_measure_like_the_same_size(row: tuple[str, float, float]) -> None:
    name, length, cap = row

    assert measures_like(name, length_mm=length, diameter_mm=cap)


@pytest.mark.parametrize(
    ("length", "diameter", "fits"),
    [
        (20.5, 7.66, True),
        (22.5, 7.66, True),
        (20.4, 7.66, False),
        (22.6, 7.66, False),
        (21.4, 7.4, True),
        (21.4, 7.9, True),
        (21.4, 7.3, False),
        (21.4, 8.0, False),
    ],
)
def test_band_of_size_zero(length: float, diameter: float, fits: bool) -> None:
    assert measures_like("0", length_mm=length, diameter_mm=diameter) is fits


def test_elongated_variants_are_not_taken_for_the_plain_size() -> None:
    for long in ELONGATED_SIZES:
        plain = long.name.removesuffix("el")
        assert not measures_like(plain, length_mm=long.length_mm, diameter_mm=long.cap_mm)
        assert measures_like(long.name, length_mm=long.length_mm, diameter_mm=long.cap_mm)


def test_unknown_size_is_refused() -> None:
    with pytest.raises(ValueError, match="known are 000"):
        capsule_size("6")


def test_no_value_goes_without_a_status() -> None:
    assert set(CAPSULE_SIZES[0].STATUS) == {
        "length_mm",
        "cap_mm",
        "volume_ml",
        "body_mm",
        "shell_mg",
    }
