"""Everything that is known of one trainee's way, as values with who and when."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from sidelong.clinic.trainees.standing import Standing
from sidelong.clinic.trainees.visit import TeachingVisit
from sidelong.training.entry import Scale
from sidelong.training.plan import Plan
from sidelong.training.protocol import Protocol
from sidelong.training.referral import Decision, Referral


@dataclass(frozen=True)
class Done:
    """Who did something, and when it was written.

    Parameters
    ----------
    by : str
        Name as colleagues see it.
    at : datetime
        When.
    """

    by: str
    at: datetime


@dataclass(frozen=True)
class KeptReferral:
    """The newest referral with its answers.

    Parameters
    ----------
    referral : Referral
        The value.
    version : int
        From 1.
    written : Done
        Who wrote this version.
    answered : Done
        Who gave the last answer.
    """

    referral: Referral
    version: int
    written: Done
    answered: Done


@dataclass(frozen=True)
class KeptDecision:
    """A decision, and who wrote it down."""

    decision: Decision
    written: Done


@dataclass(frozen=True)
class KeptVisit:
    """A visit of the last course.

    Parameters
    ----------
    visit : TeachingVisit
        What was seen.
    version : int
        From 1.
    released : bool
        Whether pieces may go home.
    written : Done
        Who wrote it down.
    piece : str
        The piece that was tried, in words; empty for none.
    """

    visit: TeachingVisit
    version: int
    released: bool
    written: Done
    piece: str


@dataclass(frozen=True)
class KeptBooklet:
    """A booklet that was made.

    Parameters
    ----------
    number : int
        Which one of its course, from 1.
    paper, language, edition, audience : str
        As it was set; an empty audience is that of the plan's age band.
    made : Done
        Who made it.
    """

    number: int
    paper: str
    language: str
    edition: str
    audience: str
    made: Done


@dataclass(frozen=True)
class KeptPlan:
    """A version of a plan, with what it was made under.

    Parameters
    ----------
    plan : Plan
        Orders and pieces.
    scale : Scale or None
        Form of the rating; None where the supporter's record counts.
    protocol : Protocol
        Under which it was issued.
    issued : Done
        Who issued it.
    decided_by : str
        The clinician on whose decision it rests.
    seen_on : date
        The day of the visit on which it rests.
    booklets : tuple of KeptBooklet
        All that were made of it, first one first.
    piece : str
        The piece of the first night, in words.
    """

    plan: Plan
    scale: Scale | None
    protocol: Protocol
    issued: Done
    decided_by: str
    seen_on: date
    booklets: tuple[KeptBooklet, ...]
    piece: str

    @property
    def booklet(self) -> KeptBooklet | None:
        """The last one that was made."""
        return self.booklets[-1] if self.booklets else None

    @property
    def first_evening(self) -> date:
        """The evening that was agreed, else the day on which the plan was issued."""
        return self.plan.start or timezone.localdate(self.issued.at)

    @property
    def last_evening(self) -> date:
        """The evening of the last sheet, where nobody misses one."""
        return self.first_evening + timedelta(days=len(self.plan.nights) - 1)

    def is_over(self, evening: date) -> bool:
        """Tell whether the last evening has passed; one that is running has not."""
        return evening > self.last_evening


@dataclass(frozen=True)
class Record:
    """One trainee's way so far.

    Parameters
    ----------
    code, site, language : str
        Codes only.
    site_name : str
        The site's name, as its protocol gives it, else its code.
    entered : Done
        Who took the trainee up.
    referral : KeptReferral or None
        The newest one.
    standing : Standing or None
        Where it stands today; None without a referral or a protocol.
    decisions : tuple of KeptDecision
        Oldest first.
    course : int
        Number of the last course; 0 before the first.
    is_open : bool
        Whether that course is open.
    visits : tuple of KeptVisit
        Of the last course, oldest first.
    plans : tuple of KeptPlan
        Of the last course, oldest first.
    evening : date
        The evening that is running; nights end at 04:00.
    is_locked : bool
        Whether practice waits for a clinician's answer to an event of any course.
    why_closed : str
        Why the last course ended; empty where none has.
    """

    code: str
    site: str
    language: str
    site_name: str
    entered: Done
    referral: KeptReferral | None
    standing: Standing | None
    decisions: tuple[KeptDecision, ...]
    course: int
    is_open: bool
    visits: tuple[KeptVisit, ...]
    plans: tuple[KeptPlan, ...]
    evening: date
    is_locked: bool = False
    why_closed: str = ""

    @property
    def visit(self) -> KeptVisit | None:
        """The last visit."""
        return self.visits[-1] if self.visits else None

    @property
    def plan(self) -> KeptPlan | None:
        """The version that counts."""
        return self.plans[-1] if self.plans else None
