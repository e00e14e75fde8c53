"""The table of locked estimates that `sidelong estimate --lock` writes, and never writes over."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import sidelong
from sidelong.exchange.fits import StoredFit
from sidelong.exchange.promises import check_lock_place, mark_fit, write_locks
from sidelong.pathway.estimates import PractisedCourse
from sidelong.pathway.planning import latest_plans
from sidelong.pathway.promises import fingerprint_nights, lock_figures
from sidelong.training.estimate import Estimate
from sidelong.training.event import Event
from sidelong.training.plan import Plan


@dataclass(frozen=True, kw_only=True)
class Locks:
    """The table, and what all locked estimates share.

    Parameters
    ----------
    place : Path
        Table to write; there may be none of that name.
    fit : StoredFit
        What the estimates rest on.
    plans : sequence of Plan
        As drawn; empty where they are not at hand.
    events : sequence of Event
        Of all trainees.
    now : datetime
        When, with its offset.
    """

    place: Path
    fit: StoredFit
    plans: Sequence[Plan]
    events: Sequence[Event]
    now: datetime

    def __post_init__(self) -> None:
        """Refuse a table that is there already, before anything is written."""
        check_lock_place(self.place)

    def write(self, answers: Sequence[Estimate], practised: Sequence[PractisedCourse]) -> None:
        """Write one locked estimate for each answer, rounded as in the table of estimates."""
        plan_of = {plan.trainee: plan for plan in latest_plans(self.plans)}
        write_locks(
            self.place,
            [
                lock_figures(
                    answer,
                    course=_course(course, plan_of.get(answer.trainee)),
                    version=_version(course, plan_of.get(answer.trainee)),
                    follow_up=1,
                    number=1,
                    locked_at=self.now,
                    locked_by="",
                    program=sidelong.__version__,
                    fit=mark_fit(self.fit),
                    evidence=fingerprint_nights(
                        course, (each for each in self.events if each.trainee == answer.trainee)
                    ),
                )
                for answer, course in zip(answers, practised, strict=True)
            ],
        )


def _course(course: PractisedCourse, plan: Plan | None) -> int:
    if plan is not None:
        return plan.course
    return max((entry.course for entry in course.entries), default=1)


def _version(course: PractisedCourse, plan: Plan | None) -> int:
    if plan is not None:
        return plan.version
    return max((entry.version for entry in course.entries), default=1)
