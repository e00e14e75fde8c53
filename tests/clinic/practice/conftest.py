"""A course with a plan, and what is typed for its nights."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role


@pytest.fixture(scope="session")
def cast() -> ModuleType:
    """The module beside this one: courses set down, nights invented."""
    found = importlib.util.spec_from_file_location(
        "practice_cast", Path(__file__).with_name("cast.py")
    )
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def course(db: None, cast: ModuleType) -> Any:
    return cast.set_down_course()


@pytest.fixture
def plan(course: Any, cast: ModuleType) -> Any:
    return cast.plan_in(course)


@pytest.fixture
def clinician(make_staff: Callable[..., Any]) -> Any:
    return make_staff(Role.CLINICIAN)


@pytest.fixture
def keep(coach: Any, cast: ModuleType) -> Callable[..., Any]:
    """Keep typed nights of the cast's course, as the coach."""
    from sidelong.clinic.practice.actions import keep_nights

    def keep_all(nights: Any, *, code: str = cast.CODE, by: Any = coach) -> Any:
        return keep_nights(
            code=code, course=1, nights=nights, now=cast.NOW, today=cast.TODAY, by=by
        )

    return keep_all


@pytest.fixture
def way() -> Any:
    """The cast of the way to the booklet."""
    path = Path(__file__).parents[1] / "trainees" / "cast.py"
    found = importlib.util.spec_from_file_location("cast_of_the_way", path)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    return cast


@pytest.fixture
def planned(way: Any, make_staff: Callable[..., Any], coach: Any, clinician: Any) -> str:
    way.take_up(make_staff(Role.LEAD))
    code = way.refer(coach)
    way.clear(code, clinician)
    way.visit(code, coach)
    way.issue(code, coach)
    return code
