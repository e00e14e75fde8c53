"""What every plan of orders must keep to, and the best efficiency that is possible."""

import math
from dataclasses import dataclass

from sidelong.designs.measures import OrderMeasures

SUPPORTED_POSITIONS = (1, 2, 3, 4, 5)
SUPPORTED_NIGHTS = (7, 10, 14, 21, 28)

_BEST_EFFICIENCY: dict[tuple[int, int], float] = {
    # Two positions: n_nights less the square of the slot imbalance over n_nights; no carryover.
    (2, 7): 7 - 1 / 7,
    (2, 10): 10.0,
    (2, 14): 14.0,
    (2, 21): 21 - 1 / 21,
    (2, 28): 28.0,
    (3, 7): 5.39496,
    (3, 10): 7.83051,
    (3, 14): 11.07541,
    (3, 21): 16.71019,
    (3, 28): 22.33824,
    (4, 7): 6.02585,
    (4, 10): 8.86957,
    (4, 14): 12.58222,
    (4, 21): 19.00513,
    (4, 28): 25.45455,
    (5, 7): 6.26258,
    (5, 10): 9.47368,
    (5, 14): 13.12386,
    (5, 21): 19.80646,
    (5, 28): 26.43379,
}


@dataclass(frozen=True)
class OrderCriteria:
    """Limits for one number of positions and nights; a spread is largest minus smallest count.

    Parameters
    ----------
    slot_spread, pair_spread : int
        Over all nights: position by slot, and ordered pairs within a night.
    week_one_slot_spread, week_one_pair_spread : int
        The same over the first seven nights.
    prefix_slot_spread, prefix_pair_spread : int
        The same after every night, so that an early stop still compares fairly.
    most_frequent_order : int
        Nights that may share one order.
    best_efficiency : float
        Largest A that any plan within reach has; see ``docs/method/orders.md`` for what is proven.
    least_relative_efficiency : float
        Smallest share of it that a plan may have.
    """

    slot_spread: int
    pair_spread: int
    week_one_slot_spread: int
    week_one_pair_spread: int
    prefix_slot_spread: int
    prefix_pair_spread: int
    most_frequent_order: int
    best_efficiency: float
    least_relative_efficiency: float = 0.99

    def __post_init__(self) -> None:
        """Refuse limits that no plan could be held to."""
        if self.best_efficiency <= 0 or not 0 < self.least_relative_efficiency <= 1:
            raise ValueError("an efficiency to compare with is above 0")

    def failures(self, measures: OrderMeasures) -> tuple[str, ...]:
        """Name the measures of a plan that exceed a limit; empty when the plan keeps to all."""
        limits = (
            "slot_spread",
            "pair_spread",
            "week_one_slot_spread",
            "week_one_pair_spread",
            "prefix_slot_spread",
            "prefix_pair_spread",
            "most_frequent_order",
        )
        failed = [name for name in limits if getattr(measures, name) > getattr(self, name)]
        if measures.repeated_first_positions:
            failed.append("repeated_first_positions")
        least = self.least_relative_efficiency * self.best_efficiency
        if measures.efficiency is None or measures.efficiency < least:
            failed.append("efficiency")
        return tuple(failed)

    def share_of_best(self, measures: OrderMeasures) -> float:
        """Give a plan's efficiency relative to the best.

        Parameters
        ----------
        measures : OrderMeasures
            Measures of a plan of the size that these criteria are for.

        Returns
        -------
        float
            0 where some difference between positions cannot be estimated, 1 at the optimum.
        """
        return (measures.efficiency or 0.0) / self.best_efficiency


def criteria_for(n_positions: int, n_nights: int) -> OrderCriteria:
    """Give the limits that the shipped plans keep to.

    Spread 1 at the end and after week one and 2 on the way, except for three positions
    beyond 7 nights: no plan of theirs has slots and pairs both within 1 at the end.

    Parameters
    ----------
    n_positions : int
        2 to 5; with one position there is nothing to compare and no criterion.
    n_nights : int
        7, 10, 14, 21 or 28.

    Returns
    -------
    OrderCriteria
        The limits.

    Raises
    ------
    ValueError
        If no plans of that size exist here.
    """
    if (n_positions, n_nights) not in _BEST_EFFICIENCY:
        raise ValueError(
            f"no criteria for {n_positions} positions and {n_nights} nights: "
            f"positions 2 to 5, nights one of {SUPPORTED_NIGHTS}"
        )
    three_and_longer = n_positions == 3 and n_nights > 7
    return OrderCriteria(
        slot_spread=2 if three_and_longer else 1,
        pair_spread=2 if three_and_longer and n_nights == 21 else 1,
        week_one_slot_spread=1,
        week_one_pair_spread=1,
        prefix_slot_spread=2,
        prefix_pair_spread=2,
        most_frequent_order=math.ceil(n_nights / math.factorial(n_positions)),
        best_efficiency=_BEST_EFFICIENCY[n_positions, n_nights],
    )
