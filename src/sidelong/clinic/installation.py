"""One clinic's own folder: settings, database, media and, apart from them, keys.

The folder is named by ``SIDELONG_HOME``; ``SIDELONG_KEYS`` may put the keys elsewhere, and
``SIDELONG_DATABASE`` may name a PostgreSQL database instead of the SQLite file.
"""

import ipaddress
import json
import os
import re
import secrets
import tomllib
import uuid
import zoneinfo
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from sidelong.clinic.keys import (
    KeyRing,
    make_ring,
    read_ring,
    sync_folder,
    write_ring,
    write_secret,
)
from sidelong.problems import Problem, Refused

LOOPBACK_HOSTS = ("localhost", "127.0.0.1", "[::1]")
SETTINGS_FILE = "installation.toml"
INVENTED = "invented-"
_RING_FILE = "ring.json"
_SECRET_FILE = "pages.secret"  # noqa: S105  (a name of a file)
_PREFIX = re.compile(r"[A-Z]{2,4}")
_KNOWN = {
    *("id", "name", "prefix", "time_zone", "hosts", "demo", "behind_proxy"),
    *("idle_minutes", "photograph_days"),
}


@dataclass(frozen=True)
class Installation:
    """What one installation is, and where its things lie.

    Parameters
    ----------
    home : Path
        The clinic's folder.
    keys : Path
        Folder of the key ring and of the secret that signs pages and sessions.
    id : str
        Drawn once; the audit chain of this installation begins with it. That of an invented clinic
        says so, and so a clinic with real trainees cannot be turned into one, nor the reverse.
    name : str
        The programme's name, as pages show it.
    prefix : str
        Two to four capital letters in front of every trainee's code.
    time_zone : str
        IANA name; nights belong to it.
    hosts : tuple of str
        Names under which browsers reach it. Anything but this computer itself needs TLS.
    demo : bool
        An invented clinic: on this computer only, without a second factor.
    behind_proxy : bool
        A proxy ends TLS and appends the visitor's address to ``X-Forwarded-For``.
    idle_minutes : int
        Minutes without a request after which somebody is signed out, 5..60.
    photograph_days : int
        Days after which the pixels of a photographed sheet are deleted, once all of its sheets
        are done with, 1..3650.
    page_secret : str
        Signs sessions and links; never shown.
    database : str
        ``postgresql://`` address, or empty for the SQLite file.

    Raises
    ------
    Refused
        If a value cannot be used.
    """

    home: Path
    keys: Path
    id: str
    name: str = "Sidelong"
    prefix: str = "SL"
    time_zone: str = "UTC"
    hosts: tuple[str, ...] = LOOPBACK_HOSTS
    demo: bool = False
    behind_proxy: bool = False
    idle_minutes: int = 30
    photograph_days: int = 90
    page_secret: str = field(default="", repr=False)
    database: str = field(default="", repr=False)

    def __post_init__(self) -> None:
        """Refuse settings under which the clinic could not work, or not safely."""
        faults = []
        if not _PREFIX.fullmatch(self.prefix):
            remedy = "Use two to four capital letters A to Z."
            faults.append(_fault("prefix", f'"{self.prefix}" cannot be used', remedy))
        if self.time_zone not in zoneinfo.available_timezones():
            remedy = "Use an IANA name such as Europe/Paris."
            faults.append(_fault("time_zone", f'"{self.time_zone}" is not known', remedy))
        if not self.hosts or "*" in self.hosts:
            remedy = "Name every host under which browsers reach the clinic."
            faults.append(_fault("hosts", "any host or none is allowed", remedy))
        if self.demo and not self.is_loopback:
            remedy = "Make an installation of your own with `demo = false`."
            faults.append(_fault("demo", "an invented clinic is open to others", remedy))
        if self.demo != self.id.startswith(INVENTED):
            what = "a folder stays what it was made as, invented or real"
            remedy = "Put the setting back; `sidelong demo` makes an invented clinic."
            faults.append(_fault("demo", what, remedy))
        if not 5 <= self.idle_minutes <= 60:
            remedy = "Use 5 to 60 minutes."
            faults.append(_fault("idle_minutes", f"{self.idle_minutes} is out of range", remedy))
        if not 1 <= self.photograph_days <= 3650:
            what = f"{self.photograph_days} is out of range"
            faults.append(_fault("photograph_days", what, "Use 1 to 3650 days."))
        if faults:
            raise Refused(faults)

    @property
    def is_loopback(self) -> bool:
        """Whether it answers on this computer only."""
        return all(is_loopback(host) for host in self.hosts)

    @property
    def exists(self) -> bool:
        """Whether the folder has been set up."""
        return (self.home / SETTINGS_FILE).is_file()

    @property
    def sqlite_file(self) -> Path:
        """Where the database lies when it is SQLite."""
        return self.home / "sidelong.sqlite3"

    @property
    def media(self) -> Path:
        """Folder of photographs and documents."""
        return self.home / "media"

    @property
    def static(self) -> Path:
        """Folder of style sheets, scripts and fonts, gathered at every start."""
        return self.home / "static"

    def key_ring(self) -> KeyRing:
        """Read the key ring; see :func:`sidelong.clinic.keys.read_ring`."""
        return read_ring(self.keys / _RING_FILE)

    def keep_key_ring(self, ring: KeyRing) -> None:
        """Write the key ring."""
        write_ring(self.keys / _RING_FILE, ring)


