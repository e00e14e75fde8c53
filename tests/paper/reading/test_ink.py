"""Quantiles of ink are numpy's own."""

import numpy as np
import pytest

from sidelong.paper.reading.ink import quantile


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.85, 0.96, 0.99, 1.0])
@pytest.mark.parametrize("size", [1, 2, 7, 716])
@pytest.mark.parametrize("kind", [np.uint8, np.int16, np.float32])
def test_a_quantile_is_that_of_numpy(share: float, size: int, kind: type) -> None:
    values = np.random.default_rng(size).uniform(0, 255, size).astype(kind)
    assert quantile(values, share) == pytest.approx(float(np.quantile(values, share)), abs=1e-4)
