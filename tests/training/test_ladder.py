"""The ladder up to the medicine, and what practice on it does not show."""

from datetime import date

import pytest

from sidelong.problems import Refused
from sidelong.training.ladder import Ladder, Medicine, target_gaps, transfer_cautions
from sidelong.training.piece import Buoyancy, Piece, Shape

MEASURED = {"measured_by": "pharmacist", "measured_on": date(2026, 3, 1)}


def ball(size: float, code: str = "", seen: Buoyancy | None = None) -> Piece:
    return Piece(code or f"ball-{size:g}", size, size, size, seen_in_water=seen)


def medicine(
    length: float, width: float, shape: Shape, buoyancy: Buoyancy = Buoyancy.SINKS
) -> Medicine:
    return Medicine(length, width, width, shape, buoyancy, **MEASURED)  # type: ignore[arg-type]


def test_steps_ascend() -> None:
    ladder = Ladder((ball(3), ball(4), ball(6)))

    assert ladder.step_of("ball-6") == 3


def test_ladder_may_grow_in_one_direction_only() -> None:
    flat = Piece("flat", 8, 8, 4, shape=Shape.DISC)
    long = Piece("long", 12, 8, 4, shape=Shape.OVAL)

    assert Ladder((flat, long)).steps[-1] is long


@pytest.mark.parametrize(
    "steps",
    [
        (),
        (ball(4), ball(4, "same size")),
        (ball(5), ball(4)),
        (ball(5), ball(6, "ball-5")),
        (ball(6), Piece("longer but thinner", 12, 5, 5, shape=Shape.OVAL)),
    ],
)
def test_ladder_that_does_not_ascend_is_refused(steps: tuple[Piece, ...]) -> None:
    with pytest.raises(Refused):
        Ladder(steps)


# Sizes of medicines are examples from memory: a pharmacist measures the real one.
def test_round_medicine_asks_for_its_width_alone() -> None:
    ladder = Ladder((ball(5), ball(9)))

    assert target_gaps(ladder, medicine(9, 9, Shape.DISC)) == ()
    assert len(target_gaps(ladder, medicine(11, 11, Shape.DISC))) == 1


def test_long_medicine_asks_for_its_length_too() -> None:
    ladder = Ladder((ball(5), ball(9)))
    capsule = Piece("capsule", 18, 9, 9, shape=Shape.CAPSULE)

    assert len(target_gaps(ladder, medicine(18, 7, Shape.CAPSULE))) == 1
    assert len(target_gaps(ladder, medicine(18, 10, Shape.OVAL))) == 2
    assert target_gaps(Ladder((ball(9), capsule)), medicine(18, 7, Shape.CAPSULE)) == ()


SINKS, FLOATS = ball(5, seen=Buoyancy.SINKS), ball(5, "cork", seen=Buoyancy.FLOATS)
CAPSULE = medicine(18, 6.4, Shape.CAPSULE, Buoyancy.FLOATS)


def test_sinking_pieces_say_nothing_about_a_floating_capsule() -> None:
    (caution,) = transfer_cautions([SINKS], CAPSULE)

    assert "floats" in caution
    assert "must be seen swallowed" in caution
    assert transfer_cautions([SINKS, FLOATS], CAPSULE) == ()


def test_nothing_seen_says_nothing() -> None:
    assert transfer_cautions([], CAPSULE)
    assert transfer_cautions([], medicine(9, 9, Shape.DISC))
    assert transfer_cautions([SINKS], medicine(9, 9, Shape.DISC)) == ()
    assert transfer_cautions([FLOATS], medicine(9, 9, Shape.DISC))


def test_untried_pieces_and_medicines_never_count_as_seen() -> None:
    unsure = medicine(9, 9, Shape.DISC, Buoyancy.UNSURE)

    assert transfer_cautions([ball(5)], unsure)
    assert transfer_cautions([SINKS, FLOATS], unsure)
    assert transfer_cautions([ball(5)], CAPSULE)


def test_medicine_must_have_been_measured() -> None:
    with pytest.raises(ValueError, match="measured"):
        Medicine(9, 9, 4, Shape.DISC, Buoyancy.SINKS, "", date(2026, 3, 1))
    with pytest.raises(ValueError, match="longest first"):
        Medicine(4, 9, 4, Shape.DISC, Buoyancy.SINKS, "pharmacist", date(2026, 3, 1))
