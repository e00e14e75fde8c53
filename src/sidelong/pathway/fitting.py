"""From all trainees' nights to the fit that estimates rest on, or the reason why there is none.

A new clinic starts from the values that ship with the program. It moves to its own as soon as
:data:`ENOUGH_TRAINEES` trainees, whose consent allows it, have practised :data:`ENOUGH_NIGHTS`
nights each: below, a cohort tells less about trainees in general than the assumptions do, and the
nights of single trainees would shine through in the answers of others.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date

import numpy as np

import sidelong
from sidelong.exchange.fits import SHIPPED_FIT, StoredFit
from sidelong.pathway.estimates import PractisedCourse, to_courses
from sidelong.preferences import CohortFit, Courses, fit_cohort
from sidelong.training.consent import Consent

ENOUGH_TRAINEES = 10
"""From here a clinic's own trainees say more than shipped values (a choice; an assumption)."""

ENOUGH_NIGHTS = 5
"""Nights with an answer from which a trainee counts towards that number."""


@dataclass(frozen=True)
class FitChoice:
    """A fit, and why it is not the clinic's own.

    Parameters
    ----------
    fit : StoredFit
        What estimates are to rest on.
    why : str
        Why the shipped values stand, as a clause; empty where they do not.
    """

    fit: StoredFit
    why: str = ""


def choose_fit(
    practised: Sequence[PractisedCourse],
    *,
    consents: Mapping[str, Consent] | None = None,
    today: date,
) -> FitChoice:
    """Fit the trainees whose consent allows it, or say why the shipped values stand.

    Parameters
    ----------
    practised : sequence of PractisedCourse
        One course of each trainee.
    consents : mapping of str to Consent or None
        By trainee; one who is not in it was not asked. None where whoever calls states that all
        of them may be used.
    today : date
        Kept with the fit.

    Returns
    -------
    FitChoice
        Of the cohort, or the shipped values with the reason.
    """
    used = [
        course
        for course in practised
        if consents is None or consents.get(course.trainee) is Consent.YES
    ]
    if not used:
        return _too_few(0)
    return fit_own(to_courses(used), today=today)


def fit_own(courses: Courses, *, today: date) -> FitChoice:
    """Fit a clinic's own trainees, or fall back on the shipped values while there are too few.

    Parameters
    ----------
    courses : Courses
        Trainees whose consent allows it; one course each.
    today : date
        Kept with the fit.

    Returns
    -------
    FitChoice
        The clinic's own from ten trainees on who each have five nights with an answer, if the
        search arrived.
    """
    enough = int((courses.nights_used >= ENOUGH_NIGHTS).sum())
    if enough < ENOUGH_TRAINEES:
        return _too_few(enough)
    fit = fit_cohort(courses)
    if not fit.converged:
        why = f"the search for those of {courses.n_trainees} own trainees did not arrive"
        return FitChoice(SHIPPED_FIT, why)
    return FitChoice(describe_fit(fit, courses, today=today))


def describe_fit(fit: CohortFit, courses: Courses, *, today: date) -> StoredFit:
    """Put a fit together with where it comes from.

    Parameters
    ----------
    fit : CohortFit
        As found.
    courses : Courses
        What it was found from.
    today : date
        When.

    Returns
    -------
    StoredFit
        Ready to be stored.
    """
    mark = fingerprint_courses(courses)
    origin = (
        f"fitted to {fit.n_trainees} trainees on {today.isoformat()} "
        f"by sidelong {sidelong.__version__}, answers {mark[:8]}"
    )
    return StoredFit(
        hyperparameters=fit.hyperparameters,
        origin=origin,
        mixture=fit.mixture if len(fit.mixture.points) > 1 else None,
        fingerprint=mark,
        n_trainees=fit.n_trainees,
        program=sidelong.__version__,
        made_on=today,
    )


def fingerprint_courses(courses: Courses) -> str:
    """Give a fingerprint of all answers, whatever the order of the trainees.

    Parameters
    ----------
    courses : Courses
        Of a cohort; holds no code and no name.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits.
    """
    digests = []
    for row in range(courses.n_trainees):
        digest = hashlib.sha256()
        for each in fields(courses):
            values = np.asarray(getattr(courses, each.name)[row])
            kind = "<f8" if values.dtype.kind == "f" else "<i8"
            digest.update(values.astype(kind).tobytes())
        digests.append(digest.digest())
    return hashlib.sha256(b"".join(sorted(digests))).hexdigest()


def _too_few(enough: int) -> FitChoice:
    """Give the shipped values, with how far the clinic is from its own."""
    why = (
        f"own ones need {ENOUGH_TRAINEES} trainees with consent and {ENOUGH_NIGHTS} nights each; "
        f"there are {enough}"
    )
    return FitChoice(SHIPPED_FIT, why)
