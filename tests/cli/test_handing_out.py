"""How many pieces are counted out, and what they show."""

from dataclasses import replace

from sidelong.cli.handing_out import tell_pieces
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Buoyancy, Ingredient, Piece, PieceKind, Shape
from sidelong.training.plan import Night, Plan
from sidelong.training.position import ALL_POSITIONS

# A sugar sphere of 5 mm weighs about 98 mg: computed, pi/6 times 125 mm3 times 1.5 g/mL.
BEAD = Piece("bead-5", 5, 5, 5, 98, ingredients=frozenset({Ingredient.SUCROSE}))
FLOAT = Piece(
    "hollow-8", 20, 8, 8, 400, Shape.CAPSULE, PieceKind.PLACEBO_CAPSULE,
    frozenset({Ingredient.CELLULOSE}), seen_in_water=Buoyancy.FLOATS,
)  # fmt: skip


def plan(trainee, piece, *, positions=ALL_POSITIONS, nights=14):
    return Plan(trainee, (Night(positions, piece.largest_mm, piece.code),) * nights)


def test_pieces_are_counted_for_each_kind_of_plan():
    plans = [plan("A", BEAD), plan("B", BEAD), plan("C", BEAD, positions=ALL_POSITIONS[:1])]
    five, one, floating = tell_pieces(plans, Ladder((BEAD,)), spares=10)
    # 5 times 98 mg are 0.49 g.
    assert five == (
        "bead-5, 5 positions: 70 pieces and 10 spares for each of 2 trainees; "
        "at most 0.49 g of sugar an evening."
    )
    assert one.startswith("bead-5, 1 position: 14 pieces and 10 spares for each of 1 trainee;")
    assert "say nothing about a floating capsule" in floating


def test_floating_piece_needs_no_word_about_floating_and_holds_no_sugar():
    (line,) = tell_pieces([plan("A", FLOAT)], Ladder((FLOAT,)), spares=1)
    assert line.endswith("70 pieces and 1 spare for each of 1 trainee; no sugar on the label.")


def test_sugar_that_nobody_weighed_is_not_made_up():
    unknown = replace(BEAD, mass_mg=None)
    (line, _) = tell_pieces([plan("A", unknown)], Ladder((unknown,)), spares=0)
    assert "their sugar is not known" in line
