"""Calibration against published examples, exact enumeration and a general-purpose optimiser."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import minimize
from scipy.stats import norm

from sidelong.outcomes import (
    check_calibration,
    group_chances,
    recalibrate,
    split_brier,
    tabulate_calibration,
)

# Ten forecasts worked out by hand: reliability 0.088, resolution 0.200, uncertainty 0.250.
STATED = np.array([0.1, 0.1, 0.2, 0.3, 0.3, 0.6, 0.7, 0.8, 0.8, 0.9])
HAPPENED = np.array([0, 0, 0, 1, 0, 1, 0, 1, 1, 1], dtype=bool)


def draw(n: int, seed: int, *, power: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Chances, and outcomes that follow them; with another power, chances that are too extreme."""
    rng = np.random.default_rng(seed)
    odds = rng.normal(0.8, 1.2, n)
    happened = rng.random(n) < 1 / (1 + np.exp(-power * odds))
    return 1 / (1 + np.exp(-odds)), happened


chances_of = arrays(np.float64, st.integers(1, 40), elements=st.floats(0, 1, width=32))


# Brier


def test_murphys_parts_of_the_brier_score_are_those_worked_out_by_hand() -> None:
    parts = split_brier(STATED, HAPPENED)
    assert parts.score == pytest.approx(0.138)
    assert (parts.reliability, parts.resolution) == pytest.approx((0.088, 0.2))
    assert (parts.uncertainty, parts.within) == pytest.approx((0.25, 0.0), abs=1e-12)


@given(chances_of, st.randoms(use_true_random=False), st.integers(1, 7))
def test_the_parts_add_up_to_the_score_over_any_groups(chances, random, n_groups) -> None:
    """Murphy (1973) over distinct chances, Stephenson et al. (2008) over groups."""
    outcomes = np.array([random.random() < 0.6 for _ in chances])
    for groups in (None, group_chances(chances, n_groups=n_groups)):
        parts = split_brier(chances, outcomes, groups=groups)
        whole = parts.reliability - parts.resolution + parts.uncertainty + parts.within
        assert whole == pytest.approx(parts.score, abs=1e-9)
        assert parts.score == pytest.approx(
            np.mean([(p - y) ** 2 for p, y in zip(chances, outcomes, strict=True)])
        )


def test_always_saying_the_overall_share_has_neither_reliability_nor_resolution() -> None:
    parts = split_brier(np.full(10, 0.5), HAPPENED)
    assert (parts.score, parts.reliability, parts.resolution) == pytest.approx((0.25, 0, 0))


# Groups and table


def test_groups_hold_about_equally_many_and_rise() -> None:
    chances, happened = draw(103, 5)
    table = tabulate_calibration(chances, happened, n_groups=5)
    assert table.n.sum() == 103
    assert table.n.max() - table.n.min() <= 1
    assert (np.diff(table.stated) > 0).all()
    assert (table.most[:-1] < table.least[1:]).all()
    assert {getattr(table, name).shape for name in vars(table)} == {(5,)}


@given(chances_of, st.integers(1, 9))
def test_equal_chances_are_never_parted_and_order_does_not_matter(chances, n_groups) -> None:
    groups = group_chances(chances, n_groups=n_groups)
    assert sorted(set(groups)) == list(range(groups.max() + 1))
    assert groups.max() < n_groups
    turned = group_chances(chances[::-1], n_groups=n_groups)
    assert (turned[::-1] == groups).all()
    for one, other in itertools.combinations(range(chances.size), 2):
        if chances[one] == chances[other]:
            assert groups[one] == groups[other]
        elif chances[one] < chances[other]:
            assert groups[one] <= groups[other]


def test_the_table_counts_what_a_slow_count_counts() -> None:
    table = tabulate_calibration(STATED, HAPPENED, n_groups=2)
    assert table.n.tolist() == [5, 5]
    assert table.happened.tolist() == [1, 4]
    assert table.stated == pytest.approx([0.2, 0.76])
    assert (table.least[1], table.most[1]) == (0.6, 0.9)
    # Wilson for 1 and 4 of 5, computed with scipy's binomtest.
    assert table.lower == pytest.approx([0.0362, 0.3755], abs=5e-5)
    assert table.upper == pytest.approx([0.6245, 0.9638], abs=5e-5)


# Spiegelhalter's test


@pytest.mark.parametrize(
    ("stated", "brier", "z"), [((0.2, 0.2), 0.34, 1.06), ((0.4, 0.5), 0.30, 1.22)]
)
def test_spiegelhalters_z_is_that_of_the_published_example(
    stated: tuple[float, float], brier: float, z: float
) -> None:
    """Rufibach (2010), J. Clin. Epidemiol. 63, 938-939, table 1, x = (1, 0); two digits."""
    chances, happened = np.array(stated), np.array([True, False])
    assert check_calibration(chances, happened).z == pytest.approx(z, abs=0.005)
    # 0.305 is printed as 0.30.
    assert split_brier(chances, happened).score == pytest.approx(brier, abs=0.0051)


