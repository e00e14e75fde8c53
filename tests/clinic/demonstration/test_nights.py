"""Courses of invented families are picked by the verdict that the clinic's own answer gives."""

from dataclasses import replace

import numpy as np
import pytest

from sidelong.exchange.fits import SHIPPED_FIT, StoredFit
from sidelong.pathway.estimates import estimate_courses, gather_courses
from sidelong.training.entry import Scale
from sidelong.training.estimate import Verdict
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position

ORDERS = [tuple(np.roll(list(Position), turn)) for turn in range(5)]
NIGHTS = tuple(Night(tuple(map(Position, ORDERS[n % 5])), 5.0) for n in range(14))
PLAN = Plan("QS-7K3PX", NIGHTS)
# A clinic whose trainees change from night to night: much of what was clear is so no more.
OTHER = replace(SHIPPED_FIT.hyperparameters, drift_sd=0.6)
OWN = StoredFit(OTHER, origin="fitted to 12 trainees", n_trainees=12)


def verdict_under(fit: StoredFit, entries: tuple) -> Verdict:
    (said,) = estimate_courses(gather_courses(entries, plans=[PLAN]), hyperparameters=fit.shared)
    return said.verdict


@pytest.mark.parametrize("fit", [SHIPPED_FIT, OWN], ids=["shipped", "own"])
@pytest.mark.parametrize("verdict", [Verdict.LIKELY, Verdict.TOO_CLOSE])
def test_a_course_shows_the_wanted_verdict_under_the_fit_in_use(
    verdict: Verdict, fit: StoredFit
) -> None:
    from sidelong.clinic.demonstration.nights import draw_course, shows

    for seed in range(3):
        course = draw_course(
            PLAN,
            scale=Scale.FIVE,
            rng=np.random.default_rng(seed),
            that=shows(verdict),
            fit=fit,
        )
        assert course.verdict is verdict
        assert verdict_under(fit, course.entries) is verdict
