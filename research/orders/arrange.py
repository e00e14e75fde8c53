"""Find nights, in sequence, that have given count tables and stay even all the way.

Two steps. Which orders fall into which week is a small constraint model for OR-tools CP-SAT: the
counts at the end are given, and they must be even enough at the end of every week, week one most.
The nights are then put into a sequence by simulated annealing, until the running counts are even
after every night and no two nights in a row begin alike.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

Counts = NDArray[np.int_]
Order = tuple[int, ...]

WEEK = 7


@dataclass(frozen=True)
class Evenness:
    """How uneven counts may be: spread = largest minus smallest count."""

    prefix_slots: int
    prefix_pairs: int
    week_one_slots: int
    week_one_pairs: int
    most_per_order: int


def count_cells(order: Order) -> tuple[Counts, Counts]:
    """Count one night's position by slot and ordered pairs, both of shape (n, n)."""
    n = len(order)
    slots, pairs = np.zeros((n, n), dtype=np.int_), np.zeros((n, n), dtype=np.int_)
    slots[order, range(n)] = 1
    pairs[order[:-1], order[1:]] = 1
    return slots, pairs


def assign_weeks(
    slots: Counts,
    pairs: Counts,
    *,
    evenness: Evenness,
    seed: int,
    seconds: float,
) -> tuple[str, list[list[Order]]]:
    """Choose the orders of every week so that counts end as given and are even at each week's end.

    Parameters
    ----------
    slots, pairs : ndarray of int, shape (n, n)
        Target counts: position by slot, and previous by next position.
    evenness : Evenness
        Limits on the way.
    seed : int
        Start of the solver's own chance.
    seconds : float
        Time limit.

    Returns
    -------
    tuple
        `"found"`, `"impossible"` (proven) or `"unknown"` (time ran out), and orders by week.
    """
    n = len(slots)
    n_nights = int(slots[0].sum())
    chance = np.random.default_rng(seed)
    everything = list(itertools.permutations(range(n)))
    orders = [everything[k] for k in chance.permutation(len(everything))]
    lengths = [min(WEEK, n_nights - start) for start in range(0, n_nights, WEEK)]
    model = cp_model.CpModel()
    use = [[model.new_int_var(0, evenness.most_per_order, "") for _ in orders] for _ in lengths]
    for week, length in zip(use, lengths, strict=True):
        model.add(sum(week) == length)
    for index in range(len(orders)):
        model.add(sum(week[index] for week in use) <= evenness.most_per_order)
    tables = np.array([count_cells(order) for order in orders])
    for end in range(1, len(lengths) + 1):
        for kind, target in enumerate((slots, pairs)):
            cells = [c for c in np.ndindex(n, n) if not (kind == 1 and c[0] == c[1])]
            sums = [
                sum(
                    week[index]
                    for week in use[:end]
                    for index in np.flatnonzero(tables[:, kind, *cell])
                )
                for cell in cells
            ]
            if end == len(lengths):
                for cell, count in zip(cells, sums, strict=True):
                    model.add(count == int(target[cell]))
            if end == len(lengths) and end > 1:
                continue
            prefix = (evenness.prefix_slots, evenness.prefix_pairs)[kind]
            first = (evenness.week_one_slots, evenness.week_one_pairs)[kind]
            lowest = model.new_int_var(0, n_nights, "")
            for count in sums:
                model.add(count >= lowest)
                model.add(count <= lowest + (first if end == 1 else prefix))
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = seed
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return "found", [
            [order for x, order in zip(week, orders, strict=True) for _ in range(solver.value(x))]
            for week in use
        ]
    return ("impossible" if status == cp_model.INFEASIBLE else "unknown"), []


class _Unevenness:
    """How far a sequence of given nights is from the limits; 0 where it keeps to all."""

    def __init__(self, nights: list[Order], evenness: Evenness) -> None:
        tables = np.array([count_cells(order) for order in nights])
        off_diagonal = ~np.eye(len(nights[0]), dtype=bool)
        self._slots = tables[:, 0].reshape(len(nights), -1)
        self._pairs = tables[:, 1][:, off_diagonal]
        self._first = np.array([order[0] for order in nights])
        self._slot_limits = np.full((len(nights), 1), evenness.prefix_slots)
        self._pair_limits = np.full((len(nights), 1), evenness.prefix_pairs)
        # The end is settled by the choice of nights; after week one the limit is tighter.
        self._slot_limits[WEEK - 1] = evenness.week_one_slots
        self._pair_limits[WEEK - 1] = evenness.week_one_pairs
        self._slot_limits[-1], self._pair_limits[-1] = len(nights), len(nights)

    def __call__(self, sequence: Counts) -> int:
        """Count cells outside the allowed band after every night, and nights that begin alike."""
        first = self._first[sequence]
        uneven = 2 * int((first[1:] == first[:-1]).sum())
        for added, limits in ((self._slots, self._slot_limits), (self._pairs, self._pair_limits)):
            counts = added[sequence].cumsum(axis=0)
            too_many = counts > counts.min(axis=1, keepdims=True) + limits
            too_few = counts < counts.max(axis=1, keepdims=True) - limits
            uneven += int(np.minimum(too_many.sum(axis=1), too_few.sum(axis=1)).sum())
        return uneven


def sequence_nights(
    nights: list[Order], *, evenness: Evenness, rng: np.random.Generator, steps: int = 20_000
) -> list[Order]:
    """Put nights into a sequence that stays even all the way, by simulated annealing.

    A step exchanges two nights or moves one; the temperature falls from 2 to 0.15 misplaced cells.

    Parameters
    ----------
    nights : list of tuple
        The orders to put into sequence.
    evenness : Evenness
        Limits after every night.
    rng : numpy.random.Generator
        Chance.
    steps : int
        Steps before giving up.

    Returns
    -------
    list of tuple
        All nights, or none where no sequence was found in the steps allowed.
    """
    unevenness = _Unevenness(nights, evenness)
    sequence = np.arange(len(nights))
    current = unevenness(sequence)
    for step in range(steps):
        if current == 0:
            return [nights[k] for k in sequence]
        temperature = 2 * (0.15 / 2) ** (step / steps)
        i, j = rng.integers(len(nights), size=2)
        if rng.random() < 0.5:
            other = sequence.copy()
            other[[i, j]] = other[[j, i]]
        else:
            other = np.insert(np.delete(sequence, i), j, sequence[i])
        changed = unevenness(other)
        if changed <= current or rng.random() < np.exp((current - changed) / temperature):
            sequence, current = other, changed
    return []
