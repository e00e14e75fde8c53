"""Efficiencies against published constructions and a slower computation written differently."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sidelong.designs import a_efficiency, position_information


def williams(n: int) -> NDArray[np.int_]:
    """Construct the square, or for odd n the pair of squares, of Williams (1949).

    Aust. J. Sci. Res. A 2:149-168. First row 0, 1, n-1, 2, n-2, ...; the others by adding 1.
    """
    first = [0]
    low, high = 1, n - 1
    while low <= high:
        first.append(low)
        if low != high:
            first.append(high)
        low, high = low + 1, high - 1
    square = (np.array(first) + np.arange(n)[:, None]) % n
    return square if n % 2 == 0 else np.vstack([square, square[:, ::-1]])


def efficiency_factor(orders: NDArray[np.int_], n: int) -> float:
    """Give A divided by the times each position occurs: the factor that textbooks print."""
    return a_efficiency(orders, n_positions=n) / (orders.size / n)


def mean_difference_variance(orders: NDArray[np.int_], n: int) -> float:
    """Full least squares with an explicit dummy column for every level of every factor."""
    n_nights, n_slots = orders.shape
    rows = []
    for night in range(n_nights):
        for slot in range(n_slots):
            row = [0.0] * (n + n_nights + n_slots + n)
            row[orders[night, slot]] = 1.0
            row[n + night] = 1.0
            row[n + n_nights + slot] = 1.0
            if slot > 0:
                row[n + n_nights + n_slots + orders[night, slot - 1]] = 1.0
            rows.append(row)
    design = np.array(rows)
    covariance = np.linalg.pinv(design.T @ design, rcond=1e-10)
    variances = []
    for i, j in itertools.combinations(range(n), 2):
        contrast = np.zeros(design.shape[1])
        contrast[i], contrast[j] = 1.0, -1.0
        variances.append(contrast @ covariance @ contrast)
    return float(np.mean(variances))


@pytest.mark.parametrize(
    ("n", "n_rows", "factor", "trace"),
    [
        (3, 6, 4 / 5, 9.6),
        (4, 4, 10 / 11, 10.909091),
        (5, 10, 18 / 19, 37.894737),
        (6, 6, 28 / 29, 28.965517),
    ],
)
def test_williams_designs_have_their_textbook_efficiency(
    n: int, n_rows: int, factor: float, trace: float
) -> None:
    # (n^2 - n - 2) / (n^2 - n - 1); Jones & Kenward print 80.00, 90.91, 94.74 % (from memory).
    orders = williams(n)
    information = position_information(orders, n_positions=n)

    assert orders.shape == (n_rows, n)
    assert efficiency_factor(orders, n) == pytest.approx(factor, abs=1e-9)
    assert efficiency_factor(orders, n) == pytest.approx((n * n - n - 2) / (n * n - n - 1))
    assert np.trace(information) == pytest.approx(trace, abs=1e-6)


@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_williams_designs_place_and_pair_every_position_equally_often(n: int) -> None:
    orders = williams(n)
    pairs = [pair for row in orders.tolist() for pair in itertools.pairwise(row)]
    counts = {pair: pairs.count(pair) for pair in itertools.permutations(range(n), 2)}

    assert len(set(counts.values())) == 1
    assert all((np.bincount(orders[:, slot]) == len(orders) // n).all() for slot in range(n))


def test_four_by_four_square_is_the_published_one() -> None:
    letters = {"".join("ABCD"[p] for p in row) for row in williams(4)}
    assert letters == {"ABDC", "BCAD", "CDBA", "DACB"}


def test_control_designs_lose_what_they_are_known_to_lose() -> None:
    # Computed for the reference sheet with a dense projection; the half square is the trap.
    five = williams(5)
    cyclic = (np.arange(5)[:, None] + np.arange(5)) % 5

    assert efficiency_factor(cyclic, 5) == pytest.approx(0.157895, abs=1e-6)
    assert efficiency_factor(five[:5], 5) == pytest.approx(0.603239, abs=1e-6)
    assert efficiency_factor(five[5:], 5) == pytest.approx(0.603239, abs=1e-6)


@pytest.mark.parametrize(("n", "factor"), [(3, 0.9375), (4, 0.96), (5, 0.972222)])
def test_a_repeated_last_slot_gives_the_known_factor(n: int, factor: float) -> None:
    square = williams(n)
    longer = np.hstack([square, square[:, -1:]])
    assert efficiency_factor(longer, n) == pytest.approx(factor, abs=1e-6)


def test_fourteen_nights_that_repeat_williams_rows_stay_below_the_best() -> None:
    ten = williams(5)
    again = [
        efficiency_factor(np.vstack([ten, ten[list(rows)]]), 5)
        for rows in itertools.combinations(range(10), 4)
    ]

    assert max(again) == pytest.approx(0.930759, abs=1e-6)
    assert min(again) == pytest.approx(0.912099, abs=1e-6)
    assert efficiency_factor(np.vstack([ten, ten[[0, 1, 5, 6]]]), 5) == pytest.approx(max(again))


def sequence_traces(sequence: tuple[int, ...], n: int) -> tuple[float, float, float]:
    """Give c11, c12, c22 of one sequence (Kushner 1997; theory from memory)."""
    size = len(sequence)
    direct = np.eye(n)[list(sequence)]
    carry = np.vstack([np.zeros(n), direct[:-1]])
    in_sequence = np.eye(size) - 1 / size
    between = np.eye(n) - 1 / n
    return (
        float(np.trace(between @ direct.T @ in_sequence @ direct @ between)),
        float(np.trace(between @ direct.T @ in_sequence @ carry @ between)),
        float(np.trace(between @ carry.T @ in_sequence @ carry @ between)),
    )


def sequences_up_to_labels(size: int, n: int) -> list[tuple[int, ...]]:
    """List sequences in which a new position always takes the lowest unused number."""
    found: list[tuple[int, ...]] = [()]
    for _ in range(size):
        found = [
            (*start, label)
            for start in found
            for label in range(min(n, max(start, default=-1) + 2))
        ]
    return found


@pytest.mark.parametrize(
    ("n", "bound", "minimiser"), [(3, 29 / 18, 0.5), (4, 131 / 48, 1 / 3), (5, 3.79, 0.25)]
)
def test_no_design_of_any_length_exceeds_the_enumerated_bound(
    n: int, bound: float, minimiser: float
) -> None:
    traces = np.array([sequence_traces(s, n) for s in sequences_up_to_labels(n, n)])
    x = np.linspace(-1, 1, 2401)[:, None]
    curves = traces[:, 0] + 2 * x * traces[:, 1] + x**2 * traces[:, 2]
    highest = curves.max(axis=1)

    assert len(traces) == {3: 5, 4: 15, 5: 52}[n]
    assert highest.min() == pytest.approx(bound, abs=1e-6)
    assert x[highest.argmin(), 0] == pytest.approx(minimiser, abs=1e-3)
    assert efficiency_factor(williams(n), n) < bound / (n - 1)


def test_ceiling_for_five_positions_is_the_stated_one() -> None:
    assert pytest.approx(0.9475) == 3.79 / 4
    assert efficiency_factor(williams(5), 5) / 0.9475 == pytest.approx(0.99986, abs=1e-5)


random_orders = st.integers(3, 5).flatmap(
    lambda n: st.lists(st.permutations(range(n)), min_size=6, max_size=16)
)


@settings(max_examples=60, deadline=None)
@given(random_orders)
def test_efficiency_agrees_with_explicit_least_squares(nights: list[list[int]]) -> None:
    orders = np.array(nights)
    n = orders.shape[1]
    efficiency = a_efficiency(orders, n_positions=n)
    if efficiency < 1e-3:  # some difference cannot be estimated: no variance to compare
        return
    assert 2 / efficiency == pytest.approx(mean_difference_variance(orders, n), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(random_orders, st.randoms(use_true_random=False))
def test_efficiency_is_blind_to_labels_and_to_the_sequence_of_nights(nights, chance) -> None:
    orders = np.array(nights)
    n = orders.shape[1]
    labels = np.array(chance.sample(range(n), n))
    shuffled = np.array(chance.sample(nights, len(nights)))
    expected = pytest.approx(a_efficiency(orders, n_positions=n), abs=1e-8)

    assert a_efficiency(labels[orders], n_positions=n) == expected
    assert a_efficiency(shuffled, n_positions=n) == expected


def test_a_design_that_cannot_compare_has_efficiency_zero() -> None:
    same_every_night = np.tile(np.arange(4), (6, 1))
    assert a_efficiency(same_every_night, n_positions=4) == 0.0


def test_two_positions_cannot_be_told_from_their_carryover() -> None:
    alternating = np.array([[0, 1], [1, 0]] * 7)

    assert a_efficiency(alternating, n_positions=2) == 0.0
    assert a_efficiency(alternating, n_positions=2, with_carryover=False) == pytest.approx(14.0)


def test_efficiency_of_one_position_is_refused() -> None:
    with pytest.raises(ValueError, match="at least two"):
        a_efficiency(np.zeros((7, 1), dtype=int), n_positions=1)


def test_information_matrix_has_the_documented_shape_and_zero_row_sums() -> None:
    information = position_information(williams(5), n_positions=5)

    assert information.shape == (5, 5)
    assert np.allclose(information, information.T)
    assert np.allclose(information.sum(axis=1), 0)
