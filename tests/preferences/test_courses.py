from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sidelong.preferences import Courses


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("slot", 6),
        ("rating", 6),
        ("went_down", 4),
        ("felt_best", 5),
        ("previous", 5),
        ("planned", 0),
        ("scale", 1),
        ("piece_mm", -1.0),
    ],
)
def test_values_outside_their_range_are_refused(
    blank: Callable[..., Courses], name: str, value: float
) -> None:
    courses = blank(2, 3)
    array = getattr(courses, name).copy()
    array[0] = value
    with pytest.raises(ValueError, match=name):
        replace(courses, **{name: array})


def test_shapes_that_disagree_are_refused(blank: Callable[..., Courses]) -> None:
    with pytest.raises(ValueError, match="felt_best"):
        replace(blank(2, 3), felt_best=np.full((2, 4), -1))
    with pytest.raises(ValueError, match="slot"):
        replace(blank(2, 3), slot=np.zeros((2, 3, 4), int))


def test_an_answer_without_a_slot_is_refused(blank: Callable[..., Courses]) -> None:
    rating = np.zeros((1, 3, 5), int)
    rating[0, 0, 0] = 4
    with pytest.raises(ValueError, match="without a slot"):
        replace(blank(1, 3), rating=rating)


def test_a_position_that_is_not_allowed_cannot_have_been_tried(
    blank: Callable[..., Courses],
) -> None:
    slot = np.zeros((1, 3, 5), int)
    slot[0, 0, 4] = 1
    with pytest.raises(ValueError, match="not allowed"):
        replace(blank(1, 3, allowed=(0, 1)), slot=slot)


def test_a_night_after_the_plan_cannot_hold_an_answer(blank: Callable[..., Courses]) -> None:
    courses = blank(1, 3)
    courses.slot[0, 2, 0] = 1
    with pytest.raises(ValueError, match="after the last one planned"):
        replace(courses, planned=np.array([2]))


def test_forgetting_later_nights_keeps_the_plan(blank: Callable[..., Courses]) -> None:
    courses = blank(2, 4)
    courses.slot[:] = np.arange(1, 6)
    courses.rating[:] = 3
    courses.felt_best[:] = 1
    courses.piece_mm[:] = np.array([5.0, 6.0, 7.0, 8.0])[:, None]

    kept = courses.until(np.array([0, 3]))

    assert kept.nights_used.tolist() == [0, 3]
    assert kept.planned.tolist() == [4, 4]
    assert kept.last_piece_mm.tolist() == [5.0, 7.0]
    assert courses.nights_used.tolist() == [4, 4]


def test_a_night_counts_once_whatever_was_answered(blank: Callable[..., Courses]) -> None:
    courses = blank(1, 4)
    courses.slot[0, :3] = np.arange(1, 6)
    courses.rating[0, 0, 2] = 3
    courses.went_down[0, 1, :] = 1
    courses.felt_best[0, 1] = 2
    assert courses.nights_used.tolist() == [2]
