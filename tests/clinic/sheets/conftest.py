"""A course with a plan, and photographs of its sheets."""

import importlib.util
from collections.abc import Callable, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role


def _load(path: Path, name: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(name, path)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    return cast


@pytest.fixture(scope="session")
def way() -> Any:
    """The cast of the way to the booklet."""
    path = Path(__file__).parents[1] / "trainees" / "cast.py"
    return _load(path, "cast_of_the_way_to_sheets")


@pytest.fixture(scope="session")
def camera() -> Any:
    """The cast that marks and photographs sheets."""
    return _load(Path(__file__).parent / "cast.py", "cast_of_sheets")


@pytest.fixture
def code(
    way: Any, make_staff: Callable[..., Any], coach: Any, settings: Any, tmp_path: Path
) -> str:
    settings.MEDIA_ROOT = tmp_path / "media"
    clinician = make_staff(Role.CLINICIAN)
    way.take_up(make_staff(Role.LEAD))
    code = way.refer(coach)
    way.clear(code, clinician)
    way.visit(code, coach)
    way.issue(code, coach)
    return code


@pytest.fixture
def booklet(code: str, camera: Any) -> Any:
    """The booklet that the family got."""
    return camera.booklet_of(code)


@pytest.fixture
def photograph(booklet: Any, camera: Any) -> Callable[..., bytes]:
    """Mark a sheet and photograph it."""

    def take(night: int, marks: Mapping[str, str], **more: Any) -> bytes:
        return camera.take_photograph(booklet, night, marks=marks, **more)

    return take


@pytest.fixture
def full_night(booklet: Any, camera: Any) -> Callable[[int], dict[str, str]]:
    """An answer to every question of a sheet."""
    return lambda night: camera.full_night(booklet, night)
