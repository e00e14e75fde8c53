"""From what was recorded to the answer, its report and its snapshot: values in, values out.

The figures are those of the command ``estimate`` for the same entries, by the same functions and
rounded in the same place.
"""

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import sidelong
from sidelong.clinic.practice.evening import Evening
from sidelong.clinic.practice.snapshot import canonical, digest, from_plain, to_plain
from sidelong.exchange.estimates import as_written
from sidelong.exchange.fits import SHIPPED_FIT, StoredFit
from sidelong.paper.language import Language
from sidelong.paper.report import Report
from sidelong.pathway.estimates import estimate_courses, gather_courses
from sidelong.pathway.outlooks import FURTHER_NIGHTS
from sidelong.pathway.reports import compose_report
from sidelong.training.entry import Entry
from sidelong.training.estimate import Estimate
from sidelong.training.event import Event, barred_positions
from sidelong.training.gate_rules import SignOff
from sidelong.training.plan import Plan
from sidelong.training.protocol import Protocol


@dataclass(frozen=True)
class Evidence:
    """Everything that an answer about one course rests on.

    Parameters
    ----------
    plan : Plan
        The last version of the course's plan.
    evenings : tuple of Evening
        By night, the version that counts of each.
    events : tuple of Event
        Safety events of the course.
    up_signed_off : bool
        Whether a swallowing specialist has signed that ``up`` may be suggested.
    up_sign_off : SignOff or None
        Who did, to be named; None in what was kept before that was noted.
    fit : str
        Key of the clinic's own fit that is in use; empty for the shipped values.
    """

    plan: Plan
    evenings: tuple[Evening, ...] = ()
    events: tuple[Event, ...] = ()
    up_signed_off: bool = False
    up_sign_off: SignOff | None = None
    fit: str = ""

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Nights with an answer, within the plan: a night without rows leaves nothing to count."""
        n_nights = len(self.plan.nights)
        entries = (each.entry for each in self.evenings)
        return tuple(each for each in entries if each.rows and each.night <= n_nights)


@dataclass(frozen=True)
class Answer:
    """An estimate with all that it rests on.

    Parameters
    ----------
    evidence : Evidence
        Plan, nights and events.
    estimate : Estimate
        As the table of estimates writes it.
    fit : str
        Where the hyperparameters come from, in a sentence.
    program : str
        Version of the program.
    """

    evidence: Evidence
    estimate: Estimate
    fit: str
    program: str

    @property
    def made_by(self) -> str:
        """How the figures were made, for the report; the command says the same."""
        return f"sidelong {self.program}; {self.fit}"

    @property
    def content(self) -> str:
        """All of it as canonical JSON, to be kept and signed."""
        return canonical(to_plain(self))

    @classmethod
    def from_content(cls, plain: object) -> "Answer":
        """Make an answer of what was kept."""
        return from_plain(cls, plain)


@lru_cache(maxsize=64)
def fingerprint_of(evidence: Evidence) -> str:
    """Fingerprint all that decides the figures: nights, events, plan, fit, program.

    Parameters
    ----------
    evidence : Evidence
        Plan, nights, events, and the key of the fit.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    return digest(
        "sidelong evidence 1",
        canonical(to_plain(evidence)),
        canonical(SHIPPED_FIT.hyperparameters.to_dict()),
        sidelong.__version__,
    )


def answer(evidence: Evidence, *, fit: StoredFit = SHIPPED_FIT) -> Answer:
    """Say what the nights of one course show.

    Parameters
    ----------
    evidence : Evidence
        Plan, nights and events.
    fit : StoredFit
        The one whose key the evidence names.

    Returns
    -------
    Answer
        With figures as the table of estimates writes them.
    """
    practised = gather_courses(evidence.entries, plans=[evidence.plan])
    exact = estimate_courses(
        practised,
        hyperparameters=fit.shared,
        barred=barred_positions(evidence.events),
        up_signed_off=evidence.up_signed_off,
        further_nights=FURTHER_NIGHTS,
    )
    return Answer(evidence, as_written(exact[0]), fit.origin, sidelong.__version__)


def compose(said: Answer, *, protocol: Protocol | None, language: Language, today: date) -> Report:
    """Compose the report of one answer, for page and paper alike.

    Parameters
    ----------
    said : Answer
        What the nights show.
    protocol : Protocol or None
        The protocol that the plan was made under.
    language : Language
        Where every sentence comes from.
    today : date
        Day of the report.

    Returns
    -------
    Report
        As the command composes it.
    """
    evidence = said.evidence
    return compose_report(
        said.estimate,
        evidence.entries,
        plan=evidence.plan,
        protocol=protocol,
        events=evidence.events,
        language=language,
        today=today,
        program=said.made_by,
        up_sign_off=evidence.up_sign_off,
    )
