"""The shipped base plans as arrays."""

import hashlib
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sidelong.designs.base_arrays import BASE_ARRAYS
from sidelong.designs.criteria import SUPPORTED_NIGHTS, SUPPORTED_POSITIONS


@cache
def base_plans(n_positions: int, n_nights: int) -> NDArray[np.intp]:
    """Give all base plans of one size.

    Parameters
    ----------
    n_positions : int
        1 to 5.
    n_nights : int
        7, 10, 14, 21 or 28.

    Returns
    -------
    ndarray of int, shape (n_plans, n_nights, n_positions)
        Read-only; field element for every night and slot.

    Raises
    ------
    ValueError
        If no plans of that size are shipped.
    """
    if n_positions not in SUPPORTED_POSITIONS or n_nights not in SUPPORTED_NIGHTS:
        raise ValueError(
            f"no plans for {n_positions} positions and {n_nights} nights: "
            f"positions 1 to 5, nights one of {SUPPORTED_NIGHTS}"
        )
    if n_positions == 1:
        plans = np.zeros((1, n_nights, 1), dtype=np.intp)
    else:
        texts = [plan.nights.split() for plan in BASE_ARRAYS[n_positions, n_nights]]
        plans = np.array([[list(map(int, night)) for night in text] for text in texts], np.intp)
    plans.flags.writeable = False
    return plans


@cache
def table_digest() -> str:
    """Give a fingerprint of all shipped base plans, to be stored with every allocation.

    Plans are drawn from this table: whoever replays them later needs the same one.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits, of the lines `N_POSITIONS N_NIGHTS NIGHT NIGHT ...` in the
        table's sequence, each ended by a line feed.
    """
    lines = [
        f"{n_positions} {n_nights} {plan.nights}\n"
        for (n_positions, n_nights), plans in BASE_ARRAYS.items()
        for plan in plans
    ]
    return hashlib.sha256("".join(lines).encode()).hexdigest()
