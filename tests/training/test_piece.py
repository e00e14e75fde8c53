"""Pieces: volume, density, sinking, limits, counts; checked against handbook arithmetic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.problems import Refused
from sidelong.training.piece import (
    Buoyancy,
    Ingredient,
    IngredientLimit,
    Piece,
    PieceKind,
    Shape,
    count_pieces,
    fit_limits,
)
from sidelong.training.volume import capsule_mm3, cylinder_mm3, ellipsoid_mm3

SUGAR = frozenset({Ingredient.SUCROSE, Ingredient.GLUCOSE})


def sphere(size: float, mass: float | None = None, **more: object) -> Piece:
    return Piece("P", size, size, size, mass, **more)  # type: ignore[arg-type]


# Computed table of sugar spheres at 1.5 g/mL: diameter mm, volume mL, mass mg, five pieces g, 70 g.
SUGAR_SPHERES = (
    (2, 0.004, 6, 0.03, 0.4),
    (3, 0.014, 21, 0.1, 1.5),
    (4, 0.034, 50, 0.25, 3.5),
    (5, 0.065, 98, 0.5, 6.9),
    (6, 0.113, 170, 0.85, 11.9),
    (8, 0.268, 402, 2.0, 28),
    (10, 0.524, 785, 3.9, 55),
)


def half_a_digit(tabled: float) -> float:
    """How far a value may be from its printed form."""
    digits = str(tabled).partition(".")[2]
    return 0.5 * 10 ** -len(digits) * 1.001


@pytest.mark.parametrize(("size", "volume", "mass", "evening", "course"), SUGAR_SPHERES)
def test_sugar_spheres_have_the_tabled_volume_mass_and_sugar(
    size: float, volume: float, mass: float, evening: float, course: float
) -> None:
    piece = sphere(size)
    weighed = sphere(size, piece.volume_ml * 1500)
    count = count_pieces(weighed)

    assert piece.volume_ml == pytest.approx(volume, abs=0.0006)
    assert weighed.mass_mg == pytest.approx(mass, abs=0.9)
    assert weighed.density_g_per_ml == pytest.approx(1.5)
    assert count.sugar_evening_g == pytest.approx(evening, abs=half_a_digit(evening))
    assert count.sugar_course_g == pytest.approx(course, abs=half_a_digit(course))


def test_seventy_pieces_and_ten_spares_by_default() -> None:
    count = count_pieces(sphere(5))

    assert (count.planned, count.spares, count.handed_out) == (70, 10, 80)


def test_fewer_positions_need_fewer_pieces() -> None:
    assert count_pieces(sphere(5), n_nights=10, n_positions=3, spares=4).handed_out == 34


def test_counts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="one to five positions"):
        count_pieces(sphere(5), n_positions=6)


def test_sphere_of_ten_millimetres_holds_what_geometry_says() -> None:
    assert ellipsoid_mm3(10, 10, 10) == pytest.approx(4 / 3 * math.pi * 5**3)


def test_ellipsoid_is_two_thirds_of_its_cylinder() -> None:
    # Archimedes: a sphere fills two thirds of the cylinder around it.
    assert ellipsoid_mm3(9, 6, 4) == pytest.approx(2 / 3 * cylinder_mm3(9, 6, 4))


@given(st.floats(1, 20), st.floats(0, 20))
def test_capsule_is_a_sphere_and_a_cylinder(diameter: float, straight: float) -> None:
    parts = math.pi / 6 * diameter**3 + math.pi / 4 * diameter**2 * straight

    assert capsule_mm3(diameter + straight, diameter) == pytest.approx(parts)


def test_boiled_sugar_sinks_and_foam_floats() -> None:
    # Densities from memory: boiled sugar 1.4 to 1.55 g/mL, aerated sugar 0.3 to 0.6 g/mL.
    volume_mm3 = sphere(6).volume_ml * 1000

    assert sphere(6, 1.45 * volume_mm3).buoyancy is Buoyancy.SINKS
    assert sphere(6, 0.45 * volume_mm3).buoyancy is Buoyancy.FLOATS


@pytest.mark.parametrize("density", [0.95, 0.998, 1.04])
def test_close_to_water_is_not_judged_by_arithmetic(density: float) -> None:
    assert sphere(6, density * sphere(6).volume_ml * 1000).buoyancy is Buoyancy.UNSURE


def test_oval_whose_volume_is_uncertain_is_not_called_sinking() -> None:
    # 1.2 g/mL as an ellipsoid, 0.8 g/mL with straight sides: only a glass of water can tell.
    mass = 1.2 * ellipsoid_mm3(16, 7, 5)

    assert Piece("P", 16, 7, 5, mass, Shape.OVAL).buoyancy is Buoyancy.UNSURE


def test_what_was_seen_in_water_counts_for_more() -> None:
    assert sphere(6, 10, seen_in_water=Buoyancy.SINKS).buoyancy is Buoyancy.SINKS


def test_unweighed_piece_is_unsure() -> None:
    assert sphere(6).buoyancy is Buoyancy.UNSURE
    assert sphere(6).density_g_per_ml is None


@pytest.mark.parametrize(
    ("limit", "ingredient"),
    [
        (IngredientLimit.NO_SUGAR, Ingredient.GLUCOSE),
        (IngredientLimit.NO_SUCROSE, Ingredient.SUCROSE),
        (IngredientLimit.NO_FRUCTOSE, Ingredient.SUCROSE),
        (IngredientLimit.NO_FRUCTOSE, Ingredient.SORBITOL),
        (IngredientLimit.NO_SORBITOL, Ingredient.SORBITOL),
        (IngredientLimit.NO_SUGAR_ALCOHOL, Ingredient.OTHER_SUGAR_ALCOHOL),
        (IngredientLimit.NO_ASPARTAME, Ingredient.ASPARTAME),
        (IngredientLimit.NO_LACTOSE, Ingredient.MILK),
        (IngredientLimit.GLUTEN_FREE, Ingredient.WHEAT_STARCH),
        (IngredientLimit.NO_GELATIN, Ingredient.GELATIN),
        (IngredientLimit.NO_INSECT_COLOUR, Ingredient.INSECT_COLOUR),
    ],
)
def test_limit_rules_out_its_ingredient_and_lets_others_pass(
    limit: IngredientLimit, ingredient: Ingredient
) -> None:
    with_it = sphere(5, ingredients=frozenset({ingredient, Ingredient.FLAVOUR}))
    without = sphere(5, ingredients=frozenset({Ingredient.CELLULOSE}))

    assert not fit_limits(with_it, [limit]).fits
    assert fit_limits(without, [limit]).fits


@pytest.mark.parametrize(
    "limit",
    sorted(
        set(IngredientLimit)
        - {IngredientLimit.CHECK_EVERY_BATCH, IngredientLimit.LIMIT_SUGAR_ALCOHOL}
    ),
)
def test_unread_label_fits_no_limit(limit: IngredientLimit) -> None:
    assert not fit_limits(sphere(5), [limit]).fits


def test_what_only_a_person_can_check_is_listed() -> None:
    limits = [IngredientLimit.CHECK_EVERY_BATCH, IngredientLimit.LIMIT_SUGAR_ALCOHOL]
    polyol = sphere(5, ingredients=frozenset({Ingredient.SORBITOL}))

    assert len(fit_limits(polyol, limits).to_check) == 2
    assert len(fit_limits(sphere(5, ingredients=SUGAR), limits).to_check) == 1
    assert fit_limits(polyol, limits).fits


def test_piece_must_be_known_to_dissolve() -> None:
    assert not fit_limits(sphere(5), [IngredientLimit.MUST_DISSOLVE]).fits
    assert fit_limits(sphere(5, dissolves=True), [IngredientLimit.MUST_DISSOLVE]).fits


def test_another_form_is_not_hard_sugar() -> None:
    limits = [IngredientLimit.NOT_HARD_SUGAR]

    assert not fit_limits(sphere(5, ingredients=SUGAR), limits).fits
    assert fit_limits(sphere(5, kind=PieceKind.PLACEBO_TABLET), limits).fits
    assert fit_limits(sphere(5, hard=False), limits).fits


def test_piece_may_not_exceed_the_largest_allowed() -> None:
    assert fit_limits(sphere(5), [], max_piece_mm=5).fits
    assert not fit_limits(sphere(5.5), [], max_piece_mm=5).fits


def test_sugar_is_never_counted_too_low() -> None:
    assert sphere(5, 98).sugar_at_most_mg == 98
    assert sphere(5, 98, ingredients=SUGAR).sugar_at_most_mg == 98
    assert sphere(5, 98, ingredients=frozenset({Ingredient.SORBITOL})).sugar_at_most_mg == 0
    assert sphere(5, 98, ingredients=SUGAR, sugar_mg=60.0).sugar_at_most_mg == 60
    assert count_pieces(sphere(5)).sugar_evening_g is None


def test_age_limits_are_about_hard_sugar() -> None:
    assert sphere(5).is_hard_sugar
    assert not sphere(5, kind=PieceKind.PLACEBO_TABLET).is_hard_sugar
    assert not sphere(5, hard=False).is_hard_sugar


@pytest.mark.parametrize(
    "wrong",
    [
        {"code": ""},
        {"length_mm": 0.0},
        {"length_mm": 51.0},
        {"width_mm": 6.0},
        {"thickness_mm": 3.0},
        {"mass_mg": -1.0},
        {"mass_mg": 50.0, "sugar_mg": 60.0},
        {"shape": Shape.CAPSULE, "thickness_mm": 3.0},
    ],
)
def test_piece_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    right = {"code": "P", "length_mm": 5.0, "width_mm": 5.0, "thickness_mm": 5.0}

    with pytest.raises(Refused):
        Piece(**{**right, **wrong})  # type: ignore[arg-type]


def test_every_fault_of_a_piece_is_named_at_once() -> None:
    with pytest.raises(Refused) as refusal:
        Piece("", -1, 5, 5, -2)

    assert [each.where for each in refusal.value.problems] == ["code", "length_mm", "mass_mg"]
