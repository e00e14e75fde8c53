"""Try to beat the stated best efficiencies with plans that need not be even at all.

For four and five positions the optimum is proven only among plans whose slots and pairs are within
a spread of 1. This looks for better ones outside: from random nights, exchange one night for the
best other order until nothing improves, many times over. Finding none proves nothing, but says how
hard it was tried. Run from the repository's root::

    python research/orders/challenge_optima.py --starts 50
"""

import argparse
import itertools

import numpy as np
from count_matrices import efficiency_from_counts

from sidelong.designs.criteria import SUPPORTED_NIGHTS, criteria_for

SEED = 20260114


def exchange(n_positions: int, n_nights: int, *, rng: np.random.Generator) -> float:
    """Give the efficiency at which exchanging single nights improves nothing any more."""
    orders = np.array(list(itertools.permutations(range(n_positions))))
    which = np.arange(len(orders))[:, None]
    slots = np.zeros((len(orders), n_positions, n_positions), dtype=np.int_)
    pairs = np.zeros_like(slots)
    slots[which, orders, np.arange(n_positions)] = 1
    pairs[which, orders[:, :-1], orders[:, 1:]] = 1
    nights = rng.integers(len(orders), size=n_nights)
    best = 0.0
    while True:
        # Every single exchange at once: out with night i, in with order j.
        out, into = np.repeat(nights, len(orders)), np.tile(np.arange(len(orders)), n_nights)
        efficiency = efficiency_from_counts(
            slots[nights].sum(axis=0) - slots[out] + slots[into],
            pairs[nights].sum(axis=0) - pairs[out] + pairs[into],
        )
        k = int(efficiency.argmax())
        if efficiency[k] <= best + 1e-9:
            return best
        best = float(efficiency[k])
        nights[k // len(orders)] = into[k]


def main() -> None:
    """Challenge every stated optimum and print the best that was met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--starts", type=int, default=50)
    starts = parser.parse_args().starts
    for n_positions, n_nights in itertools.product((4, 5), SUPPORTED_NIGHTS):
        rng = np.random.default_rng([SEED, n_positions, n_nights])
        met = [exchange(n_positions, n_nights, rng=rng) for _ in range(starts)]
        stated = criteria_for(n_positions, n_nights).best_efficiency
        print(
            f"{n_positions} positions, {n_nights} nights: stated {stated:.5f}, "
            f"best of {starts} starts {max(met):.5f}, met {sum(m > stated - 1e-5 for m in met)} "
            f"times, beaten {sum(m > stated + 1e-5 for m in met)} times",
            flush=True,
        )


if __name__ == "__main__":
    main()
