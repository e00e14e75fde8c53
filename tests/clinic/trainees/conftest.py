"""People and trainees at every step of the way to the booklet."""

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role


@pytest.fixture(scope="session")
def cast() -> ModuleType:
    """The module beside this one: each step through the real actions."""
    found = importlib.util.spec_from_file_location(
        "trainees_cast", Path(__file__).with_name("cast.py")
    )
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


@pytest.fixture
def lead(make_staff: Callable[..., Any]) -> Any:
    return make_staff(Role.LEAD)


@pytest.fixture
def clinician(make_staff: Callable[..., Any]) -> Any:
    return make_staff(Role.CLINICIAN)


@pytest.fixture
def rules(lead: Any, cast: ModuleType) -> None:
    cast.take_up(lead)


@pytest.fixture
def referred(rules: None, coach: Any, cast: ModuleType) -> str:
    return cast.refer(coach)


@pytest.fixture
def decided(referred: str, clinician: Any, cast: ModuleType) -> str:
    cast.clear(referred, clinician)
    return referred


@pytest.fixture
def visited(decided: str, coach: Any, cast: ModuleType) -> str:
    cast.visit(decided, coach)
    return decided


@pytest.fixture
def planned(visited: str, coach: Any, cast: ModuleType) -> str:
    cast.issue(visited, coach)
    return visited
