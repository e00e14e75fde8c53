"""`sidelong promises`: what was locked at follow-up, laid against what happened later."""

import hashlib
from datetime import date
from pathlib import Path
from typing import Annotated

import cyclopts

import sidelong
from sidelong.cli.arguments import Day
from sidelong.cli.clock import local_day, local_today
from sidelong.cli.words import counted
from sidelong.exchange.calibrations import write_calibration
from sidelong.exchange.doses import read_doses
from sidelong.exchange.files import check_apart, check_place, write_bytes
from sidelong.exchange.promises import read_locks
from sidelong.exchange.protocols import read_protocol
from sidelong.paper.language import read_language
from sidelong.paper.promises_print import set_promises
from sidelong.paper.sheet import Paper
from sidelong.pathway.laid_doses import follow_ups, lay_doses
from sidelong.pathway.promise_report import compose_promises
from sidelong.pathway.promise_words import findings, no_plot_sentence, tally_sentence
from sidelong.pathway.promises import Reckoning, reckon
from sidelong.problems import Problem, Refused
from sidelong.training.promise import FirstDose, LockedEstimate


def promises(
    locked: Annotated[list[Path], cyclopts.Parameter(negative="")],
    *,
    doses: Path,
    out: Path = Path("calibration.csv"),
    report: Path | None = None,
    protocol: Path | None = None,
    paper: Paper = Paper.A4,
    today: Day | None = None,
) -> None:
    """Lay first real doses against the estimates that were locked before them.

    Of all the times that 80 % was said, about 80 % should go down first try. Doses that staff saw
    count; what home says is counted apart. Below 20 of them there is a sentence and no plot.
    No figure says how good the estimate is for the next trainee, and none clears anybody.

    For example:

        sidelong promises locked.csv --doses doses.csv --report promises.pdf

    Parameters
    ----------
    locked
        Tables of `sidelong estimate --lock`, one or more. A dose is laid against the last estimate
        that was locked by its day.
    doses
        Table of first real doses, one row for each course; see docs/schemas.
    out
        Table to write: what was said and what happened in each group of similar chances.
    report
        PDF to write as well: one page with the plot, the same figures as a table, and what they
        cannot say.
    protocol
        The site's protocol, for its name on the page.
    paper
        Of the page: a4 or letter.
    today
        Date on the page, and the day after which no dose can have been taken; today where it is
        not given.
    """
    names = {f"locked table {n}": place for n, place in enumerate(locked, start=1)}
    check_apart(
        read={**names, "--doses": doses, "--protocol": protocol},
        written={"--out": out, "--report": report},
    )
    for place in filter(None, (out, report)):
        check_place(place)
    day = today or local_today()
    rules = read_protocol(protocol) if protocol else None
    locks, taken = _read(locked, doses, day)
    laid = lay_doses(taken, locks, day_of=local_day, where=doses.name)
    said, n_locked = reckon(laid), len(follow_ups(locks))
    if report:
        page = compose_promises(
            said, n_locked=n_locked, protocol=rules, today=day, made=_made(locked, doses)
        )
        set_page = set_promises(page, language=read_language("en"), paper=paper.value)
    write_calibration(out, said.calibration.table if said.calibration else None)
    if report:
        write_bytes(report, set_page)
    _tell(said, n_locked=n_locked, out=out, report=report)


def _read(
    locked: list[Path], doses: Path, today: date
) -> tuple[list[LockedEstimate], tuple[FirstDose, ...]]:
    """Read all tables, or refuse them with every fault in any."""
    locks: list[LockedEstimate] = []
    taken: tuple[FirstDose, ...] = ()
    faults: list[Problem] = []
    for place in locked:
        try:
            locks += read_locks(place)
        except Refused as refused:
            faults += refused.problems
    try:
        taken = read_doses(doses, today=today)
    except Refused as refused:
        faults += refused.problems
    if faults:
        raise Refused(faults)
    return locks, taken


def _made(locked: list[Path], doses: Path) -> str:
    """Say how the page came about, with the beginning of each file's SHA-256."""
    files = ", ".join(f"{place.name} ({_mark(place)})" for place in (*locked, doses))
    return f"Made by sidelong {sidelong.__version__} from {files}."


def _mark(place: Path) -> str:
    return hashlib.sha256(place.read_bytes()).hexdigest()[:8]


def _tell(said: Reckoning, *, n_locked: int, out: Path, report: Path | None) -> None:
    """Say the same as the page of the clinic, in the terminal."""
    print(f"{counted(said.n_promises, 'first dose')} of {counted(n_locked, 'locked course')}.")
    for heading, sentence in (
        ("Seen by staff", tally_sentence(said.seen)),
        ("Told by home", tally_sentence(said.told)),
    ):
        if sentence:
            print(f"{heading}: {sentence}")
    if said.n_unplaced:
        where = "in a position that is not known or had no estimate"
        print(f"{counted(said.n_unplaced, 'dose')} {where}: laid against nothing.")
    if said.calibration is None:
        print(f"There is no plot yet. {no_plot_sentence(said)}")
    else:
        print("\n".join(findings(said.calibration)))
    places = f"{out} and {report}" if report else str(out)
    print(f"What was said and what happened is in {places}.")
