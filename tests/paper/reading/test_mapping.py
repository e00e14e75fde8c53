import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.paper.reading.mapping import fit_homography, flat_mapping, project

A4 = (210.0, 297.0)
CORNERS = np.array([[0.0, 0.0], [210.0, 0.0], [210.0, 297.0], [0.0, 297.0]])
LEANING = np.array([[300.0, 200.0], [2700.0, 350.0], [2500.0, 3700.0], [150.0, 3500.0]])


def test_corners_give_back_the_homography_that_made_them() -> None:
    found = fit_homography(CORNERS, LEANING)
    assert found is not None
    assert np.allclose(project(found, CORNERS), LEANING, atol=1e-6)


def test_a_page_seen_from_behind_is_refused() -> None:
    assert fit_homography(CORNERS, LEANING[::-1]) is None


def test_corners_in_one_line_make_no_page() -> None:
    line = np.stack([np.arange(4.0), 2 * np.arange(4.0)], axis=1)
    assert fit_homography(line, line) is None


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))
def test_a_slanted_shift_is_met_everywhere(dx: float, dy: float, a: float, b: float) -> None:
    """A thin plate takes up any plane exactly, also where nothing was measured."""
    rng = np.random.default_rng(5)
    points = rng.uniform((20, 20), (190, 270), (30, 2))

    def shift(at: np.ndarray) -> np.ndarray:
        return np.stack([dx + a * at[:, 0], dy + b * at[:, 1]], axis=1)

    mapping = flat_mapping(np.eye(3), A4).shifted_more(
        points, shift(points), smoothing=np.full(len(points), 1e-3)
    )
    anywhere = rng.uniform((1, 1), (209, 296), (40, 2))
    assert np.allclose(mapping.to_photograph(anywhere), anywhere + shift(anywhere), atol=1e-3)


def test_scale_is_that_of_the_homography() -> None:
    scaled = np.diag([7.5, 7.5, 1.0])
    assert flat_mapping(scaled, A4).px_per_mm(np.array([100.0, 100.0])) == pytest.approx(7.5)


@given(st.floats(10, 200), st.floats(10, 280))
def test_the_scale_at_a_place_is_that_of_a_small_square_there(x: float, y: float) -> None:
    found = fit_homography(CORNERS, LEANING)
    assert found is not None
    step = 1e-3
    square = np.array([[x, y], [x + step, y], [x, y + step]])
    corner, right, below = project(found, square)
    (a, b), (c, d) = right - corner, below - corner
    scale = flat_mapping(found, A4).px_per_mm(np.array([x, y]))
    assert scale == pytest.approx(abs(a * d - b * c) ** 0.5 / step, rel=1e-3)
