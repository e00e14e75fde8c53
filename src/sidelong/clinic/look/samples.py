"""One invented course for the page of all parts, drawn and answered by the real functions.

Nothing in it belongs to anybody: the code is written as no installation writes its own.
"""

from dataclasses import dataclass
from datetime import date
from functools import cache

from sidelong.paper.language import read_language
from sidelong.paper.report import Report
from sidelong.pathway.enrolling import simulate_enrolment, simulation_rng
from sidelong.pathway.estimates import estimate_courses, gather_courses
from sidelong.pathway.invention import draw_entries
from sidelong.pathway.planning import draw_plans
from sidelong.pathway.reports import compose_report
from sidelong.training.estimate import Estimate
from sidelong.training.position import Position

_SEED = "11"
_NIGHTS = 14
_DAY = date(2026, 11, 25)


@dataclass(frozen=True)
class SampleCourse:
    """An invented trainee's estimate, and the report about it."""

    estimate: Estimate
    report: Report


@cache
def sample_course(tag: str = "en") -> SampleCourse:
    """Invent one course of fourteen nights, and answer it.

    Parameters
    ----------
    tag : str
        Language of the report, a tag of :func:`sidelong.paper.language.known_languages`.

    Returns
    -------
    SampleCourse
        The same in every call.
    """
    rng = simulation_rng(_SEED, purpose="page of all parts")
    enrolled = simulate_enrolment(
        1, positions=tuple(Position), sites=["harbour"], bands=["older"], rng=rng
    )
    plans = draw_plans(enrolled, seed=_SEED, n_nights=_NIGHTS)
    entries = draw_entries(plans, scales={}, rng=rng)
    estimate = estimate_courses(gather_courses(entries, plans=plans))[0]
    report = compose_report(
        estimate,
        entries,
        language=read_language(tag),
        today=_DAY,
        program="the page of all parts",
        plan=plans[0],
        invented=True,
    )
    return SampleCourse(estimate, report)
