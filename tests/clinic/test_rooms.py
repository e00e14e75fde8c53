"""Django lives in the clinic alone."""

import pkgutil
from collections.abc import Callable
from typing import Any

import sidelong
from sidelong.cli.application import COMMANDS

OTHER_ROOMS = sorted(
    room.name for room in pkgutil.iter_modules(sidelong.__path__) if room.name != "clinic"
)

LOADED = """
import sys
loaded = sorted({name.split('.')[0] for name in sys.modules} & {'django', 'allauth', 'granian'})
ours = [name for name in sys.modules if name.startswith('sidelong.clinic')]
assert (loaded, ours) == ([], []), (after, loaded, ours)
"""

# The one module outside the clinic that may load it serves commands on the clinic's database.
EVERYTHING = """
import importlib, pkgutil
for after in {rooms}:
    room = importlib.import_module("sidelong." + after)
    for module in pkgutil.walk_packages(getattr(room, "__path__", []), room.__name__ + "."):
        if module.name not in {{"sidelong.cli.__main__", "sidelong.cli.installation"}}:
            importlib.import_module(module.name)
"""

HELP = """
from sidelong.cli.application import run
for after in {commands}:
    assert run([*after.split(), "--help"]) == 0
"""
ON_THE_DATABASE = {"demo", "serve", "backup", "restore", "check", "export"}


def test_no_other_room_loads_django(run_python: Callable[..., Any]) -> None:
    assert len(OTHER_ROOMS) >= 8
    done = run_python(EVERYTHING.format(rooms=OTHER_ROOMS) + LOADED)
    assert (done.returncode, done.stderr) == (0, "")


def test_help_and_every_other_command_start_without_django(run_python: Callable[..., Any]) -> None:
    commands = ["", *(name for name in COMMANDS if name not in ON_THE_DATABASE)]
    done = run_python(HELP.format(commands=commands) + LOADED)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_module_that_loads_django_would_be_seen(run_python: Callable[..., Any]) -> None:
    done = run_python("after = 'planted'\nimport django\n" + LOADED)
    assert "planted" in done.stderr
