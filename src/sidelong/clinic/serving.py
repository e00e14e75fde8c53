"""Starting a clinic: set up what is missing, look at what must hold, answer browsers.

The commands ``serve`` and ``demo`` do it; the first start of a clinic's own folder gives a link
with which the first administrator chooses a password.
"""

import errno
import hashlib
import io
import multiprocessing
import os
import socket
import threading
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import django
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from granian import Granian
from granian.constants import Interfaces

import sidelong
from sidelong.clinic.installation import (
    SETTINGS_FILE,
    Installation,
    is_loopback,
    make_installation,
    read_installation,
)
from sidelong.problems import Problem, Refused

DEFAULT_PORT = 8710
# SQLite lets one writer in at a time, and the others wait; more threads would only wait longer.
N_THREADS = 8
_GATHERED = "gathered"
_WAIT_SECONDS = 60.0
_BETWEEN_TRIES = 0.05


def prepare(home: Path, *, surroundings: dict[str, str] | None = None) -> Installation:
    """Make a clinic's folder ready to be served by this process.

    Parameters
    ----------
    home : Path
        The folder; made with default settings where there is none.
    surroundings : dict of str to str, optional
        Environment, which is given the folder's path; that of this process where none is given.

    Returns
    -------
    Installation
        What the folder says.

    Raises
    ------
    Refused
        If its settings cannot be used, or something that must hold does not.
    """
    environment = os.environ if surroundings is None else surroundings
    home = home.resolve()
    keys = environment.get("SIDELONG_KEYS")
    if not (home / SETTINGS_FILE).exists():
        make_installation(
            home, today=datetime.now(UTC).date(), keys=Path(keys).resolve() if keys else None
        )
    installation = read_installation(home, surroundings=environment)
    environment["SIDELONG_HOME"] = str(home)
    environment["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    django.setup()
    _bring_tables_up_to_date()
    _gather_static(installation)
    _refuse_foreign_trail(installation)
    try:
        call_command(
            "check",
            deploy=not installation.is_loopback,
            databases=["default"],
            stdout=io.StringIO(),
        )
    except SystemCheckError as error:
        remedy = "docs/operations/installation.md explains each."
        raise Refused([Problem(str(home), str(error), remedy, "installation")]) from None
    _remove_old_photographs(installation)
    return installation


def first_invitation(*, at: str) -> str | None:
    """Make a link for an administrator, where nobody who manages staff could sign in.

    Parameters
    ----------
    at : str
        Address of the clinic, without a slash at the end.

    Returns
    -------
    str or None
        The link; None where somebody who manages staff has chosen a password.
    """
    # Tables can be named only after Django was set up, so these stand here and not above.
    from sidelong.clinic.accounts.actions import create_staff, invite_staff
    from sidelong.clinic.accounts.models import User
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.accounts.roles import Permission, Role

    managers = [user for user in User.objects.all() if Permission.MANAGE_STAFF in user.permissions]
    if any(user.has_usable_password() for user in managers):
        return None
    if not managers:
        made = create_staff(
            username="administrator",
            display_name="Administrator",
            roles=[Role.ADMINISTRATOR],
            by=Operator(),
        )
        managers = [made]
    return f"{at}/account/welcome/{invite_staff(user=managers[0], by=Operator())}/"


def refuse_open_door(installation: Installation, address: str, *, has_tls: bool) -> None:
    """Refuse to answer the network without TLS.

    Parameters
    ----------
    installation : Installation
        Says whether a proxy ends TLS in front.
    address : str
        Where the server listens.
    has_tls : bool
        Whether it has a certificate of its own.

    Raises
    ------
    Refused
        If pages would cross the network in the clear.
    """
    if not is_loopback(address) and not has_tls and not installation.behind_proxy:
        remedy = "Give --certificate and --certificate-key, or listen on 127.0.0.1 behind a proxy."
        what = "pages would cross the network unencrypted"
        raise Refused([Problem(f"address {address}", what, remedy, "installation")])


def find_port(address: str, wanted: int, *, or_another: bool) -> int:
    """Find a port on which nobody listens.

    Parameters
    ----------
    address : str
        Where the server will listen.
    wanted : int
        1..65535.
    or_another : bool
        Whether a free one may be taken instead.

    Returns
    -------
    int
        The wanted one where it is free.

    Raises
    ------
    Refused
        If it is taken, or may not be used, and no other one will do.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    with closing(socket.socket(family, socket.SOCK_STREAM)) as door:
        if os.name != "nt":  # a port that was in use a moment ago is free; there it means sharing
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((address, wanted))
        except OSError as error:
            if or_another and error.errno in {errno.EADDRINUSE, errno.EACCES}:
                return find_port(address, 0, or_another=False)
            what = f"it cannot be used on {address} ({error.strerror})"
            remedy = "Stop the program that has it, or give another --port."
            raise Refused([Problem(f"port {wanted}", what, remedy, "installation")]) from None
        return int(door.getsockname()[1])


def answer_browsers(
    *,
    address: str,
    port: int,
    certificate: Path | None = None,
    certificate_key: Path | None = None,
    when_ready: Callable[[], None],
) -> None:
    """Answer browsers until the process is told to stop; :func:`prepare` comes first.

    Parameters
    ----------
    address : str
        Where to listen; another one than this computer's own needs TLS.
    port : int
        1..65535.
    certificate, certificate_key : Path, optional
        PEM files, where no proxy ends TLS.
    when_ready : callable
        Called once, when the first browser would be answered.
    """
    asked = "127.0.0.1" if address == "0.0.0.0" else address  # noqa: S104  (compared, not used)
    threading.Thread(
        target=_tell_when_ready, args=(asked, port, when_ready), name="ready", daemon=True
    ).start()
    # A forked worker would inherit an open database, and a typesetter whose threads stayed behind:
    # the first booklet would wait for them for ever.
    multiprocessing.set_start_method("spawn", force=True)
    Granian(
        "sidelong.clinic.wsgi:application",
        address=address,
        port=port,
        interface=Interfaces.WSGI,
        blocking_threads=N_THREADS,
        ssl_cert=certificate,
        ssl_key=certificate_key,
        log_enabled=False,
    ).serve()


def _tell_when_ready(address: str, port: int, tell: Callable[[], None]) -> None:
    until = time.monotonic() + _WAIT_SECONDS
    while time.monotonic() < until:
        try:
            socket.create_connection((address, port), timeout=1).close()
        except OSError:
            time.sleep(_BETWEEN_TRIES)
        else:
            tell()
            return


def _bring_tables_up_to_date() -> None:
    """Apply what is missing; looking is quick, and the command is not even with nothing to do."""
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        call_command("migrate", interactive=False, verbosity=0, skip_checks=True)


def _gather_static(installation: Installation) -> None:
    """Gather style sheets, scripts and fonts anew, where any of them is another one than before."""
    from django.contrib.staticfiles.finders import get_finders

    seen = hashlib.sha256(sidelong.__version__.encode())
    for finder in get_finders():
        for name, storage in sorted(finder.list([]), key=lambda found: found[0]):
            content = Path(storage.path(name)).read_bytes()
            seen.update(f"\n{name} {hashlib.sha256(content).hexdigest()}".encode())
    stamp = installation.static / _GATHERED
    if stamp.is_file() and stamp.read_text(encoding="utf-8") == seen.hexdigest():
        return
    call_command("collectstatic", interactive=False, verbosity=0, clear=True)
    stamp.write_text(seen.hexdigest(), encoding="utf-8")


def _remove_old_photographs(installation: Installation) -> None:
    """Delete pixels after the site's time, and files that a kill left without a row."""
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.sheets.clearing_actions import remove_old_photographs

    older_than = timedelta(days=installation.photograph_days)
    remove_old_photographs(older_than=older_than, now=datetime.now(UTC), by=Operator())


def _refuse_foreign_trail(installation: Installation) -> None:
    from sidelong.clinic.audit.queries import begins_here

    if not begins_here():
        what = "the audit trail in the database is that of another installation"
        remedy = "Put its own id back into installation.toml, or its own database into the folder."
        where = f"{installation.home / SETTINGS_FILE}, id"
        raise Refused([Problem(where, what, remedy, "installation")])
