"""What stands behind the answers of one table: the fit, its side file, and the reports."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import sidelong
from sidelong.cli.folders import prepare_folder
from sidelong.cli.progress import track
from sidelong.exchange.consents import read_consents
from sidelong.exchange.files import write_bytes
from sidelong.exchange.fits import StoredFit, read_fit
from sidelong.paper.language import Language
from sidelong.paper.report import set_report
from sidelong.paper.sheet import Paper
from sidelong.pathway.estimates import PractisedCourse
from sidelong.pathway.fitting import FitChoice, choose_fit
from sidelong.pathway.planning import latest_plans
from sidelong.pathway.report_answer import NextStep
from sidelong.pathway.reports import compose_report
from sidelong.pathway.stepping import advise_course
from sidelong.problems import Problem, Refused
from sidelong.training.estimate import Estimate
from sidelong.training.event import Event
from sidelong.training.ladder import Ladder
from sidelong.training.plan import Plan
from sidelong.training.protocol import Protocol

ALL_STATE = (
    "All trainees of the table count towards the fit: without --consent you state that their "
    "consent allows it."
)


def fit_for(
    practised: Sequence[PractisedCourse],
    *,
    prior: Path | None,
    consent: Path | None,
    today: date,
) -> FitChoice:
    """Take the fit that was given, else that of the table's own trainees, else the shipped one.

    Parameters
    ----------
    practised : sequence of PractisedCourse
        Of the table.
    prior : Path or None
        A stored fit.
    consent : Path or None
        Table of consents; None where all trainees of the table may be used.
    today : date
        Kept with a new fit.

    Returns
    -------
    FitChoice
        With where it comes from.

    Raises
    ------
    Refused
        If both files were given, one cannot be read, or a consent is of somebody who is not here.
    """
    if prior is not None:
        if consent is not None:
            remedy = "Leave --consent out: a stored fit is used as it is."
            raise Refused([Problem("--prior", "a fit and consents were given", remedy, "fit")])
        return FitChoice(read_fit(prior))
    if consent is None:
        return choose_fit(practised, today=today)
    consents = read_consents(consent)
    harm = "the consent would be nobody's"
    check_known(consent, consents, practised, harm=harm, kind="consent")
    return choose_fit(practised, consents=consents, today=today)


def check_known(
    table: Path, codes: Iterable[str], practised: Sequence[PractisedCourse], *, harm: str, kind: str
) -> None:
    """Refuse trainees who are not here: a mistyped code would go unnoticed.

    Parameters
    ----------
    table : Path
        Where the codes stand.
    codes : iterable of str
        Trainees of that table.
    practised : sequence of PractisedCourse
        Those who are here.
    harm : str
        What the mistake would do, for the message.
    kind : str
        Of the problem.

    Raises
    ------
    Refused
        With every code that is unknown.
    """
    known = {course.trainee for course in practised}
    strangers = sorted(set(codes) - known)
    if strangers:
        what, remedy = "there are no entries for it", f"Check the code: {harm}."
        raise Refused(
            [Problem(f"{table}, trainee {code}", what, remedy, kind) for code in strangers]
        )


def fit_file(out: Path) -> Path:
    """Say where the fit behind a table of estimates lies: beside it."""
    return out.with_suffix(".fit.json")


@dataclass(frozen=True, kw_only=True)
class Reports:
    """The folder of reports, and what all of them share.

    Parameters
    ----------
    folder : Path
        Where they go: exactly one PDF for each trainee.
    fit : StoredFit
        Named on each.
    plans : sequence of Plan
        As drawn; empty where they are not at hand.
    protocol : Protocol or None
        The site's.
    ladder : Ladder or None
        The site's pieces.
    events : sequence of Event
        Of all trainees.
    language : Language
        Of the reports.
    paper : Paper
        Of the reports.
    today : date
        On the reports.
    """

    folder: Path
    fit: StoredFit
    plans: Sequence[Plan]
    protocol: Protocol | None
    ladder: Ladder | None
    events: Sequence[Event]
    language: Language
    paper: Paper
    today: date

    def prepare(self, answers: Sequence[Estimate]) -> None:
        """Make the folder, and refuse one with somebody else's reports in it."""
        prepare_folder(self.folder, names=(f"{each.trainee}.pdf" for each in answers))

    def set_all(self, answers: Sequence[Estimate], practised: Sequence[PractisedCourse]) -> None:
        """Set one report for each answer."""
        plan_of = {plan.trainee: plan for plan in latest_plans(self.plans)}
        pairs = list(zip(answers, practised, strict=True))
        for answer, course in track(pairs, doing="Setting reports", total=len(pairs)):
            self._set(answer, course, plan_of.get(answer.trainee))

    def _set(self, answer: Estimate, course: PractisedCourse, plan: Plan | None) -> None:
        own_events = [event for event in self.events if event.trainee == answer.trainee]
        composed = compose_report(
            answer,
            course.entries,
            plan=plan,
            protocol=self.protocol,
            events=own_events,
            advice=self._next_step(course, own_events),
            language=self.language,
            today=self.today,
            program=f"sidelong {sidelong.__version__}; {self.fit.origin}",
        )
        write_bytes(
            self.folder / f"{answer.trainee}.pdf",
            set_report(composed, language=self.language, paper=self.paper.value),
        )

    def _next_step(self, course: PractisedCourse, events: Sequence[Event]) -> NextStep | None:
        """Ask the site's rules about the next piece, where both rules and pieces are at hand."""
        if self.ladder is None or self.protocol is None:
            return None
        advice = advise_course(course, ladder=self.ladder, rules=self.protocol.steps, events=events)
        if advice is None:
            return None
        piece = self.ladder.steps[advice.step - 1]
        return NextStep(advice.move, f"{piece.code} ({piece.largest_mm:g} mm)")
