"""What the terminal says about pieces: how many to count out, their sugar, and what they show."""

from collections import Counter
from collections.abc import Iterator, Sequence

from sidelong.cli.words import counted
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Buoyancy, PieceCount, count_pieces
from sidelong.training.plan import Plan


def tell_pieces(plans: Sequence[Plan], ladder: Ladder, *, spares: int) -> Iterator[str]:
    """Say how many pieces each trainee is handed, one line for each kind of plan.

    Parameters
    ----------
    plans : sequence of Plan
        Whose pieces stand on the ladder; a plan keeps one piece on all nights.
    ladder : Ladder
        The site's pieces.
    spares : int
        Extra pieces for second tries and losses.

    Yields
    ------
    str
        Lines for whoever counts pieces into the boxes.
    """
    known = {piece.code: piece for piece in ladder.steps}
    kinds = Counter((plan.nights[0].piece, len(plan.positions), len(plan.nights)) for plan in plans)
    for (code, n_positions, n_nights), n_trainees in kinds.items():
        count = count_pieces(known[code], n_nights=n_nights, n_positions=n_positions, spares=spares)
        yield (
            f"{code}, {counted(n_positions, 'position')}: {count.planned} pieces and "
            f"{counted(count.spares, 'spare')} for each of {counted(n_trainees, 'trainee')}; "
            f"{_sugar(count)}."
        )
    if all(known[code].buoyancy is not Buoyancy.FLOATS for code, *_ in kinds):
        yield (
            "None of these pieces is known to float: they say nothing about a floating capsule "
            "until a floating piece was seen swallowed."
        )


def _sugar(count: PieceCount) -> str:
    if count.sugar_evening_g is None:
        return "their sugar is not known, weigh one or read the label"
    if not count.sugar_evening_g:
        return "no sugar on the label"
    return f"at most {count.sugar_evening_g:.2f} g of sugar an evening"
