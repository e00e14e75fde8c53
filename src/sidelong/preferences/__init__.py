"""A trainee's preference among the positions, estimated from ratings, successes and favourites."""

from sidelong.preferences.best import chance_best
from sidelong.preferences.course_view import CourseView, view_courses
from sidelong.preferences.courses import FIRST, LATER, NO, Courses
from sidelong.preferences.estimate import (
    NightTraces,
    PreferenceEstimates,
    estimate_earlier,
    estimate_preferences,
    give_verdicts,
    trace_nights,
)
from sidelong.preferences.fit import CohortFit, fit_cohort
from sidelong.preferences.hyperparameters import (
    DEFAULT,
    HyperparameterMixture,
    Hyperparameters,
)
from sidelong.preferences.importance import CorrectedEstimates, correct_estimates, mend_estimates
from sidelong.preferences.outlook import (
    MoreNights,
    average_night,
    chance_better,
    expect_of_more_nights,
    share_of_own_nights,
)
from sidelong.preferences.prior import DEFAULT_PRIOR, FitPrior
from sidelong.preferences.ratings import expected_rating
from sidelong.preferences.simulate import (
    Conduct,
    SimulatedCourses,
    simulate_courses,
)
from sidelong.preferences.verdict import (
    DEFAULT_RULE,
    VerdictAnswer,
    VerdictRule,
    VerdictWord,
    give_verdict,
)

__all__ = [
    "DEFAULT",
    "DEFAULT_PRIOR",
    "DEFAULT_RULE",
    "FIRST",
    "LATER",
    "NO",
    "CohortFit",
    "Conduct",
    "CorrectedEstimates",
    "CourseView",
    "Courses",
    "FitPrior",
    "HyperparameterMixture",
    "Hyperparameters",
    "MoreNights",
    "NightTraces",
    "PreferenceEstimates",
    "SimulatedCourses",
    "VerdictAnswer",
    "VerdictRule",
    "VerdictWord",
    "average_night",
    "chance_best",
    "chance_better",
    "correct_estimates",
    "estimate_earlier",
    "estimate_preferences",
    "expect_of_more_nights",
    "expected_rating",
    "fit_cohort",
    "give_verdict",
    "give_verdicts",
    "mend_estimates",
    "share_of_own_nights",
    "simulate_courses",
    "trace_nights",
    "view_courses",
]