def test_z_has_mean_0_and_variance_1_over_all_outcomes_that_could_be() -> None:
    """Exact: every row of ten outcomes, weighed by its chance under the stated chances."""
    mean = square = total = 0.0
    for row in itertools.product([False, True], repeat=10):
        happened = np.array(row)
        weight = float(np.where(happened, STATED, 1 - STATED).prod())
        z = check_calibration(STATED, happened).z
        mean, square, total = mean + weight * z, square + weight * z * z, total + weight
    assert (total, mean, square) == pytest.approx((1, 0, 1), abs=1e-9)


def test_its_p_value_is_the_two_sided_one_of_the_normal_distribution() -> None:
    test = check_calibration(STATED, HAPPENED)
    assert test.p_value == pytest.approx(2 * norm.sf(abs(test.z)), rel=1e-12)


def test_it_rejects_about_1_in_20_where_chances_hold_and_most_where_they_are_too_extreme() -> None:
    right = [check_calibration(*draw(300, seed)).p_value for seed in range(400)]
    wrong = [check_calibration(*draw(300, seed, power=0.4)).p_value for seed in range(100)]
    assert 0.02 < np.mean(np.array(right) < 0.05) < 0.09
    assert np.mean(np.array(wrong) < 0.05) > 0.9


def test_chances_of_one_half_leave_it_nothing_to_say() -> None:
    assert check_calibration(np.array([0.5, 0.5, 1.0]), np.array([True, False, True])) is None


# Recalibration


def test_recalibration_finds_what_a_general_optimiser_finds() -> None:
    chances, happened = draw(250, 11, power=0.7)
    odds = np.log(chances / (1 - chances))

    def loss(at: np.ndarray) -> float:
        eta = at[0] + at[1] * odds
        return float(np.logaddexp(0, eta).sum() - eta[happened].sum())

    best = minimize(loss, [0.0, 1.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    only = minimize(lambda at: loss(np.array([at[0], 1.0])), [0.0], method="BFGS")
    line = recalibrate(chances, happened)
    assert (line.intercept, line.slope) == pytest.approx(best.x, abs=1e-5)
    assert line.shift == pytest.approx(only.x[0], abs=1e-5)
    second = second_differences(loss, np.array([line.intercept, line.slope]))
    errors = np.sqrt(np.diag(np.linalg.inv(second)))
    assert (line.intercept_se, line.slope_se) == pytest.approx(errors, rel=1e-3)


def second_differences(loss, at: np.ndarray, h: float = 1e-4) -> np.ndarray:
    steps = np.eye(2) * h
    return np.array(
        [
            [
                (
                    loss(at + one + other)
                    - loss(at + one - other)
                    - loss(at - one + other)
                    + loss(at - one - other)
                )
                / (4 * h * h)
                for other in steps
            ]
            for one in steps
        ]
    )


def test_with_two_chances_the_line_goes_through_both_shares() -> None:
    """Closed form: two stated chances, two shares, so the line is the one through two points."""
    chances = np.repeat([0.4, 0.8], [20, 30])
    happened = np.concatenate([np.arange(20) < 10, np.arange(30) < 21])
    logit = lambda p: np.log(p / (1 - p))  # noqa: E731
    slope = (logit(0.7) - logit(0.5)) / (logit(0.8) - logit(0.4))
    line = recalibrate(chances, happened)
    assert line.slope == pytest.approx(slope, abs=1e-9)
    assert line.intercept == pytest.approx(logit(0.5) - slope * logit(0.4), abs=1e-9)


def test_the_slopes_interval_holds_1_about_95_times_in_100_where_chances_hold() -> None:
    intervals = [recalibrate(*draw(200, seed)).slope_interval for seed in range(300)]
    assert 0.91 < np.mean([low <= 1 <= high for low, high in intervals]) < 0.985
    shifts = [recalibrate(*draw(200, seed)).shift_interval for seed in range(300)]
    assert 0.91 < np.mean([low <= 0 <= high for low, high in shifts]) < 0.985


def test_chances_that_are_too_extreme_have_a_slope_below_1() -> None:
    line = recalibrate(*draw(4000, 3, power=0.5))
    assert line.slope == pytest.approx(0.5, abs=3 * line.slope_se)


@pytest.mark.parametrize(
    ("stated", "happened"),
    [
        ([0.2, 0.4, 0.6], [True, True, True]),
        ([0.4, 0.4, 0.4], [True, False, True]),
        ([0.2, 0.4, 0.6, 0.8], [False, False, True, True]),
        ([0.2, 0.4, 0.4, 0.8], [True, True, False, False]),
    ],
)
def test_where_no_line_can_be_found_there_is_none(stated, happened) -> None:
    assert recalibrate(np.array(stated), np.array(happened)) is None


def test_chances_of_0_and_1_are_taken_as_nearly_so() -> None:
    stated = np.array([0.0, 0.2, 0.5, 0.5, 0.9, 1.0])
    assert recalibrate(stated, np.array([False, True, False, True, False, True])) is not None


# Refusals


@pytest.mark.parametrize(
    ("stated", "happened"),
    [([], []), ([0.5], [True, False]), ([1.2], [True]), ([np.nan], [True]), ([0.5], [2])],
)
def test_what_cannot_be_laid_side_by_side_is_refused(stated, happened) -> None:
    for function in (check_calibration, split_brier, recalibrate):
        with pytest.raises(ValueError, match=r"chance|outcome"):
            function(np.array(stated, dtype=float), np.array(happened))
