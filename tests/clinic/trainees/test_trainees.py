"""Trainees, referrals and courses."""

from datetime import UTC, date, datetime
from itertools import count
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from sidelong.clinic.accounts.people import NotPermitted, Operator
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.queries import links_about
from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.identities.queries import read_identities
from sidelong.clinic.trainees.actions import (
    WhyClosed,
    close_course,
    enter_trainee,
    open_course,
    write_referral,
)
from sidelong.clinic.trainees.codes import is_code
from sidelong.clinic.trainees.models import Course, ReferralRow, Trainee
from sidelong.clinic.trainees.queries import latest_referral, list_trainees
from sidelong.problems import Refused
from sidelong.training.gates import Answer
from sidelong.training.referral import PieceForm, Referral

NOW = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
WHO = Identity("Inventia", "Madeup", date(2018, 2, 3))


def enter(by: Any, *, identity: Identity | None = None, below: Any = None) -> str:
    return enter_trainee(
        site="harbour",
        language="en",
        identity=identity,
        now=NOW,
        below=below or (lambda n: n // 2),
        by=by,
    )


def test_a_new_trainee_has_a_code_and_the_name_lies_elsewhere(coach: Any) -> None:
    code = enter(coach, identity=WHO)
    trainee = Trainee.objects.get()
    assert is_code(code)
    assert code.startswith("HL-")
    assert (trainee.site, trainee.entered_by) == ("harbour", coach.audit_key)
    assert read_identities([code], seen_by=coach) == {code: WHO}
    assert [link.verb for link in links_about(f"trainee:{code}")] == [
        "identity recorded",
        "trainee entered",
        "identity read",
    ]


def test_a_trainee_can_be_entered_without_a_name(coach: Any) -> None:
    code = enter(coach)
    assert read_identities([code], seen_by=coach) == {}


def test_a_code_is_never_given_twice(coach: Any) -> None:
    numbers = count()
    first = enter(coach, below=lambda n: 0)
    second = enter(coach, below=lambda n: next(numbers) // 4)
    assert first != second
    with pytest.raises(Refused, match="codes are taken"):
        enter(coach, below=lambda n: 0)


def test_a_trainee_needs_site_and_language(coach: Any) -> None:
    with pytest.raises(Refused, match="site or language"):
        enter_trainee(site=" ", language="en", now=NOW, below=lambda n: 0, by=coach)


def test_a_referral_comes_back_as_the_rules_take_it(coach: Any) -> None:
    code = enter(coach)
    referral = Referral(
        code,
        "harbour",
        8,
        answers={"asthma": Answer.NO, "allergy": Answer.UNKNOWN},
        band="younger",
        language="en",
        form=PieceForm.OTHER,
        referred=date(2026, 11, 1),
        last_change=date(2026, 11, 20),
    )
    assert write_referral(referral=referral, now=NOW, by=coach) == 1
    assert latest_referral(code, seen_by=coach) == referral


def test_a_correction_keeps_what_was_known_before(coach: Any) -> None:
    code = enter(coach)
    for age in (8, None):
        write_referral(referral=Referral(code, "harbour", age), now=NOW, by=coach)
    latest = latest_referral(code, seen_by=coach)
    assert latest is not None
    assert latest.age_years is None
    assert list(ReferralRow.objects.values_list("version", "age_years")) == [(1, 8), (2, None)]


def test_there_may_be_no_referral_yet(coach: Any) -> None:
    assert latest_referral(enter(coach), seen_by=coach) is None


def test_a_referral_of_another_site_or_an_unknown_code_is_refused(coach: Any) -> None:
    code = enter(coach)
    with pytest.raises(Refused, match=r'says "hillside", the trainee "harbour"'):
        write_referral(referral=Referral(code, "hillside", 8), now=NOW, by=coach)
    with pytest.raises(Refused, match="no such code"):
        write_referral(referral=Referral("HL-22222", "harbour", 8), now=NOW, by=coach)


def test_courses_follow_one_another_one_at_a_time(coach: Any) -> None:
    code = enter(coach)
    assert open_course(code=code, now=NOW, by=coach) == 1
    with pytest.raises(Refused, match="open already"):
        open_course(code=code, now=NOW, by=coach)
    close_course(code=code, why=WhyClosed.LOST, now=NOW, by=coach)
    with pytest.raises(Refused, match="none is open"):
        close_course(code=code, why=WhyClosed.LOST, now=NOW, by=coach)
    assert open_course(code=code, now=NOW, by=coach) == 2
    assert list_trainees(seen_by=coach)[0].n_courses == 2
    assert Course.objects.get(number=1).why_closed == "lost"


@pytest.mark.parametrize(
    "fields",
    [
        {"closed": NOW},
        {"closed": NOW, "closed_by": "staff:1"},
        {"closed_by": "staff:1"},
        {"why_closed": "lost"},
    ],
)
def test_the_database_refuses_a_course_closed_by_halves(fields: dict, coach: Any) -> None:
    code = enter(coach)
    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        act("x", by=Operator(), subject="x"),
    ):
        Course(trainee_id=code, number=1, opened=NOW, opened_by="staff:1", **fields).save()


def test_the_database_refuses_a_second_open_course(coach: Any) -> None:
    code = enter(coach)
    open_course(code=code, now=NOW, by=coach)
    with (
        pytest.raises(IntegrityError),
        transaction.atomic(),
        act("x", by=Operator(), subject="x"),
    ):
        Course(trainee_id=code, number=2, opened=NOW, opened_by="staff:1").save()


def test_a_trainee_with_a_referral_or_course_cannot_be_deleted(coach: Any) -> None:
    code = enter(coach)
    open_course(code=code, now=NOW, by=coach)
    with pytest.raises(ProtectedError), act("x", by=Operator(), subject="x"):
        Trainee.objects.get(code=code).delete()


def test_trainees_are_listed_without_names_for_those_who_may(
    coach: Any, analyst: Any, administrator: Any
) -> None:
    code = enter(coach, identity=WHO)
    lines = list_trainees(seen_by=analyst)
    assert [line.code for line in lines] == [code]
    assert "Inventia" not in repr(lines)
    with pytest.raises(NotPermitted):
        list_trainees(seen_by=administrator)


def test_rows_show_themselves_by_code(coach: Any) -> None:
    code = enter(coach)
    open_course(code=code, now=NOW, by=coach)
    write_referral(referral=Referral(code, "harbour", 8), now=NOW, by=coach)
    shown = [str(model.objects.get()) for model in (Trainee, Course, ReferralRow)]
    assert shown == [code, f"course 1 of {code}", f"referral 1 of {code}"]
