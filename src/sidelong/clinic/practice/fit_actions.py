"""Recording consent to learn from nights, and learning from those who gave it."""

from datetime import date, datetime

from sidelong.clinic.accounts.people import Person, demand
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.subjects import subject_of
from sidelong.clinic.practice.fits import (
    consents_now,
    key_in_use,
    key_of,
    practised_with_consent,
)
from sidelong.clinic.practice.models import ConsentRow, FitRow
from sidelong.clinic.trainees.models import Trainee
from sidelong.exchange.fits import format_fit
from sidelong.pathway.fitting import FitChoice, choose_fit
from sidelong.problems import Problem, Refused
from sidelong.training.consent import Consent

COHORT = "cohort"
"""Subject of acts about all trainees together."""


def record_consent(*, code: str, answer: Consent, now: datetime, by: Person) -> bool:
    """Keep whether a trainee's nights may count towards what is learned of all trainees.

    Parameters
    ----------
    code : str
        The trainee's code.
    answer : Consent
        What was answered; anything but yes takes an earlier yes back.
    now : datetime
        When, with its offset.
    by : Person
        Who writes it down.

    Returns
    -------
    bool
        Whether the clinic's fit went out of use by it and is to be made anew.

    Raises
    ------
    Refused
        If there is no such trainee.
    """
    demand(Permission.RECORD_CONSENT, of=by)
    with act("consent recorded", by=by, subject=subject_of(code)) as doing:
        trainee = Trainee.objects.filter(pk=code).first()
        if trainee is None:
            remedy = "Check the code."
            raise Refused([Problem(f"trainee {code}", "there is none", remedy, "trainee")])
        before = key_in_use()
        ConsentRow(trainee=trainee, answer=answer, written=now, written_by=by.audit_key).save()
        went_out = bool(before) and key_in_use() != before
        doing.note(answer=str(answer), fit_out_of_use=went_out)
    return went_out


def refit(*, now: datetime, today: date, by: Person) -> FitChoice:
    """Learn from everybody who consents, where they are enough.

    Parameters
    ----------
    now : datetime
        When, with its offset.
    today : date
        Day at the site, kept with the fit.
    by : Person
        Who has it made.

    Returns
    -------
    FitChoice
        The new fit; or the shipped values with the reason, and then nothing new is kept.

    Raises
    ------
    Refused
        If somebody withdrew while it was made.
    """
    demand(Permission.FIT_COHORT, of=by)
    practised = practised_with_consent()
    # The search takes seconds: it is over before the trail is held.
    choice = choose_fit(practised, today=today)
    with act("cohort fitted", by=by, subject=COHORT) as doing:
        codes = sorted(course.trainee for course in practised)
        consents = consents_now()
        if any(consents.get(code) is not Consent.YES for code in codes):
            what, remedy = "somebody took consent back meanwhile", "Have it made again."
            raise Refused([Problem("fit of the clinic", what, remedy, "consent")])
        doing.note(n_trainees=len(codes), fingerprint=choice.fit.fingerprint, why=choice.why)
        if choice.fit.is_own:
            FitRow(
                key=key_of(choice.fit, made=now),
                content=format_fit(choice.fit),
                trainees=codes,
                made=now,
                made_by=by.audit_key,
            ).save()
    return choice
