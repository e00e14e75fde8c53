"""Starting a clinic: set up what is missing, look at what must hold, answer browsers.

``python -m sidelong.clinic.serving FOLDER`` makes a folder at the first call, brings its tables up
to date, and prints a link with which the first administrator chooses a password.
"""

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import django
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from granian import Granian
from granian.constants import Interfaces

from sidelong.clinic.installation import (
    Installation,
    is_loopback,
    make_installation,
    read_installation,
)
from sidelong.problems import Problem, Refused

DEFAULT_PORT = 8710
# SQLite lets one writer in at a time, and the others wait; more threads would only wait longer.
N_THREADS = 8


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
    if not (home / "installation.toml").exists():
        make_installation(
            home, today=datetime.now(UTC).date(), keys=Path(keys).resolve() if keys else None
        )
    installation = read_installation(home, surroundings=environment)
    environment["SIDELONG_HOME"] = str(home)
    environment["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    django.setup()
    call_command("migrate", interactive=False, verbosity=0, skip_checks=True)
    call_command("collectstatic", interactive=False, verbosity=0, clear=True)
    try:
        call_command("check", deploy=not installation.is_loopback, databases=["default"])
    except SystemCheckError as error:
        remedy = "docs/operations/installation.md explains each."
        raise Refused([Problem(str(home), str(error), remedy, "installation")]) from None
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


def serve(
    home: Path,
    *,
    address: str = "127.0.0.1",
    port: int = DEFAULT_PORT,
    certificate: Path | None = None,
    certificate_key: Path | None = None,
) -> None:
    """Answer browsers until the process is told to stop.

    Parameters
    ----------
    home : Path
        The clinic's folder.
    address : str
        Where to listen; another one than this computer's own needs TLS.
    port : int
        1..65535.
    certificate, certificate_key : Path, optional
        PEM files, where no proxy ends TLS.
    """
    installation = prepare(home)
    refuse_open_door(installation, address, has_tls=certificate is not None)
    scheme = "https" if certificate or installation.behind_proxy else "http"
    at = f"{scheme}://{installation.hosts[0]}:{port}"
    invitation = first_invitation(at=at)
    _say(f"The clinic answers at {at} (folder {home}). Stop it with Ctrl+C.")
    if invitation:
        _say(f"Choose the administrator's password here, once, within a day:\n{invitation}")
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


def main(words: Sequence[str]) -> int:
    """Read the command line and serve.

    Parameters
    ----------
    words : sequence of str
        What follows the module's name.

    Returns
    -------
    int
        Exit status: 0 stopped, 1 refused.
    """
    parser = argparse.ArgumentParser(prog="script/serve", description="Serve one clinic's folder.")
    parser.add_argument("home", type=Path, help="the clinic's folder; made where there is none")
    parser.add_argument("--address", default="127.0.0.1", help="where to listen")
    parser.add_argument("--port", type=int, default=DEFAULT_PORT)
    parser.add_argument("--certificate", type=Path, help="PEM file, where no proxy ends TLS")
    parser.add_argument("--certificate-key", type=Path, help="PEM file of its key")
    try:
        serve(**vars(parser.parse_args(words)))
    except Refused as refusal:
        sys.stderr.write(f"{refusal}\n")
        return refusal.exit_status
    return 0


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
