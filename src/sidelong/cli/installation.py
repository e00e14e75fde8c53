"""`sidelong demo` and `sidelong serve`: commands on a clinic's database.

The one module outside the clinic that may load it, and it does so only once a command runs: the
help of every command, and every other command, start without Django.
"""

import os
import shutil
import sys
import webbrowser
from pathlib import Path
from typing import Annotated

import cyclopts

from sidelong.cli.arguments import Day
from sidelong.cli.clock import local_today
from sidelong.cli.invented_files import make_files
from sidelong.cli.one_at_a_time import LOCK_FILE, Hold, hold_folder
from sidelong.cli.progress import track
from sidelong.exchange.files import write_text
from sidelong.pathway.enrolling import simulation_rng
from sidelong.problems import Problem, Refused

HERE = "127.0.0.1"
DEMO_PORT, CLINIC_PORT = 8711, 8710
DEMO_FOLDER, FILES_FOLDER = Path("sidelong-demo"), Path("sidelong-demo-files")
CLINIC_FOLDER = Path("sidelong-clinic")
DEMO_NAME, DEMO_PREFIX, DEMO_ZONE = "Quince Street Practice Clinic", "QS", "Europe/Lisbon"
MARK = "INVENTED.txt"
MARK_TEXT = """Everything in this folder is invented: clinic, staff, trainees and their nights.
Nothing here may be used for anybody. `sidelong demo` opens it in the browser;
`sidelong demo --reset` throws the whole folder away and makes it anew.
"""
_SETTINGS = "installation.toml"

Port = Annotated[
    int | None, cyclopts.Parameter(validator=cyclopts.validators.Number(gte=1, lte=65535))
]


def demo(
    *,
    folder: Path | None = None,
    reset: Annotated[bool, cyclopts.Parameter(negative="")] = False,
    port: Port = None,
    no_browser: Annotated[bool, cyclopts.Parameter(negative="")] = False,
    files_only: Annotated[bool, cyclopts.Parameter(negative="")] = False,
    trainees: Annotated[
        int, cyclopts.Parameter(validator=cyclopts.validators.Number(gte=5, lte=2000))
    ] = 40,
    seed: str = "7",
    today: Day | None = None,
) -> None:
    """Open an invented clinic in the browser: the whole job, nothing to set up.

    About fifty invented trainees, a few at every stage: from a referral that just came in to a
    signed result. Come in as the lead, a coach, a clinician and others. The first start makes the
    clinic; later ones open the same one again. It answers on this computer alone.

    For example:

    sidelong demo

    Parameters
    ----------
    folder
        Where it lies; ./sidelong-demo where it is not given (./sidelong-demo-files with
        --files-only).
    reset
        Throw the invented clinic in the folder away and make it anew.
    port
        Where browsers reach it; 8711 where it is not given, or another one if that is taken.
    no_browser
        Open no browser; the address is printed.
    files_only
        No browser and no database: run every command on the files of an invented clinic instead,
        and say where the results lie.
    trainees
        With --files-only: how many are referred.
    seed
        A whole number: the same number invents the same people and families. Orders of positions
        come from a key of the clinic itself, as in a real one, but with --files-only.
    today
        With --files-only: day of the demo; today where it is not given.
    """
    if files_only:
        make_files(folder or FILES_FOLDER, trainees=trainees, seed=seed, today=today)
        return
    home = (folder or DEMO_FOLDER).resolve()
    if reset:
        throw_away(home)
    _refuse_other_folder(home)
    with hold_folder(home) as hold:
        _make_demo_folder(home)
        _open_demo(home, hold, seed=seed, port=port, no_browser=no_browser)
    _say("Stopped.")


def _open_demo(home: Path, hold: Hold, *, seed: str, port: int | None, no_browser: bool) -> None:
    """Fill an invented clinic's folder where it is empty, and answer browsers."""
    # A clinic's own database and keys may be named there; invented people belong in neither.
    for name in ("SIDELONG_DATABASE", "SIDELONG_KEYS"):
        os.environ.pop(name, None)
    from sidelong.clinic.serving import answer_browsers, find_port, prepare

    chosen = find_port(HERE, port or DEMO_PORT, or_another=port is None)
    prepare(home)
    _invent(seed)
    at = f"http://{HERE}:{chosen}"
    hold.say(f"process {os.getpid()}, {at}")

    def ready() -> None:
        _say(f"The invented clinic answers at {at} (folder {home}). Stop it with Ctrl+C.")
        if not no_browser and not webbrowser.open(at):
            _say("No browser could be opened: open this address in one.")

    answer_browsers(address=HERE, port=chosen, when_ready=ready)


