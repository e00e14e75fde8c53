"""What must hold before the clinic starts."""

import sqlite3
from typing import Any

import pytest
from django.core import checks
from django.db import connection

from sidelong.clinic.checks import postgresql_faults, sqlite_faults


class FakeConnection:
    """Answers questions about settings, as a connection would."""

    def __init__(self, answers: dict[str, Any], transaction_mode: str = "IMMEDIATE") -> None:
        self.answers = answers
        self.transaction_mode = transaction_mode

    def cursor(self) -> "FakeConnection":
        return self

    def __enter__(self) -> "FakeConnection":
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing to close."""

    def execute(self, question: str) -> "FakeConnection":
        self.asked = question.split()[-1]
        return self

    def fetchone(self) -> tuple[Any]:
        return (self.answers[self.asked],)


SOUND_SQLITE = {"journal_mode": "delete", "synchronous": 3, "foreign_keys": 1}
SOUND_POSTGRESQL = {
    "fsync": "on",
    "full_page_writes": "on",
    "synchronous_commit": "on",
    "data_checksums": "on",
}


def ids(found: list[checks.CheckMessage]) -> list[str | None]:
    return [message.id for message in found]


def test_sound_sqlite_settings_pass() -> None:
    assert sqlite_faults(FakeConnection(SOUND_SQLITE), version=(3, 40, 1)) == []


@pytest.mark.parametrize(
    ("answers", "version", "expected"),
    [
        ({"journal_mode": "wal", "synchronous": 2}, (3, 51, 3), []),
        ({"journal_mode": "wal", "synchronous": 2}, (3, 51, 2), ["sidelong.E010"]),
        ({"journal_mode": "wal", "synchronous": 1}, (3, 51, 3), ["sidelong.E011"]),
        ({"synchronous": 2}, (3, 40, 1), ["sidelong.E011"]),
        ({"foreign_keys": 0}, (3, 40, 1), ["sidelong.E012"]),
    ],
)
def test_sqlite_settings_that_may_forget_are_refused(
    answers: dict[str, Any], version: tuple[int, int, int], expected: list[str]
) -> None:
    found = sqlite_faults(FakeConnection({**SOUND_SQLITE, **answers}), version=version)
    assert ids(found) == expected


def test_sqlite_writers_that_would_fail_are_refused() -> None:
    found = sqlite_faults(FakeConnection(SOUND_SQLITE, "DEFERRED"), version=(3, 40, 1))
    assert ids(found) == ["sidelong.E013"]


@pytest.mark.parametrize("name", ["fsync", "full_page_writes", "synchronous_commit"])
def test_a_postgresql_server_that_may_forget_is_refused(name: str) -> None:
    found = postgresql_faults(FakeConnection({**SOUND_POSTGRESQL, name: "off"}))
    assert ids(found) == ["sidelong.E020"]
    assert name in found[0].msg


def test_missing_checksums_are_a_warning_only() -> None:
    found = postgresql_faults(FakeConnection({**SOUND_POSTGRESQL, "data_checksums": "off"}))
    assert [message.level for message in found] == [checks.WARNING]


@pytest.mark.django_db
def test_the_real_connection_has_no_fault() -> None:
    if connection.vendor == "sqlite":
        found = sqlite_faults(connection, version=sqlite3.sqlite_version_info[:3])
    else:
        found = postgresql_faults(connection)
    assert [message for message in found if message.level >= checks.ERROR] == []


@pytest.mark.django_db
def test_all_checks_of_the_clinic_pass() -> None:
    found = checks.run_checks(databases=["default"])
    assert [message for message in found if message.level >= checks.ERROR] == []


def test_a_clinic_without_a_folder_does_not_start(run_python: Any) -> None:
    done = run_python(
        "import django; from django.core.management import call_command as c;"
        "django.setup(); c('check')",
        DJANGO_SETTINGS_MODULE="sidelong.clinic.settings",
    )
    assert done.returncode != 0
    assert "sidelong.E001" in done.stderr
