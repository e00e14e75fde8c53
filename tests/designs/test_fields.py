"""Field axioms, checked on every element."""

import itertools

import numpy as np
import pytest

from sidelong.designs import field_tables


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_small_fields_obey_the_axioms(n: int) -> None:
    plus, times = field_tables(n)
    elements = range(n)

    assert plus.shape == times.shape == (n, n)
    for a, b, c in itertools.product(elements, repeat=3):
        assert plus[a, b] == plus[b, a]
        assert times[a, b] == times[b, a]
        assert plus[plus[a, b], c] == plus[a, plus[b, c]]
        assert times[times[a, b], c] == times[a, times[b, c]]
        assert times[a, plus[b, c]] == plus[times[a, b], times[a, c]]
    assert [plus[0, a] for a in elements] == list(elements)
    assert [times[1, a] for a in elements] == list(elements)
    assert all(0 in plus[a] for a in elements)
    assert all(1 in times[a] for a in range(1, n))


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_affine_maps_carry_any_two_elements_to_any_two_exactly_once(n: int) -> None:
    plus, times = field_tables(n)
    maps = [plus[times[a], b] for a in range(1, n) for b in range(n)]
    images = {(int(m[0]), int(m[1])) for m in maps}

    assert len(maps) == len(images) == n * (n - 1)
    assert all(sorted(m) == list(range(n)) for m in np.array(maps))


def test_other_sizes_are_refused() -> None:
    with pytest.raises(ValueError, match="6 elements"):
        field_tables(6)
