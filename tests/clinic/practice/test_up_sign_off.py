"""The sign-off without which ``up`` is never suggested: who, when, what for, and its way back."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.practice.actions import Decision, record_event, sign_result
from sidelong.clinic.practice.answers import fingerprint_of
from sidelong.clinic.practice.evidence import answer_now, evidence_of
from sidelong.clinic.practice.models import UpSignOff
from sidelong.clinic.practice.typed import TypedCell
from sidelong.clinic.practice.up_actions import sign_off_up, withdraw_up
from sidelong.problems import Refused
from sidelong.training.position import Position
from sidelong.training.safety import Tier

SPECIALIST = "swallowing specialist"
PASSWORD = "seven quiet harbour lamps"


@pytest.fixture
def up_is_best(course: Any, plan: Any, keep: Any, cast: Any) -> Any:
    """Fourteen nights on which nothing but up went down well."""
    nights = []
    for night in cast.invent_nights(plan):
        order = plan.nights[night.night - 1].order
        cells = tuple(
            TypedCell("5", "first") if position is Position.UP else TypedCell("1", "no")
            for position in order
        )
        nights.append(replace(night, cells=cells, felt_best="up"))
    keep(nights)
    return course


@pytest.fixture
def sign(clinician: Any, cast: Any) -> Callable[..., int]:
    def sign_off(**changed: Any) -> int:
        usual = {"code": cast.CODE, "course": 1, "role": SPECIALIST, "reason": "seen at the visit"}
        return sign_off_up(**usual | {"now": cast.NOW, "by": clinician} | changed)

    return sign_off


def suggested(course: Any) -> Position | None:
    return answer_now(evidence_of(course)).estimate.suggested


def test_up_is_suggested_only_after_a_specialist_has_signed(up_is_best: Any, sign: Any) -> None:
    assert suggested(up_is_best) is None
    sign()
    assert suggested(up_is_best) is Position.UP


def test_a_sign_off_can_be_taken_back_and_given_again(
    up_is_best: Any, sign: Any, clinician: Any, cast: Any
) -> None:
    sign()
    withdraw_up(code=cast.CODE, course=1, reason="a new sign", now=cast.NOW, by=clinician)
    assert suggested(up_is_best) is None
    with pytest.raises(Refused, match="nobody has signed off"):
        withdraw_up(code=cast.CODE, course=1, reason="again", now=cast.NOW, by=clinician)
    sign()
    assert suggested(up_is_best) is Position.UP


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"role": "paediatrician"}, "not signed as a swallowing specialist"),
        ({"reason": "  "}, "there is no reason"),
    ],
)
def test_a_sign_off_says_who_and_what_for(
    up_is_best: Any, sign: Any, changed: Any, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        sign(**changed)
    assert not UpSignOff.objects.exists()


def test_nothing_is_signed_off_that_the_plan_leaves_out(db: None, sign: Any, cast: Any) -> None:
    cast.set_down_course("HL-22222", positions=tuple(Position)[:3])
    with pytest.raises(Refused, match="not in the last version of the plan"):
        sign(code="HL-22222")


def test_a_safety_event_closes_up_whoever_signs(
    up_is_best: Any, sign: Any, coach: Any, cast: Any
) -> None:
    sign()
    told = {"night": 3, "tier": Tier.STOP_TONIGHT, "position": Position.UP}
    record_event(code=cast.CODE, course=1, **told, now=cast.NOW, by=coach)
    assert suggested(up_is_best) is not Position.UP
    with pytest.raises(Refused, match="had a safety event"):
        sign()


@pytest.mark.parametrize("column", ["reason", "role", "signed_by", "signed", "protocol"])
def test_a_changed_sign_off_does_not_count(
    column: str, up_is_best: Any, sign: Any, clinician: Any
) -> None:
    sign()
    with act("tampering", by=clinician, subject="x"):
        UpSignOff.objects.update(**{column: "changed"})
    assert suggested(up_is_best) is None


def test_the_trail_holds_the_act_and_not_the_reason(up_is_best: Any, sign: Any) -> None:
    sign(reason="a reason that stays in its table")
    row = AuditRow.objects.latest("number")
    assert "up signed off" in str(row.__dict__)
    assert "stays in its table" not in str(row.__dict__)


def test_a_signature_under_a_result_does_not_outlive_a_new_sign_off(
    up_is_best: Any, sign: Any, clinician: Any, cast: Any
) -> None:
    """What was signed rested on the sign-off as it was; the figures have changed since."""
    seen = fingerprint_of(evidence_of(up_is_best))
    sign()
    with pytest.raises(Refused, match="have changed since this page was loaded"):
        sign_result(
            code=cast.CODE,
            course=1,
            seen=seen,
            decision=Decision.SAME_PLAN,
            position=None,
            now=cast.NOW,
            by=clinician,
        )


def test_signing_in_the_browser_asks_for_profession_reason_and_password(
    up_is_best: Any, make_staff: Any, signed_in: Any, cast: Any
) -> None:
    specialist = make_staff(Role.CLINICIAN, username="specialist")
    specialist.set_password(PASSWORD)
    with act("password set", by=specialist, subject="x"):
        specialist.save()
    browser = signed_in(specialist)
    at = f"/trainees/{cast.CODE}/courses/1/result"
    assert "so it is not" in browser.get(f"{at}/").content.decode()
    form = {"reason": "seen at the visit", "specialist": "on", "password": PASSWORD}
    refused = browser.post(f"{at}/up/sign/", form | {"password": "wrong"}).content.decode()
    assert "It is not your password." in refused
    del form["specialist"]
    refused = browser.post(f"{at}/up/sign/", form).content.decode()
    assert "not signed as a swallowing specialist" in refused
    assert not UpSignOff.objects.exists()
    browser.post(f"{at}/up/sign/", form | {"specialist": "on"})
    page = browser.get(f"{at}/").content.decode()
    assert "Up may be suggested: signed by Specialist, swallowing specialist" in page
    assert page.count("seen at the visit") == 1
    assert '<option value="up">' in page
    browser.post(f"{at}/up/take-back/", {"reason": "a new sign", "password": PASSWORD})
    assert '<option value="up">' not in browser.get(f"{at}/").content.decode()


def test_others_see_who_signed_and_sign_nothing(
    up_is_best: Any, coach: Any, signed_in: Any, cast: Any
) -> None:
    browser = signed_in(coach)
    at = f"/trainees/{cast.CODE}/courses/1/result/up/"
    assert "Sign off up" not in browser.get(at).content.decode()
    assert browser.post(f"{at}sign/", {}).status_code == 403
    assert browser.post(f"{at}take-back/", {}).status_code == 403
