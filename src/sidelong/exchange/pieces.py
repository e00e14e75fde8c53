"""The site's table of pieces: what each measures and holds, in the order of the ladder."""

from collections.abc import Sequence
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value, in_words, nearest
from sidelong.exchange.rows import find_repeats
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.ladder import Ladder
from sidelong.training.piece import LARGEST_MM, Buoyancy, Ingredient, Piece, PieceKind, Shape


def _optional(name: str, kind: Kind, says: str, **more: object) -> Column:
    return Column(name=name, kind=kind, says=says, is_required=False, may_be_blank=True, **more)  # type: ignore[arg-type]


LADDER_COLUMNS = (
    Column(
        name="step",
        kind=Kind.INTEGER,
        least=1,
        most=99,
        says="Step on the ladder, from 1 without gaps.",
    ),
    Column(name="piece", kind=Kind.CODE, says="The site's code of the piece; no brand."),
    Column(name="length_mm", kind=Kind.NUMBER, above=0, most=LARGEST_MM, says="Longest side, mm."),
    _optional("width_mm", Kind.NUMBER, "Second dimension, mm; as the length where empty.", above=0),
    _optional(
        "thickness_mm", Kind.NUMBER, "Third dimension, mm; as the width where empty.", above=0
    ),
    _optional("mass_mg", Kind.NUMBER, "Mean mass of one piece, mg.", above=0),
    Column(name="shape", kind=Kind.CHOICE, choices=tuple(Shape), says="Outline of the piece."),
    _optional("kind", Kind.CHOICE, "What it is; sugar where empty.", choices=tuple(PieceKind)),
    _optional(
        "ingredients",
        Kind.LABEL,
        f"What the label names, with spaces between: {in_words(tuple(Ingredient))}. "
        "Empty means that nobody has read the label.",
    ),
    _optional("hard", Kind.CHOICE, "Hard to the bite; yes where empty.", choices=("yes", "no")),
    _optional(
        "dissolves",
        Kind.CHOICE,
        "Known to dissolve if it stays behind; no where empty.",
        choices=("yes", "no"),
    ),
    _optional("sugar_mg", Kind.NUMBER, "Sugar in one piece, mg, from the label.", least=0),
    _optional(
        "in_water",
        Kind.CHOICE,
        "What staff saw in a glass of water.",
        choices=(Buoyancy.SINKS.value, Buoyancy.FLOATS.value),
    ),
)


def read_ladder(path: Path) -> Ladder:
    """Read the table of a ladder.

    Parameters
    ----------
    path : Path
        Table with the columns of :data:`LADDER_COLUMNS`, one row a step.

    Returns
    -------
    Ladder
        Steps in ascending order.

    Raises
    ------
    Refused
        With every faulty row: cells, steps with gaps, pieces that cannot be, steps that do not
        ascend.
    """
    scan = scan_table(path, LADDER_COLUMNS)
    rows = sorted(scan.rows, key=lambda row: row["step"] or 0)
    faults = [*scan.faults, *find_repeats(rows, "step", of="the ladder")]
    faults += find_repeats(rows, "piece", of="the ladder")
    faults += _step_gaps(rows)
    pieces = []
    for row in rows:
        if not row.faulty:
            made = _piece(row)
            if isinstance(made, Piece):
                pieces.append(made)
            else:
                faults += made
    if faults:
        raise Refused(faults)
    try:
        return Ladder(tuple(pieces))
    except Refused as refused:
        raise Refused(
            [
                Problem(f"{path.name}, {each.where}", each.what, each.remedy, each.kind)
                for each in refused.problems
            ]
        ) from None


def write_ladder(path: Path, ladder: Ladder) -> None:
    """Write the table of a ladder, whole or not at all.

    Parameters
    ----------
    path : Path
        Table to write; a file of that name is replaced.
    ladder : Ladder
        What to write; it reads back as the same value.
    """
    rows = [_cells(step, piece) for step, piece in enumerate(ladder.steps, start=1)]
    write_table(path, LADDER_COLUMNS, rows)


def _step_gaps(rows: Sequence[Row]) -> list[Problem]:
    steps = {row["step"] for row in rows if "step" not in row.faulty}
    remedy = "Number the steps from 1 without gaps."
    return [
        row.problem("step", f"step {row['step']} comes without step {row['step'] - 1}", remedy)
        for row in rows
        if row["step"] is not None and row["step"] > 1 and row["step"] - 1 not in steps
    ]


def _piece(row: Row) -> Piece | list[Problem]:
    words = (row["ingredients"] or "").replace(";", " ").split()
    faults = [
        row.problem(
            "ingredients",
            "an ingredient is not known here",
            f"Use {in_words(tuple(Ingredient))}.{nearest(word, tuple(Ingredient))}",
        )
        for word in words
        if word not in set(Ingredient)
    ]
    if faults:
        return faults
    length = row["length_mm"]
    width = row["width_mm"] or length
    try:
        return Piece(
            code=row["piece"],
            length_mm=length,
            width_mm=width,
            thickness_mm=row["thickness_mm"] or width,
            mass_mg=row["mass_mg"],
            shape=Shape(row["shape"]),
            kind=PieceKind(row["kind"] or PieceKind.SUGAR),
            ingredients=frozenset(map(Ingredient, words)),
            hard=row["hard"] != "no",
            dissolves=row["dissolves"] == "yes",
            sugar_mg=row["sugar_mg"],
            seen_in_water=Buoyancy(row["in_water"]) if row["in_water"] else None,
        )
    except Refused as refused:
        return [
            row.problem(each.where, each.what, each.remedy, kind=each.kind)
            for each in refused.problems
        ]


def _cells(step: int, piece: Piece) -> dict[str, Value]:
    seen = piece.seen_in_water
    return {
        "step": step,
        "piece": piece.code,
        "length_mm": piece.length_mm,
        "width_mm": piece.width_mm,
        "thickness_mm": piece.thickness_mm,
        "mass_mg": piece.mass_mg,
        "shape": piece.shape,
        "kind": piece.kind,
        "ingredients": " ".join(sorted(piece.ingredients)) or None,
        "hard": "yes" if piece.hard else "no",
        "dissolves": "yes" if piece.dissolves else "no",
        "sugar_mg": piece.sugar_mg,
        "in_water": None if seen in {None, Buoyancy.UNSURE} else seen,
    }
