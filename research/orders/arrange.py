"""Find nights, in sequence, that have given count tables and stay even all the way.

Two steps. Which orders fall into which week is a small constraint model for OR-tools CP-SAT: the
counts at the end are given, and they must be even enough at the end of every week, week one most.
The nights of each week are then put into sequence by a search that goes back where the running
counts after some night would be too uneven, or where two nights would begin alike.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

Counts = NDArray[np.int_]
Order = tuple[int, ...]

_WEEK = 7
_MOST_STEPS = 20_000


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


def _spread(counts: Counts, *, off_diagonal: bool) -> int:
    cells = counts[~np.eye(len(counts), dtype=bool)] if off_diagonal else counts
    return int(np.ptp(cells))


def assign_weeks(
    slots: Counts, pairs: Counts, *, evenness: Evenness, seed: int, seconds: float
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
    lengths = [min(_WEEK, n_nights - start) for start in range(0, n_nights, _WEEK)]
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


def sequence_nights(
    weeks: list[list[Order]], *, evenness: Evenness, rng: np.random.Generator
) -> list[Order]:
    """Put the nights of every week into sequence; empty where none was found in the steps allowed.

    Parameters
    ----------
    weeks : list of list of tuple
        Orders by week.
    evenness : Evenness
        Limits after every night.
    rng : numpy.random.Generator
        Which night is tried first.

    Returns
    -------
    list of tuple
        All nights.
    """
    steps = itertools.count()
    n = len(weeks[0][0])
    nights: list[Order] = []

    def extend(week: int, left: list[Order], slots: Counts, pairs: Counts) -> bool:
        if not left:
            if week + 1 == len(weeks):
                return True
            week, left = week + 1, weeks[week + 1]
        for k in rng.permutation(len(left)):
            order = left[k]
            if next(steps) > _MOST_STEPS:
                return False
            if nights and nights[-1][0] == order[0]:
                continue
            more_slots, more_pairs = count_cells(order)
            so_far, pairs_so_far = slots + more_slots, pairs + more_pairs
            if (
                _spread(so_far, off_diagonal=False) > evenness.prefix_slots
                or _spread(pairs_so_far, off_diagonal=True) > evenness.prefix_pairs
            ):
                continue
            nights.append(order)
            if extend(week, [*left[:k], *left[k + 1 :]], so_far, pairs_so_far):
                return True
            nights.pop()
        return False

    nothing = np.zeros((n, n), dtype=np.int_)
    return nights if extend(0, weeks[0], nothing, nothing) else []
