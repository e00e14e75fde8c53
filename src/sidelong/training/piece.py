"""Practice pieces: what they measure, what they hold, and whether they sink.

A piece is described by shape, size, mass and ingredients, never by a brand. Volumes follow from
the three dimensions by the conventions of ``docs/method/pieces.md``; where a shape leaves room
for doubt, the smallest and the largest volume are both worked out and the answer stays open
unless they agree. What staff saw in a glass of water counts for more than arithmetic.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.volume import capsule_mm3, cylinder_mm3, ellipsoid_mm3

WATER_G_PER_ML = 0.998  # at 20 degrees Celsius; from memory
LARGEST_MM = 50
NEAR_WATER_G_PER_ML = 0.05  # closer to water than this, callipers cannot tell; common practice


class Shape(StrEnum):
    """Outline of a piece."""

    SPHERE = "sphere"
    DISC = "disc"
    OVAL = "oval"
    CAPSULE = "capsule"


class PieceKind(StrEnum):
    """What a piece is; medicines are never practice pieces."""

    SUGAR = "sugar"
    PLACEBO_TABLET = "placebo_tablet"
    PLACEBO_CAPSULE = "placebo_capsule"


class Buoyancy(StrEnum):
    """What a piece does in water; `unsure` asks for a try in a glass."""

    SINKS = "sinks"
    FLOATS = "floats"
    UNSURE = "unsure"


class Ingredient(StrEnum):
    """What a label can name, as far as a limit may depend on it."""

    SUCROSE = "sucrose"
    GLUCOSE = "glucose"
    FRUCTOSE = "fructose"
    SORBITOL = "sorbitol"
    OTHER_SUGAR_ALCOHOL = "other_sugar_alcohol"
    ASPARTAME = "aspartame"
    OTHER_SWEETENER = "other_sweetener"
    LACTOSE = "lactose"
    WHEAT_STARCH = "wheat_starch"
    OTHER_STARCH = "other_starch"
    CELLULOSE = "cellulose"
    GELATIN = "gelatin"
    MILK = "milk"
    EGG = "egg"
    NUT = "nut"
    SOYA = "soya"
    COLOUR = "colour"
    INSECT_COLOUR = "insect_colour"
    FLAVOUR = "flavour"
    FAT = "fat"
    OTHER = "other"


class IngredientLimit(StrEnum):
    """A restriction on the pieces of one trainee."""

    NO_SUGAR = "no_sugar"
    NO_SUCROSE = "no_sucrose"
    NO_FRUCTOSE = "no_fructose"
    NO_SORBITOL = "no_sorbitol"
    NO_SUGAR_ALCOHOL = "no_sugar_alcohol"
    LIMIT_SUGAR_ALCOHOL = "limit_sugar_alcohol"
    NO_ASPARTAME = "no_aspartame"
    NO_LACTOSE = "no_lactose"
    GLUTEN_FREE = "gluten_free"
    NO_GELATIN = "no_gelatin"
    NO_INSECT_COLOUR = "no_insect_colour"
    MUST_DISSOLVE = "must_dissolve"
    CHECK_EVERY_BATCH = "check_every_batch"
    NOT_HARD_SUGAR = "not_hard_sugar"


_SUGARS = frozenset(
    {Ingredient.SUCROSE, Ingredient.GLUCOSE, Ingredient.FRUCTOSE, Ingredient.LACTOSE}
)
_SUGAR_ALCOHOLS = frozenset({Ingredient.SORBITOL, Ingredient.OTHER_SUGAR_ALCOHOL})

# Sucrose is half fructose and sorbitol turns into it, so a limit on fructose rules out all three.
_RULED_OUT: dict[IngredientLimit, frozenset[Ingredient]] = {
    IngredientLimit.NO_SUGAR: _SUGARS,
    IngredientLimit.NO_SUCROSE: frozenset({Ingredient.SUCROSE}),
    IngredientLimit.NO_FRUCTOSE: frozenset(
        {Ingredient.FRUCTOSE, Ingredient.SUCROSE, Ingredient.SORBITOL}
    ),
    IngredientLimit.NO_SORBITOL: frozenset({Ingredient.SORBITOL}),
    IngredientLimit.NO_SUGAR_ALCOHOL: _SUGAR_ALCOHOLS,
    IngredientLimit.NO_ASPARTAME: frozenset({Ingredient.ASPARTAME}),
    IngredientLimit.NO_LACTOSE: frozenset({Ingredient.LACTOSE, Ingredient.MILK}),
    IngredientLimit.GLUTEN_FREE: frozenset({Ingredient.WHEAT_STARCH}),
    IngredientLimit.NO_GELATIN: frozenset({Ingredient.GELATIN}),
    IngredientLimit.NO_INSECT_COLOUR: frozenset({Ingredient.INSECT_COLOUR}),
}


@dataclass(frozen=True)
class Piece:
    """One kind of practice piece, as measured by the site.

    Parameters
    ----------
    code : str
        The site's short code; printed, so no brand.
    length_mm, width_mm, thickness_mm : float
        Three dimensions, mm, longest first.
    mass_mg : float or None
        Mean mass of one piece, mg; None where it was not weighed.
    shape : Shape
        Outline.
    kind : PieceKind
        What it is.
    ingredients : frozenset of Ingredient
        All that the label names; empty means that nobody has read the label.
    hard : bool
        Hard to the bite; soft pieces invite chewing.
    dissolves : bool
        Known to dissolve if it stays behind.
    sugar_mg : float or None
        Sugar in one piece, mg, from the label; None counts the whole mass where sugar is possible.
    seen_in_water : Buoyancy or None
        What staff saw in a glass of water; None where nobody tried.

    Raises
    ------
    Refused
        With every fault: dimensions that are not positive or not in order, a sphere or capsule
        whose dimensions cannot be, an impossible mass or amount of sugar.
    """

    code: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    mass_mg: float | None = None
    shape: Shape = Shape.SPHERE
    kind: PieceKind = PieceKind.SUGAR
    ingredients: frozenset[Ingredient] = field(default_factory=frozenset)
    hard: bool = True
    dissolves: bool = False
    sugar_mg: float | None = None
    seen_in_water: Buoyancy | None = None

    def __post_init__(self) -> None:
        """Refuse a piece that cannot be."""
        problems = [*_code_faults(self), *_size_faults(self), *_mass_faults(self)]
        if problems:
            raise Refused(problems)

    @property
    def largest_mm(self) -> float:
        """Largest dimension, mm."""
        return self.length_mm

    @property
    def volume_ml(self) -> float:
        """Volume by the shape's convention, mL."""
        return _volume_mm3(self) / 1000

    @property
    def density_g_per_ml(self) -> float | None:
        """Density by the shape's convention, g/mL; None without a mass."""
        return None if self.mass_mg is None else self.mass_mg / _volume_mm3(self)

    @property
    def buoyancy(self) -> Buoyancy:
        """Sinks or floats: what was seen, else what size and mass prove, else unsure."""
        if self.seen_in_water is not None:
            return self.seen_in_water
        if self.mass_mg is None:
            return Buoyancy.UNSURE
        smallest, largest = _volume_bounds_mm3(self)
        if self.mass_mg / largest > WATER_G_PER_ML + NEAR_WATER_G_PER_ML:
            return Buoyancy.SINKS
        if self.mass_mg / smallest < WATER_G_PER_ML - NEAR_WATER_G_PER_ML:
            return Buoyancy.FLOATS
        return Buoyancy.UNSURE

    @property
    def is_hard_sugar(self) -> bool:
        """Whether the age limits for hard sugar pieces apply."""
        return self.kind is PieceKind.SUGAR and self.hard

    @property
    def sugar_at_most_mg(self) -> float | None:
        """Sugar in one piece, mg, never too low; None where it cannot be bounded."""
        if self.sugar_mg is not None:
            return self.sugar_mg
        if self.ingredients and not self.ingredients & _SUGARS:
            return 0.0
        return self.mass_mg


