from collections.abc import Callable

import numpy as np
import pytest

from sidelong.preferences import Courses


def blank_courses(n: int, nights: int, *, scale: int = 5, allowed: tuple[int, ...] = ()) -> Courses:
    """Plans of which nothing was practised yet."""
    cells = (n, nights, 5)
    may_use = np.zeros((n, 5), bool)
    may_use[:, list(allowed) or slice(None)] = True
    return Courses(
        slot=np.zeros(cells, int),
        rating=np.zeros(cells, int),
        went_down=np.zeros(cells, int),
        felt_best=np.full((n, nights), -1),
        piece_mm=np.full(cells, np.nan),
        previous=np.full(cells, -1),
        previous_failed=np.zeros(cells, bool),
        allowed=may_use,
        scale=np.full(n, scale),
        planned=np.full(n, nights),
    )


@pytest.fixture
def blank() -> Callable[..., Courses]:
    return blank_courses


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20240501)


def random_orders(rng: np.random.Generator, *, n: int, nights: int = 14) -> np.ndarray:
    return np.argsort(rng.random((n, nights, 5)), axis=2)


@pytest.fixture
def orders(rng: np.random.Generator) -> Callable[..., np.ndarray]:
    def draw(n: int, nights: int = 14) -> np.ndarray:
        return random_orders(rng, n=n, nights=nights)

    return draw
