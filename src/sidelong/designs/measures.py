"""Count what a plan of orders balances, overall, in week one and after every night."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sidelong.designs.efficiency import a_efficiency

WEEK_ONE_NIGHTS = 7

CountTable = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class OrderMeasures:
    """Counts, spreads and efficiency of one plan; a spread is largest minus smallest count.

    Parameters
    ----------
    n_positions, n_nights : int
        Size of the plan.
    slot_counts : tuple of tuple of int, shape (n_positions, n_positions)
        Nights on which the position (row) stands in the slot (column).
    pair_counts : tuple of tuple of int, shape (n_positions, n_positions)
        Times the position (column) directly follows the position (row) within a night.
    slot_spread, pair_spread : int
        Spread of these counts over all nights; pairs of a position with itself are left out.
    week_one_slot_spread, week_one_pair_spread : int
        Spread over the first seven nights, or over all where there are fewer.
    prefix_slot_spread, prefix_pair_spread : int
        Largest spread after any number of nights from the first.
    most_frequent_order : int
        Nights that share the commonest order.
    repeated_first_positions : int
        Nights that start with the same position as the night before; 0 always with one position.
    efficiency : float or None
        A, see :func:`~sidelong.designs.efficiency.a_efficiency`; None with one position.
    carryover_adjusted : bool
        False with two positions, where carryover cannot be told from position, and with one.
    """

    n_positions: int
    n_nights: int
    slot_counts: CountTable
    pair_counts: CountTable
    slot_spread: int
    pair_spread: int
    week_one_slot_spread: int
    week_one_pair_spread: int
    prefix_slot_spread: int
    prefix_pair_spread: int
    most_frequent_order: int
    repeated_first_positions: int
    efficiency: float | None
    carryover_adjusted: bool

    def __post_init__(self) -> None:
        """Refuse counts that do not belong to the size of the plan."""
        if any(sum(row) != self.n_nights for row in self.slot_counts):
            raise ValueError("every position stands in one slot of every night")
        if sum(map(sum, self.pair_counts)) != self.n_nights * (self.n_positions - 1):
            raise ValueError("a night of n positions has n - 1 ordered pairs")


def check_orders(orders: NDArray[np.integer]) -> None:
    """Refuse an array in which some night does not hold every position exactly once.

    Parameters
    ----------
    orders : ndarray of int, shape (n_nights, n_positions)
        Position index in 0..n_positions-1 for every night and slot.

    Raises
    ------
    ValueError
        If it is no such array.
    """
    if orders.ndim != 2 or 0 in orders.shape or not np.issubdtype(orders.dtype, np.integer):
        raise ValueError("orders are a table of integers: a row per night, a column per slot")
    if (np.sort(orders, axis=1) != np.arange(orders.shape[1])).any():
        raise ValueError(f"every night holds each position 0..{orders.shape[1] - 1} once")


def _running_tables(orders: NDArray[np.intp]) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Count slots and pairs after every night; both of shape (n_nights, n, n)."""
    n_nights, n = orders.shape
    night = np.arange(n_nights)[:, None]
    slots = np.zeros((n_nights, n, n), dtype=np.int_)
    slots[night, orders, np.arange(n)] = 1
    pairs = np.zeros_like(slots)
    pairs[night, orders[:, :-1], orders[:, 1:]] = 1
    return slots.cumsum(axis=0), pairs.cumsum(axis=0)


def _spreads(tables: NDArray[np.int_], *, off_diagonal: bool = False) -> NDArray[np.int_]:
    """Give the spread of every table; tables of one position have none."""
    n = tables.shape[-1]
    kept = ~np.eye(n, dtype=bool) if off_diagonal else np.ones((n, n), dtype=bool)
    cells = tables[..., kept]
    if cells.shape[-1] == 0:
        return np.zeros(len(tables), dtype=np.int_)
    spreads: NDArray[np.int_] = np.ptp(cells, axis=-1)
    return spreads


def _as_tuples(table: NDArray[np.int_]) -> CountTable:
    return tuple(tuple(int(count) for count in row) for row in table)


def measure_orders(orders: NDArray[np.integer]) -> OrderMeasures:
    """Measure one plan of orders.

    Parameters
    ----------
    orders : ndarray of int, shape (n_nights, n_positions)
        Position index in 0..n_positions-1 for every night and slot; each once a night.

    Returns
    -------
    OrderMeasures
        Counts, spreads and efficiency.

    Raises
    ------
    ValueError
        If some night does not hold every position exactly once.

    Examples
    --------
    >>> measures = measure_orders(np.array([[0, 1, 2], [2, 1, 0], [1, 0, 2]]))
    >>> measures.slot_spread, measures.repeated_first_positions
    (2, 0)
    """
    check_orders(orders)
    n_nights, n = orders.shape
    slots, pairs = _running_tables(orders.astype(np.intp))
    slot_spreads, pair_spreads = _spreads(slots), _spreads(pairs, off_diagonal=True)
    week = min(WEEK_ONE_NIGHTS, n_nights) - 1
    _, uses = np.unique(orders, axis=0, return_counts=True)
    adjusted = n > 2
    return OrderMeasures(
        n_positions=n,
        n_nights=n_nights,
        slot_counts=_as_tuples(slots[-1]),
        pair_counts=_as_tuples(pairs[-1]),
        slot_spread=int(slot_spreads[-1]),
        pair_spread=int(pair_spreads[-1]),
        week_one_slot_spread=int(slot_spreads[week]),
        week_one_pair_spread=int(pair_spreads[week]),
        prefix_slot_spread=int(slot_spreads.max()),
        prefix_pair_spread=int(pair_spreads.max()),
        most_frequent_order=int(uses.max()),
        repeated_first_positions=int((orders[1:, 0] == orders[:-1, 0]).sum()) if n > 1 else 0,
        efficiency=(
            a_efficiency(orders, n_positions=n, with_carryover=adjusted) if n > 1 else None
        ),
        carryover_adjusted=adjusted,
    )