def is_loopback(host: str) -> bool:
    """Tell whether a host name or address means this computer itself."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def make_installation(
    home: Path,
    *,
    today: date,
    keys: Path | None = None,
    name: str = "Sidelong",
    prefix: str = "SL",
    time_zone: str = "UTC",
    hosts: tuple[str, ...] = LOOPBACK_HOSTS,
    demo: bool = False,
) -> Installation:
    """Set up a clinic's folder: settings, key ring and secret; the database comes at first start.

    Parameters
    ----------
    home : Path
        Folder to make; may exist, but hold no installation.
    today : date
        Day that the keys carry.
    keys : Path, optional
        Folder for the keys; beside the settings, in ``keys``, where none is given.
    name, prefix, time_zone, hosts, demo
        As in :class:`Installation`.

    Returns
    -------
    Installation
        The new installation.

    Raises
    ------
    Refused
        If there is an installation already, or a value cannot be used.
    """
    keys = keys or home / "keys"
    if (home / SETTINGS_FILE).exists() or (keys / _RING_FILE).exists():
        remedy = "Use another folder, or start the one that is there."
        raise Refused([Problem(str(home), "it holds an installation", remedy, "installation")])
    made = Installation(
        home=home,
        keys=keys,
        id=f"{INVENTED if demo else ''}{uuid.uuid4()}",
        name=name,
        prefix=prefix,
        time_zone=time_zone,
        hosts=hosts,
        demo=demo,
        page_secret=secrets.token_urlsafe(64),
    )
    for folder in (home, keys, made.media):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    made.keep_key_ring(make_ring(today=today, draw=secrets.token_bytes))
    write_secret(keys / _SECRET_FILE, made.page_secret + "\n")
    # Last, since this file says that the folder is complete.
    write_secret(home / SETTINGS_FILE, _settings_text(made))
    sync_folder(home)
    return made


def read_installation(home: Path, *, surroundings: Mapping[str, str]) -> Installation:
    """Read a clinic's folder.

    Parameters
    ----------
    home : Path
        The folder.
    surroundings : mapping of str to str
        Environment; ``SIDELONG_KEYS`` and ``SIDELONG_DATABASE`` are looked at.

    Returns
    -------
    Installation
        What it says.

    Raises
    ------
    Refused
        If the folder is not set up, or its settings cannot be used.
    """
    path = home / SETTINGS_FILE
    keys = Path(surroundings.get("SIDELONG_KEYS") or home / "keys")
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        secret = (keys / _SECRET_FILE).read_text(encoding="utf-8").strip()
    except FileNotFoundError as error:
        remedy = "Set the folder up with `sidelong serve`, or name the right one."
        raise Refused(
            [Problem(str(error.filename), "there is no such file", remedy, "installation")]
        ) from None
    except (OSError, ValueError) as error:
        remedy = "Mend the file; docs/operations/installation.md shows one."
        what = f"it cannot be read ({type(error).__name__})"
        raise Refused([Problem(str(path), what, remedy, "installation")]) from None
    if unknown := sorted(set(content) - _KNOWN):
        remedy = f"Known are {', '.join(sorted(_KNOWN))}."
        raise Refused([_fault(name, "this setting is not known", remedy) for name in unknown])
    content["hosts"] = tuple(content.get("hosts", LOOPBACK_HOSTS))
    return Installation(
        home=home,
        keys=keys,
        page_secret=secret,
        database=surroundings.get("SIDELONG_DATABASE", ""),
        **content,
    )


def installation_here(surroundings: Mapping[str, str] | None = None) -> Installation:
    """Read the installation that ``SIDELONG_HOME`` names.

    Without that variable there is no clinic. What comes back then serves type checks and the like:
    it has a secret of the moment, no files, and a system check refuses to start it.

    Parameters
    ----------
    surroundings : mapping of str to str, optional
        Environment; that of this process where none is given.

    Returns
    -------
    Installation
        The one that is named, or one that does not exist.
    """
    surroundings = os.environ if surroundings is None else surroundings
    home = surroundings.get("SIDELONG_HOME")
    if home:
        return read_installation(Path(home).resolve(), surroundings=surroundings)
    nowhere = Path("no-installation")
    return Installation(nowhere, nowhere, id="none", page_secret=secrets.token_urlsafe(64))


def _settings_text(made: Installation) -> str:
    """Write the settings as TOML; JSON strings and lists of them are TOML too."""
    return (
        "# One installation of the clinic. Keys lie apart; see docs/operations/installation.md.\n"
        f"id = {json.dumps(made.id)}   # never change it: the audit chain begins with it\n"
        f"name = {json.dumps(made.name)}\n"
        f"prefix = {json.dumps(made.prefix)}   # in front of every trainee's code\n"
        f"time_zone = {json.dumps(made.time_zone)}\n"
        f"hosts = {json.dumps(list(made.hosts))}\n"
        f"demo = {json.dumps(made.demo)}\n"
        f"behind_proxy = {json.dumps(made.behind_proxy)}\n"
        f"idle_minutes = {made.idle_minutes}\n"
        f"photograph_days = {made.photograph_days}   # then pixels of confirmed sheets go\n"
    )


def _fault(field_name: str, what: str, remedy: str) -> Problem:
    return Problem(f"{SETTINGS_FILE}, {field_name}", what, remedy, "installation")
