"""Intervals of shares against published tables and a general-purpose library."""

import numpy as np
import pytest
from scipy.stats import binomtest

from sidelong.outcomes import total_interval, wilson_interval

# Newcombe (1998), Stat. Med. 17, 857-872, table I, method 3 (score, no continuity correction): four
# digits from memory; all eight computed with statsmodels' proportion_confint(method="wilson").
NEWCOMBE = [
    (81, 263, 0.25528852, 0.36620958),
    (15, 148, 0.06238640, 0.16048724),
    (0, 20, 0.0, 0.16112516),
    (1, 29, 0.00611321, 0.17175522),
]


@pytest.mark.parametrize(("happened", "n", "lower", "upper"), NEWCOMBE)
def test_wilson_gives_the_published_intervals(
    happened: int, n: int, lower: float, upper: float
) -> None:
    ours = wilson_interval(np.array([happened]), np.array([n]))
    assert [float(end[0]) for end in ours] == pytest.approx([lower, upper], abs=5e-9)


@pytest.mark.parametrize("n", [1, 2, 7, 20, 143])
def test_wilson_agrees_with_scipy_at_every_count(n: int) -> None:
    counts = np.arange(n + 1)
    lower, upper = wilson_interval(counts, np.full(n + 1, n))
    theirs = [
        binomtest(int(k), n).proportion_ci(confidence_level=0.95, method="wilson") for k in counts
    ]
    assert lower == pytest.approx([each.low for each in theirs], abs=1e-12)
    assert upper == pytest.approx([each.high for each in theirs], abs=1e-12)
    assert lower.shape == upper.shape == (n + 1,)


def test_the_interval_never_leaves_zero_to_one_and_holds_the_share() -> None:
    n = np.arange(1, 60)
    for counts in (np.zeros_like(n), n, n // 2):
        lower, upper = wilson_interval(counts, n)
        assert (lower >= 0).all()
        assert (upper <= 1).all()
        assert ((lower <= counts / n) & (counts / n <= upper)).all()


@pytest.mark.parametrize(("happened", "n"), [(1, 0), (-1, 3), (4, 3)])
def test_counts_that_cannot_be_are_refused(happened: int, n: int) -> None:
    with pytest.raises(ValueError, match="within 0"):
        wilson_interval(np.array([happened]), np.array([n]))


def test_the_range_of_a_total_holds_it_about_95_times_in_100() -> None:
    """Against the exact distribution of a sum of unlike trials, folded one trial at a time."""
    rng = np.random.default_rng(7)
    chances = rng.uniform(0.2, 0.95, 60)
    exact = np.array([1.0])
    for chance in chances:
        exact = np.convolve(exact, [1 - chance, chance])
    expected, lower, upper = total_interval(chances)
    counts = np.arange(exact.size)
    assert expected == pytest.approx((counts * exact).sum())
    assert 0.93 < exact[(counts >= lower) & (counts <= upper)].sum() < 0.97


def test_no_outcome_gives_no_total() -> None:
    assert total_interval(np.array([])) == (0.0, 0.0, 0.0)
