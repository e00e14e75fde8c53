"""`sidelong estimate`: which position suits, how sure, and what is next."""

import sys
from collections.abc import Sequence
from datetime import date
from functools import partial
from pathlib import Path

from sidelong.cli.answering import ALL_STATE, Reports, check_known, fit_file, fit_for
from sidelong.cli.arguments import Day
from sidelong.cli.asking import QUESTIONS_STATE, Questions
from sidelong.cli.clock import local_today, utc_now
from sidelong.cli.locking import Locks
from sidelong.cli.words import counted
from sidelong.exchange.entries import EntriesRead, read_entries
from sidelong.exchange.estimates import as_written, write_estimates
from sidelong.exchange.events import read_events
from sidelong.exchange.files import check_apart, check_place
from sidelong.exchange.fits import write_fit
from sidelong.exchange.mapped_entries import read_mapped_entries
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.plans import read_plans
from sidelong.exchange.protocols import read_protocol
from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.pathway.estimates import PractisedCourse, estimate_courses, gather_courses
from sidelong.pathway.outlooks import FURTHER_NIGHTS
from sidelong.pathway.rating_forms import fill_forms
from sidelong.problems import Problem, Refused
from sidelong.training.event import Event, barred_positions
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
    lock: Path | None = None,
    questions: Path | None = None,
    events: Path | None = None,
    mapping: Path | None = None,
    prior: Path | None = None,
    consent: Path | None = None,
    protocol: Path | None = None,
    ladder: Path | None = None,
    up_signed_off: bool = False,
    paper: Paper = Paper.A4,
    language: str = "en",
    today: Day | None = None,
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
        Table of estimates to write; beside it, OUT.fit.json holds the fit that it rests on, which
        --prior takes back.
    plans
        Table of `sidelong plan`: says which positions each trainee may use and how many nights
        were planned, and lets entries be checked against it. Trainees without an entry are kept.
    report
        Folder to write: exactly one TRAINEE.pdf for each trainee.
    lock
        Table to write as well when follow-ups begin: the estimates as they are fixed, before
        anybody knows how the first real dose goes. It is never written over.
    questions
        Table to write as well for those who hold the follow-up visits: signs that nights were
        written down at another time than they claim, each with a kind question. It is never
        written over.
    events
        Table of safety events: a position that had one is never suggested.
    mapping
        Says how to read an old spreadsheet with other column names and another scale.
    prior
        A stored fit. Without one, the table's own trainees are fitted where at least ten have
        five nights with an answer; else the values that ship with the program stand, which are
        assumptions.
    consent
        Table `trainee,consent`: only those with `yes` count towards that fit. Without it you
        state that all trainees of the table may be used.
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
    check_apart(
        read={
            "the entries": entries,
            "--plans": plans,
            "--events": events,
            "--mapping": mapping,
            "--prior": prior,
            "--consent": consent,
            "--protocol": protocol,
            "--ladder": ladder,
        },
        written={
            "--out": out,
            "the fit beside it": fit_file(out),
            "--questions": questions,
            "--lock": lock,
        },
    )
    chosen = read_language(language)
    day = today or local_today()
    rules = _rules(protocol, up_signed_off=up_signed_off)
    planned = read_plans(plans) if plans else ()
    read = _read(entries, mapping, planned if plans else None, day)
    nights, notices = fill_forms(read.entries, plans=planned, protocol=rules)
    practised = gather_courses(nights, plans=planned if plans else None)
    happened = _events(events, practised)
    pieces = read_ladder(ladder) if ladder else None
    choice = fit_for(practised, prior=prior, consent=consent, today=day)
    fit = choice.fit
    answer = partial(
        estimate_courses,
        hyperparameters=fit.shared,
        barred=barred_positions(happened),
        up_signed_off=up_signed_off,
        further_nights=FURTHER_NIGHTS if report else 0,
    )
    asking = questions and Questions(
        place=questions, language=chosen, estimate=lambda course: as_written(answer([course])[0])
    )
    exact = answer(practised)
    # Rounded once, here: the report shows the digits of the table.
    answers = [as_written(each) for each in exact]
    check_place(out)
    reports = report and Reports(
        folder=report,
        fit=fit,
        plans=planned,
        protocol=rules,
        ladder=pieces,
        events=happened,
        language=chosen,
        paper=paper,
        today=day,
    )
    locks = lock and Locks(place=lock, fit=fit, plans=planned, events=happened, now=utc_now())
    if reports:
        reports.prepare(answers)
    if asking:
        asking.write(practised)
    if locks:
        locks.write(answers, practised)
    write_estimates(out, answers)
    write_fit(fit_file(out), fit)
    for notice in (*read.notices, *notices):
        print(f"Note: {notice}", file=sys.stderr)
    print(f"{counted(len(answers), 'trainee')} in {out}.")
    if lock:
        print(f"Fixed in {lock}: what happens later can be laid against it.")
    if asking:
        print(f"Questions to ask kindly are in {questions}. {QUESTIONS_STATE}")
    why = f" ({choice.why})" if choice.why else ""
    print(f"They rest on {fit.origin}{why}; the fit is in {fit_file(out)}.")
    if fit.is_own and prior is None and consent is None:
        print(ALL_STATE, file=sys.stderr)
    if up_signed_off:
        print(UP_STATES, file=sys.stderr)
    if reports:
        reports.set_all(answers, practised)
        made_of = counted(len(answers), "report")
        print(f"{made_of} in {report}, each with a place for the clinician's signature.")


def _rules(protocol: Path | None, *, up_signed_off: bool) -> Protocol | None:
    """Read the protocol, and refuse a sign-off that contradicts it."""
    rules = read_protocol(protocol) if protocol else None
    if up_signed_off and rules is not None and Position.UP not in rules.positions:
        what = f'protocol "{rules.version}" does not allow `up`'
        remedy = "Leave the option out, or have the protocol signed for `up` first."
        raise Refused([Problem("--up-signed-off", what, remedy, "protocol")])
    return rules


def _events(table: Path | None, practised: Sequence[PractisedCourse]) -> tuple[Event, ...]:
    """Read events of the trainees who are here."""
    if table is None:
        return ()
    happened = read_events(table)
    harm = "the event would otherwise close no position"
    check_known(table, (event.trainee for event in happened), practised, harm=harm, kind="events")
    return happened


def _read(
    table: Path, mapping: Path | None, plans: Sequence[Plan] | None, today: date
) -> EntriesRead:
    """Read entries, from our own table or through a mapping."""
    if mapping is None:
        return read_entries(table, plans=plans, today=today)
    return read_mapped_entries(table, mapping=mapping, plans=plans, today=today)
