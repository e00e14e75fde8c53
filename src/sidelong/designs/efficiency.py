"""How precisely an order plan lets positions be compared.

Model of one rating: position + slot + night + carryover of the position before (none in slot 1,
none from last night) + independent error. The information matrix of the positions is what is left
of their incidence after everything else has been projected out; its non-zero eigenvalues say how
well each difference is seen. ``docs/method/orders.md`` gives the formulas and their sources.
"""

import numpy as np
from numpy.typing import NDArray

_NOTHING_LEFT = 1e-9


def _incidence(levels: NDArray[np.intp], *, n_levels: int) -> NDArray[np.float64]:
    """Code a factor as 0/1 columns; level -1 gives a row of zeros."""
    columns = np.zeros((levels.size, n_levels))
    rows = np.flatnonzero(levels >= 0)
    columns[rows, levels[rows]] = 1.0
    return columns


def position_information(
    orders: NDArray[np.integer], *, n_positions: int, with_carryover: bool = True
) -> NDArray[np.float64]:
    """Give the information matrix of the positions for unit error variance.

    Dense projection: the position columns after least squares on slot, night and, where asked,
    first-order carryover within the night.

    Parameters
    ----------
    orders : ndarray of int, shape (n_nights, n_slots)
        Position index in 0..n_positions-1 for every night and slot; repeats are allowed.
    n_positions : int
        Number of positions that are compared, at least 2.
    with_carryover : bool
        Whether the effect of the position before is adjusted for.

    Returns
    -------
    ndarray of float, shape (n_positions, n_positions)
        Symmetric, rows sum to 0.
    """
    n_nights, n_slots = orders.shape
    positions = orders.astype(np.intp)
    previous = np.full_like(positions, -1)
    previous[:, 1:] = positions[:, :-1]
    night, slot = np.indices(positions.shape)
    parts = [_incidence(night.ravel(), n_levels=n_nights)]
    parts.append(_incidence(slot.ravel(), n_levels=n_slots))
    if with_carryover:
        parts.append(_incidence(previous.ravel(), n_levels=n_positions))
    nuisance = np.hstack(parts)
    # An orthonormal basis of the nuisance columns: their rank is short, so QR alone will not do.
    left, size, _ = np.linalg.svd(nuisance, full_matrices=False)
    basis = left[:, size > _NOTHING_LEFT * size[0]]
    direct = _incidence(positions.ravel(), n_levels=n_positions)
    rest = direct - basis @ (basis.T @ direct)
    information: NDArray[np.float64] = rest.T @ rest
    return information


def a_efficiency(
    orders: NDArray[np.integer], *, n_positions: int, with_carryover: bool = True
) -> float:
    """Give A = (n - 1) / sum(1 / eigenvalue) of the positions' information matrix.

    The mean variance of a difference between two positions is 2 / A error variances; divided by
    the number of times each position is practised, A is the efficiency factor of the literature.

    Parameters
    ----------
    orders : ndarray of int, shape (n_nights, n_slots)
        Position index in 0..n_positions-1 for every night and slot.
    n_positions : int
        Number of positions that are compared, at least 2.
    with_carryover : bool
        Whether the effect of the position before is adjusted for.

    Returns
    -------
    float
        0 where some difference between positions cannot be estimated at all.

    Raises
    ------
    ValueError
        If fewer than two positions are compared.

    Examples
    --------
    >>> square = np.array([[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]])
    >>> round(a_efficiency(square, n_positions=4) / 4, 6)
    0.909091
    """
    if n_positions < 2:
        raise ValueError("efficiency compares at least two positions")
    information = position_information(
        orders, n_positions=n_positions, with_carryover=with_carryover
    )
    # The smallest eigenvalue belongs to the constant vector and is 0 by construction.
    eigenvalues = np.linalg.eigvalsh(information)[1:]
    if eigenvalues[0] < _NOTHING_LEFT * orders.shape[0]:
        return 0.0
    return float((n_positions - 1) / np.sum(1.0 / eigenvalues))
