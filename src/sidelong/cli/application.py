"""The `sidelong` command: which commands there are, and what their exit statuses mean.

Commands are named by import path, so that one is loaded only when it is called.
"""

import sys
from collections.abc import Sequence

import cyclopts

import sidelong
from sidelong.problems import Problem, Refused

DONE, REFUSED, WRONG_USAGE, INTERRUPTED = 0, 1, 2, 130

COMMANDS = {
    "demo": "Open an invented clinic in the browser: the whole job, nothing to set up.",
    "serve": "Open the clinic's own installation in the browser.",
    "protocol": "Check and print the site's signed protocol, or write one to start from.",
    "readiness": "Sort referrals: ready for a clinician, clinician first, or not now.",
    "plan": "Draw practice orders for trainees who enrol one at a time.",
    "booklet": "Print what each family takes home, one PDF per trainee.",
    "read": "Read photographed and scanned sheets: accepted, or for a person to look at.",
    "confirm": "Turn readings and what persons saw into entries.",
    "estimate": "Answer from the entries: which position suits, how sure, what next.",
    "promises": "Lay first real doses against the estimates that were locked before them.",
}

_ON_THE_DATABASE = {"demo", "serve"}
"""Commands on a clinic's database: all in one module, which alone may load the clinic."""

HELP = """Teach swallowing tablets and capsules: plan, print, record and answer two weeks of
practice in five head positions.

`sidelong demo` shows all of it in the browser, on invented trainees. `sidelong serve` opens your
own clinic. By files: `readiness`, `plan`, `booklet`, two weeks at home, `read` and `confirm` for
photographed sheets, `estimate`, and later `promises`.

Exit status: 0 done, 1 the input was refused (every fault is named), 2 wrong usage.
The program never clears anybody to practise: a named clinician decides."""


def make_app(called: str = "") -> cyclopts.App:
    """Make the application, with only the called command loaded.

    Parameters
    ----------
    called : str
        First word of the command line. Its help is the docstring of its own module; the others
        stay unloaded and are listed with their line of :data:`COMMANDS`.

    Returns
    -------
    cyclopts.App
        Ready to be called.
    """
    app = cyclopts.App(
        name="sidelong",
        help=HELP,
        help_format="markdown",
        version=f"sidelong {sidelong.__version__}",
    )
    for name, line in COMMANDS.items():
        app.command(import_path(name), name=name, help=None if name == called else line)
    return app


def import_path(command: str) -> str:
    """Say where a command is defined, as ``module:function``."""
    module = "installation" if command in _ON_THE_DATABASE else command
    return f"sidelong.cli.{module}:{command}"


def main() -> None:
    """Run the command of this process and leave with its exit status."""
    for stream in (sys.stdout, sys.stderr):
        # A Windows console may use a code page that lacks our dashes and arrows.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    sys.exit(run(sys.argv[1:]))


def run(tokens: Sequence[str]) -> int:
    """Run one command.

    Parameters
    ----------
    tokens : sequence of str
        The words after ``sidelong``.

    Returns
    -------
    int
        Exit status: 0 done, 1 refused, 2 wrong usage, 130 interrupted.
    """
    try:
        app = make_app(tokens[0] if tokens else "")
        app(list(tokens), exit_on_error=False, print_error=True, result_action="return_value")
    except cyclopts.CycloptsError:
        return WRONG_USAGE
    except Refused as refusal:
        _tell(refusal)
        return REFUSED
    except OSError as error:
        _tell(Refused([_file_problem(error)]))
        return REFUSED
    except KeyboardInterrupt:
        print("Stopped. Files are written whole or not at all.", file=sys.stderr)
        return INTERRUPTED
    return DONE


def _tell(refusal: Refused) -> None:
    """Print every fault, and how many there are where that is not seen at a glance."""
    for problem in refusal.problems:
        print(problem, file=sys.stderr)
    if len(refusal.problems) > 1:
        print(f"{len(refusal.problems)} faults; nothing was written.", file=sys.stderr)


def _file_problem(error: OSError) -> Problem:
    """Turn what the operating system says into a fault with a remedy."""
    where = str(error.filename or "file")
    what = error.strerror or "it could not be used"
    return Problem(where, what, "Check the path and that you may read and write there.", "file")
