"""The clinic's own fit: whom it is learned from, when it counts, and what pages say of it."""

from datetime import timedelta

import pytest
from django.urls import reverse

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.practice.answers import fingerprint_of
from sidelong.clinic.practice.evidence import answer_now, evidence_of
from sidelong.clinic.practice.fit_actions import record_consent, refit
from sidelong.clinic.practice.fit_queries import fit_now
from sidelong.clinic.practice.fits import fit_of, key_in_use
from sidelong.clinic.practice.models import FitRow
from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.problems import Refused
from sidelong.training.consent import Consent


@pytest.fixture
def lead(make_staff):
    return make_staff(Role.LEAD)


@pytest.fixture
def codes(db, cast, keep):
    """Eleven trainees with seven nights each."""
    codes = [f"HL-F{who:02d}" for who in range(11)]
    for who, code in enumerate(codes):
        course = cast.set_down_course(code, index=who, n_nights=7)
        keep(cast.invent_nights(cast.plan_in(course), seed=who), code=code)
    return codes


@pytest.fixture
def say(cast, lead):
    def record(code, answer=Consent.YES):
        return record_consent(code=code, answer=answer, now=cast.NOW, by=lead)

    return record


def make(cast, lead, *, minutes=0):
    now = cast.NOW + timedelta(minutes=minutes)
    return refit(now=now, today=cast.TODAY, by=lead)


def test_a_new_clinic_rests_on_the_shipped_values_until_ten_consent(codes, say, cast, lead):
    for code in codes[:9]:
        say(code)
    choice = make(cast, lead)
    assert choice.fit is SHIPPED_FIT
    assert "there are 9" in choice.why
    assert key_in_use() == ""
    say(codes[9])
    say(codes[10], Consent.NO)
    choice = make(cast, lead)
    assert choice.fit.n_trainees == 10
    assert fit_of(key_in_use()) == choice.fit
    row = FitRow.objects.get()
    assert row.trainees == codes[:10]
    trail = AuditRow.objects.order_by("-number").first()
    assert (trail.verb, trail.actor) == ("cohort fitted", lead.audit_key)


def test_answers_rest_on_the_own_fit_and_say_so(codes, say, cast, lead):
    from sidelong.clinic.practice.nights import find_course

    course = find_course(codes[10], 1)
    before, mark = answer_now(evidence_of(course)), fingerprint_of(evidence_of(course))
    assert before.fit == SHIPPED_FIT.origin
    for code in codes[:10]:
        say(code)
    own = make(cast, lead).fit
    after = answer_now(evidence_of(course))
    assert after.fit == own.origin
    assert "fitted to 10 trainees on 2026-11-25" in after.made_by
    assert after.estimate != before.estimate
    assert fingerprint_of(evidence_of(course)) != mark


def test_a_withdrawal_puts_the_fit_out_of_use_at_once(codes, say, cast, lead):
    for code in codes[:10]:
        say(code)
    make(cast, lead)
    assert say(codes[10]) is False
    first = key_in_use()
    assert say(codes[0], Consent.NO) is True
    assert key_in_use() == ""
    assert fit_now(seen_by=lead).is_out_of_use
    choice = make(cast, lead, minutes=5)
    assert choice.fit.n_trainees == 10
    assert key_in_use() not in {"", first}
    assert codes[0] not in FitRow.objects.order_by("-pk").first().trainees


def test_consent_of_somebody_unknown_is_refused(db, say):
    with pytest.raises(Refused, match="there is none"):
        say("HL-NOONE")


def test_a_withdrawal_on_the_page_makes_a_new_fit(codes, say, lead, signed_in):
    client = signed_in(lead)
    for code in codes:
        say(code)
    told = client.post(reverse("make_fit"), follow=True).content.decode()
    assert "fitted to 11 trainees" in told
    answer = {"code": codes[3], "answer": "no"}
    told = client.post(reverse("record_consent"), answer, follow=True).content.decode()
    assert f"Kept for {codes[3]}: no." in told
    assert "Answers now rest on values fitted to 10 trainees" in told
    result = reverse("result", kwargs={"code": codes[5], "course": 1})
    assert "fitted to 10 trainees" in client.get(result).content.decode()


def test_a_coach_records_a_withdrawal_and_the_fit_waits_for_a_lead(
    codes, say, cast, lead, coach, signed_in
):
    for code in codes[:10]:
        say(code)
    make(cast, lead)
    client = signed_in(coach)
    answer = {"code": codes[3], "answer": "no"}
    told = client.post(reverse("record_consent"), answer, follow=True).content.decode()
    assert "out of use" in told
    assert "Learn from those who consent" not in told
    assert key_in_use() == ""


def test_a_signed_result_is_not_outdated_by_a_new_fit_alone(codes, say, cast, lead, clinician):
    from sidelong.clinic.practice.actions import Decision, sign_result
    from sidelong.clinic.practice.nights import find_course
    from sidelong.clinic.practice.queries import result_now

    course = find_course(codes[0], 1)
    sign_result(
        code=codes[0],
        course=1,
        seen=fingerprint_of(evidence_of(course)),
        decision=Decision.SAME_PLAN,
        position=None,
        now=cast.NOW,
        by=clinician,
    )
    for code in codes:
        say(code)
    make(cast, lead)
    (line,) = result_now(codes[0], 1, seen_by=lead).signed
    assert line.is_current
    assert line.holds


def test_the_page_lists_all_fits_and_whose_nights_are_in_the_one_in_use(
    codes, say, cast, lead, signed_in
):
    client = signed_in(lead)
    assert reverse("fit") in client.get(reverse("promises")).content.decode()
    for code in codes:
        say(code)
    make(cast, lead)
    say(codes[3], Consent.NO)
    own = make(cast, lead, minutes=5).fit
    make(cast, lead, minutes=9)
    now = client.get(reverse("fit")).context["now"]
    assert [(each.number, str(each.standing)) for each in now.lines] == [
        (3, "in use"),
        (2, "replaced"),
        (1, "out of use: consent was taken back"),
    ]
    assert [each.fit.n_trainees for each in now.lines] == [10, 10, 11]
    assert now.line.made_by == lead.display_name
    assert [each.code for each in now.consents if not each.is_counted] == [codes[3]]
    page = client.get(reverse("fit")).content.decode()
    assert own.fingerprint[:8] in page
    say(codes[4], Consent.NO)
    now = client.get(reverse("fit")).context["now"]
    assert now.line is None
    assert not any(each.is_counted for each in now.consents)
    assert len({str(each.standing) for each in now.lines}) == 1