@dataclass(frozen=True)
class PieceFit:
    """Whether a piece suits a trainee's limits.

    Parameters
    ----------
    faults : tuple of str
        Limits that the piece breaks, each with its reason; empty if it suits.
    to_check : tuple of str
        What a person must still check or count before it is handed out.
    """

    faults: tuple[str, ...]
    to_check: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether no limit is broken."""
        return not self.faults


def fit_limits(
    piece: Piece, limits: Iterable[IngredientLimit], *, max_piece_mm: float | None = None
) -> PieceFit:
    """Hold a piece against the limits of one trainee.

    Parameters
    ----------
    piece : Piece
        The piece.
    limits : iterable of IngredientLimit
        Restrictions from readiness.
    max_piece_mm : float or None
        Largest dimension that a clinician allows, mm.

    Returns
    -------
    PieceFit
        An unread label breaks every limit that depends on ingredients.
    """
    faults: list[str] = []
    to_check: list[str] = []
    for limit in sorted(set(limits)):
        if limit is IngredientLimit.CHECK_EVERY_BATCH:
            to_check.append("read the label of every batch against the allergy")
        elif limit is IngredientLimit.LIMIT_SUGAR_ALCOHOL:
            if not piece.ingredients or piece.ingredients & _SUGAR_ALCOHOLS:
                to_check.append("count the sugar alcohol of an evening against the agreed amount")
        else:
            faults += _limit_faults(piece, limit)
    if max_piece_mm is not None and piece.largest_mm > max_piece_mm:
        faults.append(f"{piece.largest_mm:g} mm is larger than the {max_piece_mm:g} mm allowed")
    return PieceFit(tuple(faults), tuple(to_check))


@dataclass(frozen=True)
class PieceCount:
    """How many pieces a course takes, and the sugar in them.

    Parameters
    ----------
    planned, spares : int
        Pieces for the plan and on top of it.
    sugar_evening_g, sugar_course_g : float or None
        Upper bounds for one evening and for all planned pieces, g; None where no bound is known.
    """

    planned: int
    spares: int
    sugar_evening_g: float | None
    sugar_course_g: float | None

    @property
    def handed_out(self) -> int:
        """Pieces to count out, spares included."""
        return self.planned + self.spares


def count_pieces(
    piece: Piece, *, n_nights: int = 14, n_positions: int = 5, spares: int = 10
) -> PieceCount:
    """Count the pieces of a course that stays at one step.

    Parameters
    ----------
    piece : Piece
        The piece of every night.
    n_nights : int
        Nights of the course, >= 1.
    n_positions : int
        Pieces an evening, 1..5.
    spares : int
        Extra pieces for second tries and losses, >= 0; 70 + 10 is common practice, no source.

    Returns
    -------
    PieceCount
        Sugar of the planned pieces; a second try with a fresh piece adds to it.

    Raises
    ------
    ValueError
        If a count is out of range.
    """
    if n_nights < 1 or not 1 <= n_positions <= 5 or spares < 0:
        raise ValueError("a course has nights, one to five positions, and no negative spares")
    sugar_mg = piece.sugar_at_most_mg
    evening = None if sugar_mg is None else sugar_mg * n_positions / 1000
    course = None if evening is None else evening * n_nights
    return PieceCount(n_nights * n_positions, spares, evening, course)


def _volume_mm3(piece: Piece) -> float:
    if piece.shape is Shape.DISC:
        return cylinder_mm3(piece.length_mm, piece.width_mm, piece.thickness_mm)
    if piece.shape is Shape.CAPSULE:
        return capsule_mm3(piece.length_mm, piece.width_mm)
    return ellipsoid_mm3(piece.length_mm, piece.width_mm, piece.thickness_mm)


def _volume_bounds_mm3(piece: Piece) -> tuple[float, float]:
    """Bound the volume: domed discs and straight-sided ovals lie between the two conventions."""
    if piece.shape in {Shape.SPHERE, Shape.CAPSULE}:
        return _volume_mm3(piece), _volume_mm3(piece)
    sides = piece.length_mm, piece.width_mm, piece.thickness_mm
    return ellipsoid_mm3(*sides), cylinder_mm3(*sides)


def _limit_faults(piece: Piece, limit: IngredientLimit) -> list[str]:
    if limit is IngredientLimit.MUST_DISSOLVE:
        return [] if piece.dissolves else ["not known to dissolve"]
    if limit is IngredientLimit.NOT_HARD_SUGAR:
        return ["a hard sugar piece; another form was meant"] if piece.is_hard_sugar else []
    if not piece.ingredients:
        return [f"{limit.value}: nobody has read the label"]
    found = sorted(piece.ingredients & _RULED_OUT[limit])
    return [f"{limit.value}: holds {', '.join(found)}"] if found else []


def _code_faults(piece: Piece) -> list[Problem]:
    if piece.code and piece.code == piece.code.strip():
        return []
    return [_fault("code", f'"{piece.code}" is not a code', "Give a short code without spaces.")]


def _size_faults(piece: Piece) -> list[Problem]:
    sizes = {name: getattr(piece, name) for name in ("length_mm", "width_mm", "thickness_mm")}
    faults = [
        _fault(name, f"{size:g} mm cannot be", "Measure it with a calliper, in mm.")
        for name, size in sizes.items()
        if not 0 < size <= LARGEST_MM
    ]
    if faults:
        return faults
    length, width, thickness = sizes.values()
    if not length >= width >= thickness:
        what = f"{length:g} x {width:g} x {thickness:g} mm is not longest first"
        return [_fault("length_mm", what, "Give length, then width, then thickness.")]
    if piece.shape is Shape.SPHERE and length - thickness > 0.1 * length:
        what = f"a sphere cannot measure {length:g} x {width:g} x {thickness:g} mm"
        return [_fault("shape", what, "Use oval or disc, or measure again.")]
    if piece.shape is Shape.CAPSULE and width - thickness > 0.1 * width:
        what = f"a capsule is round across, not {width:g} x {thickness:g} mm"
        return [_fault("shape", what, "Use oval, or measure again.")]
    return []


def _mass_faults(piece: Piece) -> list[Problem]:
    faults = []
    if piece.mass_mg is not None and not 0 < piece.mass_mg <= 20_000:
        faults.append(_fault("mass_mg", f"{piece.mass_mg:g} mg cannot be", "Weigh it, in mg."))
    if piece.sugar_mg is not None:
        most = math.inf if piece.mass_mg is None else piece.mass_mg
        if not 0 <= piece.sugar_mg <= most:
            what = f"{piece.sugar_mg:g} mg of sugar cannot be in one piece"
            faults.append(_fault("sugar_mg", what, "Give the sugar of one piece, in mg."))
    return faults


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "piece")