def serve(
    *,
    folder: Path = CLINIC_FOLDER,
    port: Port = None,
    address: str = HERE,
    certificate: Path | None = None,
    certificate_key: Path | None = None,
) -> None:
    """Open the clinic's own installation in the browser.

    The first start makes the folder with keys, database and settings, and prints a link with which
    the administrator chooses a password. Without --address it answers on this computer alone.

    For example:

    sidelong serve --folder clinic

    Parameters
    ----------
    folder
        The clinic's folder.
    port
        Where browsers reach it; 8710 where it is not given.
    address
        Where to listen. Another one than this computer's own needs a certificate, or a proxy in
        front that ends TLS.
    certificate
        PEM file, where no proxy ends TLS.
    certificate_key
        PEM file of its key.
    """
    home, chosen = folder.resolve(), port or CLINIC_PORT
    is_new = not (home / _SETTINGS).exists()
    if is_new and _names_in(home) - {LOCK_FILE}:
        remedy = "Name the clinic's folder, or an empty one to begin a new clinic."
        raise Refused(
            [Problem(str(home), "it holds something else than a clinic", remedy, "folder")]
        )
    _refuse_demo_folder(home)
    with hold_folder(home) as hold:
        _open_clinic(
            home,
            hold,
            is_new=is_new,
            port=chosen,
            address=address,
            certificate=certificate,
            certificate_key=certificate_key,
        )
    _say("Stopped.")


def _open_clinic(
    home: Path,
    hold: Hold,
    *,
    is_new: bool,
    port: int,
    address: str,
    certificate: Path | None,
    certificate_key: Path | None,
) -> None:
    """Make a clinic's folder ready, and answer browsers."""
    from sidelong.clinic.serving import (
        answer_browsers,
        find_port,
        first_invitation,
        prepare,
        refuse_open_door,
    )

    find_port(address, port, or_another=False)
    installation = prepare(home)
    refuse_open_door(installation, address, has_tls=certificate is not None)
    scheme = "https" if certificate or installation.behind_proxy else "http"
    at = f"{scheme}://{installation.hosts[0]}:{port}"
    hold.say(f"process {os.getpid()}, {at}")
    if is_new:
        _say(
            f"A new clinic in {home}. Copy its keys to a safe place: names cannot be read without."
        )
    _say("Settings, keys and database: no issues.")
    invitation = first_invitation(at=at)

    def ready() -> None:
        _say(f"The clinic answers at {at} (folder {home}). Stop it with Ctrl+C.")
        if invitation:
            _say(f"Choose the administrator's password here, once, within a day:\n{invitation}")

    answer_browsers(
        address=address,
        port=port,
        certificate=certificate,
        certificate_key=certificate_key,
        when_ready=ready,
    )


def throw_away(home: Path) -> None:
    """Delete an invented clinic's folder, and nothing that is anything else.

    Parameters
    ----------
    home : Path
        The folder.

    Raises
    ------
    Refused
        If it is not one that this command made, or another program has it open.
    """
    if not _names_in(home):
        return
    is_ours = (home / MARK).is_file() and (home / MARK).read_text("utf-8") == MARK_TEXT
    if not is_ours or not _is_invented(home):
        remedy = "Give another --folder; only an invented clinic is thrown away."
        what = "it is no folder that `sidelong demo` made"
        raise Refused([Problem(str(home), what, remedy, "folder")])
    with hold_folder(home):  # refused where another program has it; let go, else Windows keeps it
        pass
    shutil.rmtree(home)


def _names_in(home: Path) -> set[str]:
    return {each.name for each in home.iterdir()} if home.exists() else set()


def _refuse_other_folder(home: Path) -> None:
    """Refuse a folder that holds anything but an invented clinic, or the beginning of one."""
    if (home / _SETTINGS).exists():
        if not _is_invented(home):
            remedy = "Give another --folder; `sidelong serve` opens this one."
            what = "it holds a clinic that is not invented"
            raise Refused([Problem(str(home), what, remedy, "folder")])
        return
    if _names_in(home) - {MARK, LOCK_FILE, "keys", "media"}:  # what an interrupted making leaves
        remedy = "Give another --folder, or an empty one."
        raise Refused([Problem(str(home), "it is not empty", remedy, "folder")])


def _make_demo_folder(home: Path) -> None:
    """Make the clinic where there is none."""
    from sidelong.clinic.installation import make_installation

    if (home / _SETTINGS).exists():
        return
    shutil.rmtree(home / "keys", ignore_errors=True)
    write_text(home / MARK, MARK_TEXT)
    make_installation(
        home,
        today=local_today(),
        keys=home / "keys",
        name=DEMO_NAME,
        prefix=DEMO_PREFIX,
        time_zone=DEMO_ZONE,
        demo=True,
    )


def _is_invented(home: Path) -> bool:
    from sidelong.clinic.installation import read_installation

    return (home / _SETTINGS).is_file() and read_installation(home, surroundings={}).demo


def _refuse_demo_folder(home: Path) -> None:
    if _is_invented(home):
        remedy = "Open it with `sidelong demo`, or name another --folder for your own clinic."
        raise Refused([Problem(str(home), "it holds an invented clinic", remedy, "folder")])


def _invent(seed: str) -> None:
    """Fill an empty clinic, showing how far it has come."""
    from django.utils import timezone

    from sidelong.clinic.demonstration.making import N_TRAINEES, invent_clinic, invented_on

    today = timezone.localdate()
    made_on = invented_on()
    if made_on is None:
        rng = simulation_rng(seed, purpose="clinic")
        walks = invent_clinic(today=today, rng=rng)
        for _ in track(walks, doing="Inventing a clinic", total=N_TRAINEES):
            pass
    elif made_on != today:
        _say(f"This clinic was invented on {made_on}; --reset invents one for today.")


def _say(text: str) -> None:
    """Say something at once, be it into a pipe."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()
