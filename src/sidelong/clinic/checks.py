"""What must hold before the clinic starts, as Django system checks."""

import sqlite3
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core import checks
from django.core.checks import CheckMessage, Error
from django.db import connections

from sidelong.clinic.databases import is_durable, is_wal_safe
from sidelong.problems import Refused

MIN_POSTGRESQL = 140000


def check_installation_exists(**_: Any) -> list[CheckMessage]:
    """Refuse to start without a clinic's folder."""
    if settings.INSTALLATION.exists:
        return []
    hint = "Name the clinic's folder in SIDELONG_HOME; `sidelong serve` makes one."
    return [Error("there is no installation", hint=hint, id="sidelong.E001")]


def check_key_ring(**_: Any) -> list[CheckMessage]:
    """Refuse to start when names could not be opened or sealed."""
    if not settings.INSTALLATION.exists:
        return []
    try:
        settings.INSTALLATION.key_ring()
    except Refused as refusal:
        return [
            Error(problem.what, hint=problem.remedy, id="sidelong.E002")
            for problem in refusal.problems
        ]
    return []


def check_database_is_durable(
    *, databases: Sequence[str] | None = None, **_: Any
) -> list[CheckMessage]:
    """Refuse a database that may forget what it acknowledged."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if connection.vendor == "sqlite":
            found += sqlite_faults(connection, version=sqlite3.sqlite_version_info)
        elif connection.vendor == "postgresql":
            found += postgresql_faults(connection)
    return found


def sqlite_faults(connection: Any, *, version: tuple[int, int, int]) -> list[CheckMessage]:
    """Look at the settings that a SQLite connection really has.

    Parameters
    ----------
    connection : DatabaseWrapper
        An open or closed connection.
    version : tuple of int
        Version of the SQLite library.

    Returns
    -------
    list of CheckMessage
        Errors that forbid to start; empty when all is well.
    """
    with connection.cursor() as cursor:
        journal = cursor.execute("PRAGMA journal_mode").fetchone()[0]
        synchronous = cursor.execute("PRAGMA synchronous").fetchone()[0]
        foreign_keys = cursor.execute("PRAGMA foreign_keys").fetchone()[0]
    if journal == "memory":  # a database of tests; nothing is kept anyway
        return []
    found: list[CheckMessage] = []
    if journal == "wal" and not is_wal_safe(version):
        hint = "Switch the file to the rollback journal; docs/operations/installation.md says how."
        what = f"SQLite {'.'.join(map(str, version))} can lose rows with a write-ahead log"
        found.append(Error(what, hint=hint, id="sidelong.E010"))
    elif not is_durable(journal, synchronous):
        hint = "Leave the settings to sidelong.clinic.databases."
        what = f"a power cut may undo writes (journal {journal}, synchronous {synchronous})"
        found.append(Error(what, hint=hint, id="sidelong.E011"))
    if not foreign_keys:
        hint = "Leave the settings to Django."
        found.append(Error("references are not checked", hint=hint, id="sidelong.E012"))
    if connection.transaction_mode != "IMMEDIATE":
        hint = "Set transaction_mode to IMMEDIATE."
        what = "two writers at once would fail instead of waiting"
        found.append(Error(what, hint=hint, id="sidelong.E013"))
    return found


def postgresql_faults(connection: Any) -> list[CheckMessage]:
    """Look at the settings that a PostgreSQL server really has.

    Parameters
    ----------
    connection : DatabaseWrapper
        An open or closed connection.

    Returns
    -------
    list of CheckMessage
        Errors that forbid to start, and a warning where pages carry no checksums.
    """
    found: list[CheckMessage] = []
    with connection.cursor() as cursor:
        for name in ("fsync", "full_page_writes", "synchronous_commit"):
            cursor.execute(f"SHOW {name}")
            if cursor.fetchone()[0] == "off":
                hint = f"Set {name} = on in the server's settings."
                what = f"{name} is off: a power cut may undo or damage what was written"
                found.append(Error(what, hint=hint, id="sidelong.E020"))
        cursor.execute("SHOW data_checksums")
        if cursor.fetchone()[0] == "off":
            hint = "Turn them on with pg_checksums while the server is stopped."
            what = "data checksums are off: damage on the disk may go unseen"
            found.append(checks.Warning(what, hint=hint, id="sidelong.W021"))
    return found
