"""Enumerate what a plan's counts can be, and what efficiency each of them gives.

With complete nights the information matrix of the position differences depends on two small
tables only: how often each position stands in each slot, and how often each position directly
follows each other one. So the best efficiency within a spread of 1 is found by enumerating these
tables up to relabelling, without looking at nights at all. For three positions the multisets of
the six orders are few enough to enumerate completely, which proves the optimum over all designs.
"""

import itertools
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

Counts = NDArray[np.int_]


def efficiency_from_counts(slots: Counts, pairs: Counts) -> NDArray[np.float64]:
    """Give A for many designs at once from their count tables alone.

    Parameters
    ----------
    slots : ndarray of int, shape (n_designs, n, n)
        Nights on which position `i` stands in slot `k`.
    pairs : ndarray of int, shape (n_designs, n, n)
        Times position `j` directly follows position `i` within a night.

    Returns
    -------
    ndarray of float, shape (n_designs,)
        `(n - 1) / sum(1 / eigenvalue)`, 0 where a difference cannot be estimated.
    """
    n_designs, n, _ = slots.shape
    n_nights = int(slots[0, 0].sum())
    last = slots[:, :, -1].astype(float)
    within = np.broadcast_to(n_nights * (np.eye(n) - 1 / n), (n_designs, n, n))
    position_slot = slots - n_nights / n
    # A night's carryover cells are all positions but its last, hence the count n_nights - last.
    position_carry = np.swapaxes(pairs, 1, 2) - (n_nights - last)[:, None, :] / n
    slot_carry = np.zeros((n_designs, n, n))
    slot_carry[:, 1:, :] = np.swapaxes(slots, 1, 2)[:, :-1, :]
    slot_carry -= (n_nights - last)[:, None, :] / n
    diagonal = np.eye(n) * last[:, None, :]
    carry = np.eye(n) * (n_nights - last)[:, None, :]
    carry = carry - (n_nights - last[:, None, :] - last[:, :, None] + diagonal) / n
    nuisance = np.block([[within, slot_carry], [np.swapaxes(slot_carry, 1, 2), carry]])
    cross = np.concatenate([position_slot, position_carry], axis=2)
    inverse = np.linalg.pinv(nuisance, hermitian=True, rcond=1e-9)
    eigenvalues = np.linalg.eigvalsh(within - cross @ inverse @ np.swapaxes(cross, 1, 2))[:, 1:]
    estimable = eigenvalues[:, 0] > 1e-8
    efficiency = np.zeros(n_designs)
    efficiency[estimable] = (n - 1) / (1 / eigenvalues[estimable]).sum(axis=1)
    return efficiency


def zero_one_tables(
    row_sums: list[int], column_sums: list[int], *, empty_diagonal: bool
) -> list[Counts]:
    """List every 0/1 square table with the given margins."""
    n = len(row_sums)
    found: list[Counts] = []

    def extend(row: int, left: Counts, rows: list[Counts]) -> None:
        if row == n:
            found.append(np.array(rows))
            return
        cells = [cell for cell in range(n) if not (empty_diagonal and cell == row)]
        for chosen in itertools.combinations(cells, row_sums[row]):
            line = np.zeros(n, dtype=np.int_)
            line[list(chosen)] = 1
            rest = left - line
            if (rest >= 0).all() and (rest <= n - 1 - row).all():
                extend(row + 1, rest, [*rows, line])

    if min(row_sums + column_sums) >= 0 and max(row_sums) <= n - int(empty_diagonal):
        extend(0, np.array(column_sums), [])
    return found


def even_tables(n_positions: int, n_nights: int) -> Iterator[tuple[Counts, Counts]]:
    """Give every slot table of spread 1, up to relabelling, with all its pair tables of spread 1.

    Yields
    ------
    tuple of ndarray
        Slot table of shape (n, n) and pair tables of shape (n_tables, n, n).
    """
    n = n_positions
    each, excess = divmod(n_nights, n)
    relabellings = [list(p) for p in itertools.permutations(range(n))]
    seen = set()
    for extra in zero_one_tables([excess] * n, [excess] * n, empty_diagonal=False):
        key = min(extra[p].tobytes() for p in relabellings)
        if key in seen:
            continue
        seen.add(key)
        slots = each + extra
        pair_each = n_nights * (n - 1) // (n * (n - 1))
        out_of = [int(n_nights - last - pair_each * (n - 1)) for last in slots[:, -1]]
        into = [int(n_nights - first - pair_each * (n - 1)) for first in slots[:, 0]]
        tables = zero_one_tables(out_of, into, empty_diagonal=True)
        if tables:
            yield slots, pair_each * (1 - np.eye(n, dtype=np.int_)) + np.array(tables)


def ranked_tables(n_positions: int, n_nights: int) -> list[tuple[float, Counts, Counts]]:
    """List all count tables of spread 1 with their efficiency, best first.

    Tables are possible on paper; whether nights exist that have them is for
    :func:`arrange.find_arrangement` to say.
    """
    ranked = []
    for slots, tables in even_tables(n_positions, n_nights):
        many = np.repeat(slots[None], len(tables), axis=0)
        efficiency = efficiency_from_counts(many, tables)
        ranked += [(float(a), slots, pairs) for a, pairs in zip(efficiency, tables, strict=True)]
    return sorted(ranked, key=lambda entry: -entry[0])


def three_position_tables(n_nights: int) -> tuple[float, list[tuple[float, Counts, Counts]]]:
    """Enumerate every three-position design of so many nights.

    Returns
    -------
    tuple
        The proven optimum over all designs, and the tables within the spreads that `n = 3`
        needs (slots 2, pairs 1; pairs 2 at 21 nights; 1 and 1 at 7) and with no order more often
        than `ceil(n_nights / 6)`, best first.
    """
    orders = list(itertools.permutations(range(3)))
    slot_of = np.zeros((6, 3, 3), dtype=np.int_)
    pair_of = np.zeros((6, 3, 3), dtype=np.int_)
    for index, order in enumerate(orders):
        slot_of[index, order, range(3)] = 1
        pair_of[index, order[:-1], order[1:]] = 1
    cuts = np.array(list(itertools.combinations(range(n_nights + 5), 5)))
    ends = np.full((len(cuts), 1), n_nights + 5)
    uses = np.diff(np.hstack([-np.ones_like(ends), cuts, ends])) - 1
    slots, pairs = np.tensordot(uses, slot_of, 1), np.tensordot(uses, pair_of, 1)
    efficiency = efficiency_from_counts(slots, pairs)
    off_diagonal = ~np.eye(3, dtype=bool)
    slot_limit, pair_limit = {7: (1, 1), 21: (2, 2)}.get(n_nights, (2, 1))
    allowed = (
        (np.ptp(slots.reshape(-1, 9), axis=1) <= slot_limit)
        & (np.ptp(pairs[:, off_diagonal], axis=1) <= pair_limit)
        & (uses.max(axis=1) <= -(-n_nights // 6))
    )
    kept = np.flatnonzero(allowed)
    best_first = kept[np.argsort(-efficiency[kept])]
    tables = [(float(efficiency[k]), slots[k], pairs[k]) for k in best_first]
    return float(efficiency.max()), tables
