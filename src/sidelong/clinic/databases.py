"""Which database, and with which settings an acknowledged write outlasts a power cut.

SQLite's write-ahead log has a fault in older libraries that can lose acknowledged rows: it reaches
from 3.7.0 to 3.51.2 and is mended in 3.51.3, and in 3.50.7 and 3.44.6 of their lines. Elsewhere the
rollback journal is used. There ``synchronous=FULL`` is not enough: the journal's unlinking is not
synced, so a journal can come back and undo a commit; ``EXTRA`` syncs the folder as well.
"""

from typing import Any
from urllib.parse import parse_qsl, unquote, urlsplit

from sidelong.clinic.installation import Installation
from sidelong.problems import Problem, Refused

Version = tuple[int, int, int]

FULL, EXTRA = 2, 3
BUSY_SECONDS = 20
_MENDED: tuple[Version, ...] = ((3, 44, 6), (3, 50, 7), (3, 51, 3))


def is_wal_safe(version: Version) -> bool:
    """Tell whether a SQLite library may use its write-ahead log.

    Parameters
    ----------
    version : tuple of int
        As ``sqlite3.sqlite_version_info`` gives it.

    Returns
    -------
    bool
        True from 3.51.3 on, and in the mended versions of the 3.44 and 3.50 lines.
    """
    if version >= _MENDED[-1]:
        return True
    return any(version[:2] == mended[:2] and version >= mended for mended in _MENDED)


def sqlite_pragmas(version: Version) -> dict[str, str]:
    """Choose journal and syncing for a SQLite library.

    Parameters
    ----------
    version : tuple of int
        As ``sqlite3.sqlite_version_info`` gives it.

    Returns
    -------
    dict of str to str
        Pragmas that every connection sets.
    """
    if is_wal_safe(version):
        return {"journal_mode": "WAL", "synchronous": "FULL"}
    return {"journal_mode": "DELETE", "synchronous": "EXTRA"}


def is_durable(journal: str, synchronous: int) -> bool:
    """Tell whether a connection's settings keep every acknowledged write.

    Parameters
    ----------
    journal : str
        What ``PRAGMA journal_mode`` answers.
    synchronous : int
        What ``PRAGMA synchronous`` answers, 0..3.

    Returns
    -------
    bool
        Whether a commit outlasts a power cut.
    """
    least = {"wal": FULL, "delete": EXTRA}
    return journal.lower() in least and synchronous >= least[journal.lower()]


def database_settings(installation: Installation, *, version: Version) -> dict[str, Any]:
    """Give Django's settings for the one database of an installation.

    Parameters
    ----------
    installation : Installation
        Names a PostgreSQL database, or none for the SQLite file.
    version : tuple of int
        Version of the SQLite library.

    Returns
    -------
    dict
        Value for ``DATABASES["default"]``.
    """
    if installation.database:
        return _postgresql(installation.database)
    pragmas = "".join(f"PRAGMA {name}={value};" for name, value in sqlite_pragmas(version).items())
    return {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": installation.sqlite_file,
        "OPTIONS": {
            # A reader that turns writer in mid-transaction would fail at once, not wait.
            "transaction_mode": "IMMEDIATE",
            "timeout": BUSY_SECONDS,
            "init_command": pragmas,
        },
    }


def _postgresql(address: str) -> dict[str, Any]:
    parts = urlsplit(address)
    options: dict[str, Any] = dict(parse_qsl(parts.query))
    name = unquote(parts.path.lstrip("/"))
    if parts.scheme not in {"postgresql", "postgres"} or not name:
        remedy = "Write postgresql://user@host/name; a password belongs in the password file."
        what = "it is not the address of a PostgreSQL database"
        raise Refused([Problem("SIDELONG_DATABASE", what, remedy, "installation")])
    host = options.pop("host", unquote(parts.hostname or ""))
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": name,
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        "HOST": host,
        "PORT": str(parts.port or ""),
        # One connection per thread would use up what the server allows.
        "OPTIONS": {**options, "pool": {"min_size": 1, "max_size": 10, "timeout": BUSY_SECONDS}},
    }
