"""The engine against the world: published data and what other programs make of them.

- Wine: Randall, J. H. (1989). The analysis of sensory data by generalised linear model.
  Biometrical Journal 31, 781-793: bitterness of white wine, rated 1..5 by nine judges over two
  temperatures, with and without contact of skin and juice, two bottles each. Transcribed from the
  published table. Fits of the cumulative probit mixed model: R 4.2.2, package ordinal 2022.11-16
  (``clm``, ``clmm`` with Laplace and with ten quadrature points), computed for this project.
- Nile: annual flow at Aswan 1871-1970, 10^8 m^3, as in Durbin, J., Koopman, S. J. (2012), Time
  Series Analysis by State Space Methods, the local level model. Values computed with exact diffuse
  initialisation and checked against R's StructTS.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from sidelong.preferences import DEFAULT, Courses, Hyperparameters
from sidelong.preferences.likelihood import Likelihood
from sidelong.preferences.mode import find_mode
from sidelong.preferences.model import prepare_evidence
from sidelong.preferences.quadrature import integrate_level
from sidelong.preferences.score import gather_covariates, score_hyperparameters
from sidelong.preferences.smoother import (
    filter_forward,
    integrate_noise,
    smooth_covariances,
    smooth_means,
)


def numbers(text: str) -> np.ndarray:
    return np.array(text.split(), dtype=float)


# Judges in rows; cold without contact (two bottles), cold with, warm without, warm with.
WINE = np.array(
    [
        [2, 3, 3, 4, 4, 4, 5, 5],
        [1, 2, 1, 3, 2, 3, 5, 4],
        [2, 3, 3, 2, 5, 5, 4, 4],
        [3, 2, 3, 2, 3, 2, 5, 3],
        [2, 3, 4, 3, 3, 3, 3, 3],
        [3, 2, 3, 2, 2, 4, 5, 4],
        [1, 1, 2, 2, 2, 3, 2, 3],
        [2, 2, 2, 3, 3, 3, 3, 4],
        [1, 2, 3, 2, 3, 2, 4, 4],
    ]
)
WARM = np.array([0, 0, 0, 0, 1, 1, 1, 1])
CONTACT = np.array([0, 0, 1, 1, 0, 0, 1, 1])

# cuts, warm, contact, SD between judges, log likelihood
CLM = (-0.7732627, 0.7360215, 2.0446805, 2.9413450, 1.4993746, 0.8677435, 0.0, -85.76114836)
LAPLACE = (-0.9264797, 0.8894378, 2.4675927, 3.5366622, 1.8000144, 1.0482055, 0.6631532)
LAPLACE_HEIGHT = -80.93060715
QUADRATURE = (-0.9263254, 0.8893514, 2.4673335, 3.5363560, 1.7998722, 1.0481142, 0.6630288)
QUADRATURE_HEIGHT = -80.93129462
# Of the judges' levels, at the fit by quadrature.
LEVELS = numbers(
    "0.95951343 -0.38815539 0.62585914 -0.01512319 0.17496314 "
    "0.24257463 -1.10189036 -0.15399781 -0.34239792"
)
VARIANCES = numbers(
    "0.116757 0.113691 0.111710 0.114599 0.112152 0.112596 0.121759 0.114413 0.113437"
)

ONLY_LEVEL = replace(
    DEFAULT,
    spread_sd=0.0,
    drift_sd=0.0,
    level_drift_sd=0.0,
    learning_gain=0.0,
    night_sd=0.0,
    piece_sd=0.0,
    slot_effects=(0.0, 0.0, 0.0, 0.0, 0.0),
)


@pytest.fixture(scope="module")
def wine() -> Courses:
    """Judges as trainees with one position, ratings as nights; warm as size, contact as failure."""
    cells = (9, 8, 5)
    rating, slot = np.zeros(cells, int), np.zeros(cells, int)
    failed, size = np.zeros(cells, bool), np.full(cells, np.nan)
    rating[:, :, 2], slot[:, :, 2] = WINE, 1
    failed[:, :, 2], size[:, :, 2] = CONTACT == 1, 5.0 + WARM
    return Courses(
        slot=slot,
        rating=rating,
        went_down=np.zeros(cells, int),
        felt_best=np.full((9, 8), -1),
        piece_mm=size,
        previous=np.full(cells, -1),
        previous_failed=failed,
        allowed=np.eye(5, dtype=bool)[[2] * 9],
        scale=np.full(9, 5),
        planned=np.full(9, 8),
    )


def special(vector: np.ndarray) -> Hyperparameters:
    """Four cut points (the lowest and the gaps), warm, contact, SD between judges."""
    cuts = tuple(np.cumsum([vector[0], *np.exp(vector[1:4])]))
    return replace(
        ONLY_LEVEL,
        thresholds={**DEFAULT.thresholds, 5: cuts},
        size_effect=float(vector[4]),
        carryover_failed=float(vector[5]),
        level_sd=float(np.exp(vector[6])),
    )


def as_vector(row: tuple[float, ...]) -> np.ndarray:
    return np.array([row[0], *np.log(np.diff(row[:4])), row[4], row[5], np.log(max(row[6], 1e-9))])


def read(vector: np.ndarray) -> np.ndarray:
    point = special(vector)
    return np.array(
        [*point.thresholds[5], point.size_effect, point.carryover_failed, point.level_sd]
    )


def climb_laplace(wine: Courses, start: np.ndarray) -> tuple[np.ndarray, float]:
    """Maximise the Laplace evidence with the analytic gradient."""
    covariates = gather_covariates(wine)

    def fall(vector: np.ndarray) -> tuple[float, np.ndarray]:
        point = special(vector)
        evidence = prepare_evidence(wine, point)
        posterior = find_mode(evidence, tolerance=1e-13)
        scores = score_hyperparameters(posterior, evidence, covariates, points=(point,))
        total = {name: values.sum(axis=1) for name, values in scores.items()}
        cuts = np.cumsum(total["thresholds_5"][::-1])[::-1]
        cuts[1:] *= np.exp(vector[1:4])
        level = total["level_sd"] * point.level_sd
        gradient = [*cuts, *total["size_effect"], *total["carryover_failed"], *level]
        return -posterior.log_evidence.sum(), -np.array(gradient)

    found = minimize(fall, start, jac=True, method="BFGS", options={"gtol": 1e-6})
    return read(found.x), -found.fun


def test_without_judges_the_model_is_the_published_cumulative_link_model(wine) -> None:
    flat = replace(special(as_vector(CLM)), level_sd=0.0)
    found = find_mode(prepare_evidence(wine, flat))
    assert found.log_evidence.sum() == pytest.approx(CLM[7], abs=1e-6)


def test_the_laplace_fit_of_the_wine_is_the_one_of_another_program(wine) -> None:
    start = as_vector((-1.0, 0.0, 1.0, 2.0, 0.0, 0.0, 1.0))
    found, height = climb_laplace(wine, start)
    assert height == pytest.approx(LAPLACE_HEIGHT, abs=1e-5)
    np.testing.assert_allclose(found, LAPLACE, atol=2e-4)


def test_the_fit_by_quadrature_is_the_one_of_another_program(wine) -> None:
    def fall(vector: np.ndarray) -> float:
        return -float(integrate_level(wine, hyperparameters=special(vector)).sum())

    found = minimize(fall, as_vector(LAPLACE), method="BFGS", options={"gtol": 1e-3})
    assert -found.fun == pytest.approx(QUADRATURE_HEIGHT, abs=1e-5)
    np.testing.assert_allclose(read(found.x), QUADRATURE, atol=1e-4)


def test_every_judge_has_the_published_mode_and_variance(wine) -> None:
    posterior = find_mode(prepare_evidence(wine, special(as_vector(QUADRATURE))), tolerance=1e-13)
    np.testing.assert_allclose(posterior.filtered.mean[-1, 2], LEVELS, atol=2e-5)
    np.testing.assert_allclose(posterior.filtered.covariance[-1, 2, 2], VARIANCES, atol=2e-6)


def test_a_second_spread_without_support_goes_to_0(wine) -> None:
    """Boundary: what bottles would add (here, what nights add) leaves the fit as it is."""
    at = special(as_vector(LAPLACE))
    heights = [
        find_mode(prepare_evidence(wine, replace(at, level_drift_sd=sd))).log_evidence.sum()
        for sd in (0.0, 1e-4, 0.3)
    ]
    assert heights[0] == pytest.approx(LAPLACE_HEIGHT, abs=1e-5)
    assert heights[1] == pytest.approx(heights[0], abs=1e-6)
    assert heights[2] < heights[0]


def test_quadrature_of_one_level_equals_the_closed_form(blank) -> None:
    """Probit trials: the chance of k successes in m is a Beta function, see test_mode."""
    point = replace(ONLY_LEVEL, thresholds={**DEFAULT.thresholds, 2: (0.0,)})
    courses = blank(1, 5, scale=2, allowed=(2,))
    courses.slot[0, :, 2] = 1
    courses.rating[0, :, 2] = 4
    exact = -1.7917594692
    found = integrate_level(courses, hyperparameters=point, points=20)[0]
    laplace = find_mode(prepare_evidence(courses, point)).log_evidence[0]
    assert found == pytest.approx(exact, abs=1e-6)
    assert abs(laplace - exact) > 0.01


def test_without_a_level_there_is_nothing_to_integrate(blank) -> None:
    with pytest.raises(ValueError, match="no level"):
        integrate_level(blank(1, 2), hyperparameters=replace(ONLY_LEVEL, level_sd=0.0))


NILE = numbers(
    "1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 "
    "799 958 1140 1100 1210 1150 1250 1260 1220 1030 1100 774 840 874 694 940 833 "
    "701 916 692 1020 1050 969 831 726 456 824 702 1120 1100 832 764 821 768 "
    "845 864 862 698 845 744 796 1040 759 781 865 845 944 984 897 822 1010 "
    "771 676 649 846 812 742 801 1040 860 874 848 890 744 749 838 1050 918 "
    "986 797 923 975 815 1020 906 901 1170 912 746 919 718 714 740"
)


def test_the_passes_give_the_published_local_level_of_the_nile() -> None:
    """One position of five carries the series, all other cells are blank; a wide first level."""
    noise, change, first = 15099.0, 1469.1, 1e7
    shape = (100, 5, 1)
    curvature, centred = np.zeros(shape), np.zeros(shape)
    curvature[:, 2, 0] = 1.0 / noise
    gradient = np.zeros(shape)
    gradient[:, 2, 0] = NILE / noise
    answers = Likelihood(np.zeros(1), gradient, curvature, np.zeros(shape))
    none = np.zeros(1)
    information = integrate_noise(answers, centred, night_sd=none, piece_sd=none)
    block = np.zeros((5, 5, 1))
    block[2, 2] = 1.0
    filtered = filter_forward(information, first=first * block, drift=change * block)
    means, _ = smooth_means(filtered, information)
    variances, _ = smooth_covariances(filtered, information)

    assert filtered.predicted_mean[1, 2, 0] == pytest.approx(1118.311462, abs=1e-5)
    assert filtered.covariance[0, 2, 2, 0] + change == pytest.approx(16545.336391, abs=1e-4)
    # Beyond the first years a wide first level and an exact diffuse one cannot be told apart.
    assert filtered.mean[99, 2, 0] == pytest.approx(798.370293, abs=1e-3)
    assert filtered.covariance[99, 2, 2, 0] == pytest.approx(4032.157942, abs=1e-3)
    for year, level, variance in (
        (28, 999.585219, 2326.756958),
        (50, 834.763259, 2326.756870),
        (100, 798.370293, 4032.157942),
    ):
        assert means[year - 1, 2, 0] == pytest.approx(level, abs=2e-2)
        assert variances[year - 1, 2, 2, 0] == pytest.approx(variance, abs=0.5)


def test_the_passes_give_the_published_likelihood_of_the_nile() -> None:
    noise, change, first = 15099.0, 1469.1, 1e7
    shape = (100, 5, 1)
    curvature, gradient = np.zeros(shape), np.zeros(shape)
    curvature[:, 2, 0] = 1.0 / noise
    gradient[:, 2, 0] = NILE / noise
    answers = Likelihood(np.zeros(1), gradient, curvature, np.zeros(shape))
    none = np.zeros(1)
    information = integrate_noise(answers, np.zeros(shape), night_sd=none, piece_sd=none)
    block = np.zeros((5, 5, 1))
    block[2, 2] = 1.0
    filtered = filter_forward(information, first=first * block, drift=change * block)
    means, dual = smooth_means(filtered, information)
    misfit = NILE - means[:, 2, 0]
    height = -0.5 * (misfit**2 / noise + np.log(2 * np.pi * noise)).sum()
    height += -0.5 * (dual * means).sum() - 0.5 * filtered.log_det[0]
    assert height == pytest.approx(-641.58557846, abs=1e-6)
