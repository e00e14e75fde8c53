"""`sidelong estimate`: which position suits, how sure, and what is next."""

import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import sidelong
from sidelong.cli.clock import local_today
from sidelong.cli.folders import prepare_folder
from sidelong.cli.progress import track
from sidelong.cli.words import counted
from sidelong.exchange.entries import EntriesRead, read_entries
from sidelong.exchange.estimates import as_written, write_estimates
from sidelong.exchange.events import read_events
from sidelong.exchange.files import check_place, write_bytes
from sidelong.exchange.fits import SHIPPED_FIT, StoredFit, read_fit
from sidelong.exchange.mapped_entries import read_mapped_entries
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.plans import read_plans
from sidelong.exchange.protocols import read_protocol
from sidelong.paper.language import read_language
from sidelong.paper.report import set_report
from sidelong.paper.sheet import Paper
from sidelong.pathway.estimates import PractisedCourse, estimate_courses, gather_courses
from sidelong.pathway.planning import latest_plans
from sidelong.pathway.report_answer import NextStep
from sidelong.pathway.reports import compose_report
from sidelong.pathway.stepping import advise_course
from sidelong.problems import Problem, Refused
from sidelong.training.event import Event, barred_positions
from sidelong.training.ladder import Ladder
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol

UP_STATES = (
    "`up` may be suggested in these answers: with --up-signed-off you state that a swallowing "
    "specialist has signed for it, for every trainee in the table."
)


def estimate(
    entries: Path,
    *,
    out: Path = Path("estimates.csv"),
    plans: Path | None = None,
    report: Path | None = None,
    events: Path | None = None,
    mapping: Path | None = None,
    prior: Path | None = None,
    protocol: Path | None = None,
    ladder: Path | None = None,
    up_signed_off: bool = False,
    paper: Paper = Paper.A4,
    language: str = "en",
    today: date | None = None,
) -> None:
    """Answer from the entries: which position suits, how sure, and what is next.

    For each trainee and position: the chance that a piece goes down first try, the expected
    rating with its 90 % interval, and the chance of being the best, for the night after the last
    one planned; and a verdict: `clear`, `likely`, `too close`, `all work`, `insufficient`.

    For example:

        sidelong estimate entries.csv --plans plans.csv --events events.csv --report reports

    Parameters
    ----------
    entries
        Table of entries, one row for each position tried; see docs/schemas.
    out
        Table of estimates to write.
    plans
        Table of `sidelong plan`: says which positions each trainee may use and how many nights
        were planned, and lets entries be checked against it. Trainees without an entry are kept.
    report
        Folder to write: exactly one TRAINEE.pdf for each trainee.
    events
        Table of safety events: a position that had one is never suggested.
    mapping
        Says how to read an old spreadsheet with other column names and another scale.
    prior
        A stored fit; without one, the values that ship with the program, which are assumptions.
    protocol
        The site's protocol, for its definition of success and its name on the reports.
    ladder
        Table of the site's pieces: with --protocol, the reports say what the site's written
        rules make the next step.
    up_signed_off
        A swallowing specialist has signed that `up` may be suggested to these trainees.
    paper
        Of the reports: a4 or letter.
    language
        Of the reports.
    today
        Date on the reports, and the day after which no entry can have been written; today where
        it is not given.
    """
    chosen = read_language(language)
    rules = read_protocol(protocol) if protocol else None
    if up_signed_off and rules is not None and Position.UP not in rules.positions:
        what = f'protocol "{rules.version}" does not allow `up`'
        remedy = "Leave the option out, or have the protocol signed for `up` first."
        raise Refused([Problem("--up-signed-off", what, remedy, "protocol")])
    day = today or local_today()
    planned = read_plans(plans) if plans else None
    read = _read(entries, mapping, planned, day)
    happened = read_events(events) if events else ()
    pieces = read_ladder(ladder) if ladder else None
    fit = read_fit(prior) if prior else SHIPPED_FIT
    practised = gather_courses(read.entries, plans=planned)
    _check_events(events, happened, practised)
    exact = estimate_courses(
        practised,
        hyperparameters=fit.hyperparameters,
        barred=barred_positions(happened),
        up_signed_off=up_signed_off,
    )
    # Rounded once, here: the report shows the digits of the table.
    answers = [as_written(each) for each in exact]
    check_place(out)
    if report is not None:
        prepare_folder(report, names=(f"{each.trainee}.pdf" for each in answers))
    write_estimates(out, answers)
    for notice in read.notices:
        print(f"Note: {notice}", file=sys.stderr)
    print(f"{counted(len(answers), 'trainee')} in {out}.")
    if up_signed_off:
        print(UP_STATES, file=sys.stderr)
    if report is None:
        return
    plan_of = {plan.trainee: plan for plan in latest_plans(planned or ())}
    pairs = list(zip(answers, practised, strict=True))
    for answer, course in track(pairs, doing="Setting reports", total=len(pairs)):
        own_events = [event for event in happened if event.trainee == answer.trainee]
        composed = compose_report(
            answer,
            course.entries,
            plan=plan_of.get(answer.trainee),
            protocol=rules,
            events=own_events,
            advice=_next_step(course, pieces, rules, own_events),
            language=chosen,
            today=day,
            program=_made_by(fit),
        )
        write_bytes(
            report / f"{answer.trainee}.pdf",
            set_report(composed, language=chosen, paper=paper.value),
        )
    made_of = counted(len(answers), "report")
    print(f"{made_of} in {report}, each with a place for the clinician's signature.")


def _read(
    table: Path, mapping: Path | None, plans: Sequence[Plan] | None, today: date
) -> EntriesRead:
    """Read entries, from our own table or through a mapping."""
    if mapping is None:
        return read_entries(table, plans=plans, today=today)
    return read_mapped_entries(table, mapping=mapping, plans=plans, today=today)


def _check_events(
    table: Path | None, events: Sequence[Event], practised: Sequence[PractisedCourse]
) -> None:
    """Refuse events of trainees who are not here: a mistyped code would open a position."""
    known = {course.trainee for course in practised}
    strangers = sorted({event.trainee for event in events} - known)
    if strangers:
        remedy = "Check the code: the event would otherwise close no position."
        raise Refused(
            [
                Problem(f"{table}, trainee {code}", "there are no entries for it", remedy, "events")
                for code in strangers
            ]
        )


def _next_step(
    course: PractisedCourse,
    ladder: Ladder | None,
    rules: Protocol | None,
    events: Sequence[Event],
) -> NextStep | None:
    """Ask the site's rules about the next piece, where both rules and pieces are at hand."""
    if ladder is None or rules is None:
        return None
    advice = advise_course(course, ladder=ladder, rules=rules.steps, events=events)
    if advice is None:
        return None
    piece = ladder.steps[advice.step - 1]
    return NextStep(advice.move, f"{piece.code} ({piece.largest_mm:g} mm)")


def _made_by(fit: StoredFit) -> str:
    """Say which program and which hyperparameters the figures rest on."""
    return f"sidelong {sidelong.__version__}; {fit.origin}"
