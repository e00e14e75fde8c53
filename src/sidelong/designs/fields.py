"""Arithmetic of the fields with 2, 3, 4 and 5 elements.

Relabelling a plan by every map x -> a x + b with a not 0 puts each position in every cell equally
often (the maps with one a already do) and each ordered pair equally often (all maps together),
because exactly one such map carries any two different elements to any two different elements.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray


@cache
def field_tables(n_elements: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Give the addition and the multiplication table of a small field.

    Elements are 0..n_elements-1. With four of them the numbers stand for polynomials over the
    field of two, 2 for x and 3 for x + 1, multiplied modulo x^2 + x + 1.

    Parameters
    ----------
    n_elements : int
        2, 3, 4 or 5.

    Returns
    -------
    tuple of ndarray of int, each of shape (n_elements, n_elements)
        Sums and products.

    Raises
    ------
    ValueError
        For any other size.
    """
    if n_elements not in {2, 3, 4, 5}:
        raise ValueError(f"no table for a field of {n_elements} elements: use 2 to 5")
    element = np.arange(n_elements)
    if n_elements == 4:
        products = np.array([[0, 0, 0, 0], [0, 1, 2, 3], [0, 2, 3, 1], [0, 3, 1, 2]], dtype=np.intp)
        return np.bitwise_xor.outer(element, element), products
    return (
        np.add.outer(element, element) % n_elements,
        np.multiply.outer(element, element) % n_elements,
    )
