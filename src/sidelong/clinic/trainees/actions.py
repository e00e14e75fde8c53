"""What is done to trainees, their referrals and courses, each as one recorded act.

Visits, plans and booklets are in :mod:`sidelong.clinic.trainees.plan_actions`.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from enum import StrEnum

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.identities.actions import record_identity
from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.protocols.documents import protocol_of
from sidelong.clinic.protocols.in_use import protocol_row
from sidelong.clinic.trainees.codes import N_CODES, draw_code
from sidelong.clinic.trainees.models import AnswerRow, Course, DecisionRow, ReferralRow, Trainee
from sidelong.clinic.trainees.rows import decision_columns
from sidelong.clinic.trainees.standing import newest_referral
from sidelong.pathway.held_decisions import decision_faults
from sidelong.problems import Problem, Refused
from sidelong.training.days import say_day
from sidelong.training.gates import Answer
from sidelong.training.referral import Decision, Referral

_TRIES = 100
_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,15}")
_FREE_TEXT = {"reason", "decided_by", "role"}


class WhyClosed(StrEnum):
    """Why a course ended."""

    FINISHED = "finished"
    STOPPED = "stopped"
    LOST = "lost"


def enter_trainee(
    *,
    site: str,
    language: str,
    identity: Identity | None = None,
    code: str = "",
    now: datetime,
    below: Callable[[int], int],
    by: Person,
) -> str:
    """Take somebody up under a new code, or under one that was in use before.

    Parameters
    ----------
    site : str
        Code of the site.
    language : str
        BCP 47 tag of the family's language.
    identity : Identity, optional
        Who it is; left out where the clinic keeps names elsewhere.
    code : str
        A code from elsewhere, as in files that came along; drawn where empty.
    now : datetime
        When, with its offset.
    below : callable
        Draws the code; see :func:`sidelong.clinic.trainees.codes.draw_code`.
    by : Person
        Who enters.

    Returns
    -------
    str
        The code.

    Raises
    ------
    Refused
        If the site is empty, the given code is taken or no code, or nearly all codes are taken.
    """
    demand(Permission.ENTER_TRAINEES, of=by)
    if not site.strip() or not language.strip():
        remedy = "Give the site's code and the family's language."
        raise Refused([Problem("trainee", "site or language is empty", remedy, "trainee")])
    with act("trainee entered", by=by) as doing:
        code = _given_code(code) if code else _free_code(below)
        doing.subject = subject_of(code)
        doing.note(site=site, language=language, has_identity=identity is not None)
        Trainee(code=code, site=site, language=language, entered=now, entered_by=by.audit_key).save(
            force_insert=True
        )
        if identity is not None:
            record_identity(code=code, identity=identity, by=by)
    return code


def write_referral(*, referral: Referral, now: datetime, by: Person) -> int:
    """Keep a trainee's referral and answers; a later one is a new version beside the first.

    Parameters
    ----------
    referral : Referral
        Code, age and answers; the code must have been entered, and the site must be its own.
    now : datetime
        When, with its offset.
    by : Person
        Who writes.

    Returns
    -------
    int
        Version, from 1.

    Raises
    ------
    Refused
        If there is no such trainee, or the site is another one.
    """
    demand(Permission.ENTER_TRAINEES, of=by)
    with act("referral written", by=by, subject=subject_of(referral.trainee)) as doing:
        trainee = _locked(referral.trainee)
        if trainee.site != referral.site:
            what = f'the referral says "{referral.site}", the trainee "{trainee.site}"'
            remedy = "Use the site where the trainee was entered."
            raise Refused([Problem(f"referral of {trainee.code}", what, remedy, "trainee")])
        version: int = trainee.referrals.count() + 1
        ReferralRow(
            trainee=trainee,
            version=version,
            age_years=referral.age_years,
            band=referral.band,
            form=referral.form,
            referred=referral.referred,
            last_change=referral.last_change,
            answers={key: str(answer) for key, answer in sorted(referral.answers.items())},
            written=now,
            written_by=by.audit_key,
        ).save()
        doing.note(version=version, answered=sorted(referral.answers))
    return version


def refer_trainee(
    *,
    referral: Referral,
    identity: Identity | None = None,
    now: datetime,
    below: Callable[[int], int],
    by: Person,
) -> str:
    """Take somebody up with a first referral: all of it, or nothing.

    Parameters
    ----------
    referral : Referral
        Site, language, age and what is known; its code is a stand-in where one is to be drawn.
    identity : Identity, optional
        Who it is.
    now : datetime
        When, with its offset.
    below : callable
        Draws the code.
    by : Person
        Who enters.

    Returns
    -------
    str
        The new code.
    """
    with transaction.atomic():
        code = enter_trainee(
            site=referral.site,
            language=referral.language,
            identity=identity,
            now=now,
            below=below,
            by=by,
        )
        write_referral(referral=replace(referral, trainee=code), now=now, by=by)
    return code


def answer_questions(
    *, code: str, answers: Mapping[str, Answer], now: datetime, by: Person
) -> None:
    """Keep answers to readiness questions, as soon as they are given.

    Parameters
    ----------
    code : str
        The trainee's code.
    answers : mapping of str to Answer
        By key of a gate or of its follow-up question; of one question the latest counts.
    now : datetime
        When, with its offset.
    by : Person
        Who asked.

    Raises
    ------
    Refused
        If there is no referral, no answer, or the protocol asks no such question.
    """
    demand(Permission.ENTER_TRAINEES, of=by)
    with act("questions answered", by=by, subject=subject_of(code)) as doing:
        trainee = _locked(code)
        row = newest_referral(code)
        known = protocol_of(protocol_row(trainee.site).text).questions
        strange = sorted(set(answers) - set(known))
        if row is None or strange or not answers:
            what = f"{', '.join(strange)} is not asked" if strange else "there is nothing to keep"
            remedy = "Open the questions again; the protocol may have changed."
            raise Refused([Problem(f"referral of {code}", what, remedy, "referral")])
        for question, answer in sorted(answers.items()):
            AnswerRow(
                referral=row,
                question=question,
                answer=str(answer),
                written=now,
                written_by=by.audit_key,
            ).save()
        doing.note(version=row.version, answered=sorted(answers))


def decide(*, decision: Decision, now: datetime, by: Person) -> None:
    """Keep what a clinician decided about a gate, or about practice as a whole.

    Parameters
    ----------
    decision : Decision
        Who decided, in which role, what, why and until when.
    now : datetime
        When, with its offset.
    by : Person
        A clinician.

    Raises
    ------
    Refused
        If it is dated after today, decides on a gate that is not in use, or gives back what its
        gate takes out for good.
    """
    demand(Permission.DECIDE, of=by)
    code = decision.trainee
    with act("decision recorded", by=by, subject=subject_of(code)) as doing:
        trainee = _locked(code)
        faults = list(decision_faults(decision, protocol_of(protocol_row(trainee.site).text)))
        if decision.decided_on > timezone.localdate(now):
            what = f"it is dated {say_day(decision.decided_on)}, after today"
            remedy = "Give the day on which it was decided."
            faults.append(Problem(f"decision for {code}", what, remedy, "decision"))
        if faults:
            raise Refused(faults)
        columns = decision_columns(decision)
        DecisionRow(trainee=trainee, **columns, written=now, written_by=by.audit_key).save()
        # The reason is free text, so it stays out of the trail; the row keeps it.
        told = {name: value for name, value in columns.items() if name not in _FREE_TEXT}
        doing.note(**{name: _plain(value) for name, value in told.items()})


def open_course(*, code: str, now: datetime, by: Person) -> int:
    """Open a trainee's next run through the programme.

    Parameters
    ----------
    code : str
        The trainee's code.
    now : datetime
        When, with its offset.
    by : Person
        Who opens.

    Returns
    -------
    int
        Number of the course, from 1.

    Raises
    ------
    Refused
        If there is no such trainee, or a course is open already.
    """
    demand(Permission.RUN_COURSES, of=by)
    with act("course opened", by=by, subject=subject_of(code)) as doing:
        trainee = _locked(code)
        if trainee.courses.filter(closed__isnull=True).exists():
            raise Refused([_course_fault(code, "one is open already", "Close that one first.")])
        number: int = trainee.courses.count() + 1
        Course(trainee=trainee, number=number, opened=now, opened_by=by.audit_key).save()
        doing.note(course=number)
    return number


def close_course(*, code: str, why: WhyClosed, now: datetime, by: Person) -> None:
    """Close the open course of a trainee.

    Parameters
    ----------
    code : str
        The trainee's code.
    why : WhyClosed
        Why it ends.
    now : datetime
        When, with its offset.
    by : Person
        Who closes.

    Raises
    ------
    Refused
        If there is no such trainee, or no course is open.
    """
    demand(Permission.RUN_COURSES, of=by)
    with act("course closed", by=by, subject=subject_of(code)) as doing:
        course = _locked(code).courses.filter(closed__isnull=True).first()
        if course is None:
            raise Refused([_course_fault(code, "none is open", "Open one first.")])
        course.closed, course.closed_by, course.why_closed = now, by.audit_key, why
        course.save()
        doing.note(course=course.number, why=why)


def _plain(value: object) -> str:
    return " ".join(value) if isinstance(value, list) else str(value)


def _given_code(code: str) -> str:
    if not _CODE.fullmatch(code):
        remedy = "Use letters, digits and hyphens, 16 at most."
        raise Refused([Problem("trainee", "this is no code", remedy, "trainee")])
    if Trainee.objects.filter(code=code).exists():
        remedy = "Open the trainee who has it, or leave the code out."
        raise Refused([Problem(f"trainee {code}", "the code is taken", remedy, "trainee")])
    return code


def _free_code(below: Callable[[int], int]) -> str:
    for _ in range(_TRIES):
        code = draw_code(settings.INSTALLATION.prefix, below=below)
        if not Trainee.objects.filter(code=code).exists():
            return code
    what = f"nearly all of {N_CODES} codes are taken"
    remedy = "Set another prefix in installation.toml."
    raise Refused([Problem("trainee", what, remedy, "trainee")])


def _locked(code: str) -> Trainee:
    trainee: Trainee | None = Trainee.objects.select_for_update().filter(code=code).first()
    if trainee is None:
        remedy = "Check every character; the last one shows slips."
        raise Refused([Problem(f"trainee {code}", "there is no such code", remedy, "trainee")])
    return trainee


def _course_fault(code: str, what: str, remedy: str) -> Problem:
    return Problem(f"course of {code}", what, remedy, "trainee")
