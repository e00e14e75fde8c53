"""The table of a ladder."""

from pathlib import Path

import pytest

from sidelong.exchange.pieces import read_ladder, write_ladder
from sidelong.problems import Refused
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Buoyancy, Ingredient, Piece, PieceKind, Shape

LADDER = Ladder(
    (
        Piece("bead-3", 3, 3, 3, 21.0, ingredients=frozenset({Ingredient.SUCROSE})),
        Piece("bead-5", 5, 5, 5, 98.5, dissolves=True, sugar_mg=90.0),
        Piece(
            "oval-9",
            9,
            6,
            5,
            200.0,
            Shape.OVAL,
            PieceKind.PLACEBO_TABLET,
            frozenset({Ingredient.CELLULOSE, Ingredient.LACTOSE}),
        ),
        Piece(
            "cap-2",
            17.8,
            6.4,
            6.4,
            None,
            Shape.CAPSULE,
            PieceKind.PLACEBO_CAPSULE,
            seen_in_water=Buoyancy.FLOATS,
        ),
    )
)


def table(folder: Path, *lines: str) -> Path:
    path = folder / "ladder.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def faults(path: Path) -> list[str]:
    with pytest.raises(Refused) as refusal:
        read_ladder(path)
    return [str(each) for each in refusal.value.problems]


def test_written_ladder_reads_back_as_the_same_value(tmp_path: Path) -> None:
    write_ladder(tmp_path / "ladder.csv", LADDER)

    assert read_ladder(tmp_path / "ladder.csv") == LADDER


def test_short_table_is_enough(tmp_path: Path) -> None:
    path = table(tmp_path, "step,piece,length_mm,shape", "2,big,6,sphere", "1,small,4,sphere")

    ladder = read_ladder(path)

    assert [piece.code for piece in ladder.steps] == ["small", "big"]
    assert ladder.steps[0].thickness_mm == 4


def test_every_faulty_row_is_named_at_once(tmp_path: Path) -> None:
    path = table(
        tmp_path,
        "step,piece,length_mm,width_mm,shape,ingredients",
        "1,a,4,,sphere,sugar",
        "2,b,5,6,disc,",
        "4,a,7,,cube,sucrose gelatin",
        "x,d,8,,sphere,",
    )

    found = faults(path)

    for place in (
        "row 2, ingredients",
        "row 3, length_mm",
        "row 4, piece",
        "row 4, shape",
        "row 4, step",
        "row 5, step",
    ):
        assert any(each.startswith(f"ladder.csv, {place}") for each in found), place


def test_ladder_that_does_not_ascend_is_refused_with_its_file(tmp_path: Path) -> None:
    path = table(tmp_path, "step,piece,length_mm,shape", "1,a,6,sphere", "2,b,4,sphere")

    (fault,) = faults(path)

    assert fault.startswith("ladder.csv, step 2: piece b is not larger")
