"""Pages of promises: the follow-up begins, a first dose is recorded, the programme looks back."""

import csv
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.practice.models import EstimateLock, FirstDoseRow

DOSE = {
    "seen_by": "staff",
    "position": "left",
    "kind": "tablet",
    "shape": "oval",
    "largest_mm": "12.5",
    "went_down": "first",
    "why_not": "",
    "rating": "4",
    "whole": "yes",
    "unchewed": "yes",
    "unaided": "",
}


@pytest.fixture
def at(cast: Any, course: Any) -> str:
    return f"/trainees/{cast.CODE}/courses/1"


@pytest.fixture(autouse=True)
def _day(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the day of the cast, an hour later."""
    from django.utils import timezone

    now = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)
    monkeypatch.setattr(timezone, "now", lambda: now)


def words_of(page: Any) -> str:
    return " ".join(page.content.decode().split())


# The lock on the page of a result


def test_on_the_way_nothing_is_fixed_and_the_follow_up_begins_by_hand(
    at: str, plan: Any, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    keep(cast.invent_nights(plan)[:9])
    browser = signed_in(coach)
    page = words_of(browser.get(f"{at}/result/"))
    assert "No follow-up has begun: these figures are as they stand on the way." in page
    assert not EstimateLock.objects.exists()
    page = words_of(browser.post(f"{at}/result/begin/", {"used": "left"}, follow=True))
    assert "Estimate 1 is fixed." in page
    assert "Fixed on 25 Nov 2026, before anybody knew how the first dose went" in page
    assert "Begin the follow-up" not in page
    assert EstimateLock.objects.get().locked_by == coach.audit_key


def test_when_all_nights_are_in_opening_the_result_fixes_it_first(
    at: str, plan: Any, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    keep(cast.invent_nights(plan))
    page = words_of(signed_in(coach).get(f"{at}/result/"))
    assert "Fixed on 25 Nov 2026, before anybody knew" in page
    assert EstimateLock.objects.count() == 1


def test_whoever_may_not_begin_a_follow_up_fixes_nothing_by_looking(
    at: str, plan: Any, keep: Any, cast: Any, analyst: Any, signed_in: Any
) -> None:
    keep(cast.invent_nights(plan))
    browser = signed_in(analyst)
    page = words_of(browser.get(f"{at}/result/"))
    assert "No follow-up has begun" in page
    assert "Begin the follow-up</button>" not in page
    assert browser.post(f"{at}/result/begin/", {}).status_code == 403
    assert not EstimateLock.objects.exists()


def test_a_correction_is_shown_and_fixed_beside(
    at: str, plan: Any, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    keep(cast.invent_nights(plan))
    browser = signed_in(coach)
    browser.get(f"{at}/result/")
    keep([cast.TypedNight(1, 1, (cast.TypedCell("1", "no"),) * 5, scale="5")])
    page = words_of(browser.get(f"{at}/result/"))
    assert "What the figures rest on has changed since" in page
    assert EstimateLock.objects.count() == 1
    page = words_of(browser.post(f"{at}/result/begin/", {}, follow=True))
    assert "It stands beside the first one" in page
    assert page.count("The figures of estimate") == 2


def test_a_position_that_is_not_in_the_plan_begins_nothing(
    at: str, coach: Any, signed_in: Any
) -> None:
    page = words_of(signed_in(coach).post(f"{at}/result/begin/", {"used": "x"}, follow=True))
    assert "Choose one of the positions" in page
    assert not EstimateLock.objects.exists()


def test_a_lock_that_was_changed_says_so(at: str, coach: Any, signed_in: Any) -> None:
    from sidelong.clinic.audit.acts import act

    browser = signed_in(coach)
    browser.post(f"{at}/result/begin/", {})
    with act("tampering", by=coach, subject="x"):
        row = EstimateLock.objects.get()
        EstimateLock.objects.update(content=row.content.replace("insufficient", "clear"))
    assert "It does not fit what was kept" in words_of(browser.get(f"{at}/result/"))


# The first dose


def test_a_first_dose_is_recorded_and_shown_beside_its_promise(
    at: str, plan: Any, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    keep(cast.invent_nights(plan))
    browser = signed_in(coach)
    browser.get(f"{at}/result/")
    assert "What was said beforehand" in words_of(browser.get(f"{at}/first-dose/"))
    sent = browser.post(f"{at}/first-dose/", DOSE | {"given_on": "2026-11-25"}, follow=True)
    page = words_of(sent)
    assert "The first dose is recorded." in page
    assert "25 Nov 2026: it went down at the first try" in page
    assert "Staff saw it: tablet, oval, 12.5 mm; whole, unchewed; felt 4, easy." in page
    assert "Estimate 1 had given it" in page
    row = FirstDoseRow.objects.get()
    assert (row.kept_by, row.unaided, row.rating) == (coach.audit_key, None, 4)


def test_what_is_fixed_after_a_first_dose_says_that_it_knew(
    at: str, plan: Any, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    from sidelong.clinic.practice.promise_actions import lock_estimate

    keep(cast.invent_nights(plan))
    browser = signed_in(coach)
    browser.get(f"{at}/result/")
    browser.post(f"{at}/first-dose/", DOSE | {"given_on": "2026-11-25"})
    keep([cast.TypedNight(1, 1, (cast.TypedCell("1", "no"),) * 5, scale="5")])
    lock_estimate(code=cast.CODE, course=1, now=cast.NOW + timedelta(hours=2), by=coach)
    page = words_of(browser.get(f"{at}/result/"))
    assert "after a first dose was recorded: nothing is laid against it" in page
    assert page.count("before anybody knew how the first dose went") == 1
    assert words_of(browser.get(f"{at}/first-dose/")).count("The figures of estimate") == 1


def test_faults_of_a_first_dose_stand_at_their_fields(at: str, coach: Any, signed_in: Any) -> None:
    browser = signed_in(coach)
    browser.post(f"{at}/result/begin/", {})
    wrong = DOSE | {"given_on": "2026-11-24", "why_not": "spat_out"}
    page = browser.post(f"{at}/first-dose/", wrong)
    assert set(page.context["form"].errors) == {"why_not"}
    page = browser.post(f"{at}/first-dose/", DOSE | {"given_on": "2026-11-24"})
    assert set(page.context["form"].errors) == {"given_on"}
    assert "lies before the day on which the first estimate was locked" in words_of(page)
    page = browser.post(f"{at}/first-dose/", {"given_on": "yesterday", "largest_mm": "900"})
    assert {"given_on", "largest_mm", "kind", "seen_by"} <= set(page.context["form"].errors)
    assert not FirstDoseRow.objects.exists()


def test_without_a_lock_the_page_leads_to_the_result(at: str, coach: Any, signed_in: Any) -> None:
    page = words_of(signed_in(coach).get(f"{at}/first-dose/"))
    assert "No estimate was fixed for this course." in page
    assert '<form method="post" action="' + f"{at}/first-dose/" not in page


def test_the_pharmacist_records_a_dose_and_the_analyst_does_not(
    at: str, make_staff: Any, analyst: Any, coach: Any, signed_in: Any
) -> None:
    signed_in(coach).post(f"{at}/result/begin/", {})
    assert signed_in(analyst).get(f"{at}/first-dose/").status_code == 403
    browser = signed_in(make_staff(Role.PHARMACIST))
    browser.post(f"{at}/first-dose/", DOSE | {"given_on": "2026-11-25"})
    assert FirstDoseRow.objects.count() == 1


def test_there_is_no_first_dose_of_a_course_that_is_not_there(coach: Any, signed_in: Any) -> None:
    assert signed_in(coach).get("/trainees/HL-99999/courses/1/first-dose/").status_code == 404


# The programme


def code_of(number: int) -> str:
    letters = "23456789"
    return f"HL-7K{letters[number // 64 % 8]}{letters[number // 8 % 8]}{letters[number % 8]}"


@pytest.fixture
def make_doses(cast: Any, coach: Any, db: None) -> Callable[..., None]:
    """Set down courses, each with a lock and a first dose."""
    from sidelong.clinic.practice.promise_actions import lock_estimate, record_first_dose
    from sidelong.training.entry import WentDown
    from sidelong.training.piece import Shape
    from sidelong.training.position import Position
    from sidelong.training.promise import DoseKind, FirstDose, SeenBy

    def make(n: int, *, n_first: int, seen_by: str = "staff", start: int = 0) -> None:
        for number in range(start, start + n):
            code = code_of(number)
            cast.set_down_course(code, index=number)
            lock_estimate(code=code, course=1, now=cast.NOW, by=coach)
            dose = FirstDose(
                trainee=code,
                course=1,
                given_on=cast.TODAY,
                position=Position.CENTRE,
                kind=DoseKind.TABLET,
                shape=Shape.DISC,
                largest_mm=8.0,
                seen_by=SeenBy(seen_by),
                went_down=WentDown.FIRST if number - start < n_first else WentDown.LATER,
            )
            record_first_dose(dose=dose, now=cast.NOW + timedelta(hours=1), by=coach)

    return make


def test_before_any_dose_the_page_says_what_is_missing(analyst: Any, signed_in: Any) -> None:
    page = words_of(signed_in(analyst).get("/promises/"))
    assert "No first dose that staff saw is recorded yet." in page
    assert "What this cannot say" in page
    assert '<svg class="panel calibration"' not in page


def test_few_doses_give_a_sentence_and_no_plot(
    make_doses: Any, analyst: Any, signed_in: Any
) -> None:
    make_doses(3, n_first=2)
    make_doses(1, n_first=0, seen_by="home", start=10)
    page = words_of(signed_in(analyst).get("/promises/"))
    assert "Of 3 doses, 2 went down first try." in page
    assert (
        "There is no plot yet. It is drawn from 20 doses on; 17 more are needed."
        in page.replace("<strong>", "").replace("</strong>", "")
    )
    assert "Of 1 dose, 0 went down first try." in page
    assert 'calibration"' not in page


def test_twenty_doses_give_a_plot_with_its_table(
    make_doses: Any, analyst: Any, signed_in: Any
) -> None:
    make_doses(20, n_first=15)
    response = signed_in(analyst).get("/promises/")
    page = words_of(response)
    assert "There is no plot yet" not in page
    assert '<svg class="panel calibration"' in page
    rows = response.context["picture"].rows
    assert sum(row.n for row in rows) == 20
    assert sum(row.n_happened for row in rows) == 15
    assert "The same as a table" in page


def test_the_command_says_the_same_of_the_same_doses(
    make_doses: Any,
    analyst: Any,
    signed_in: Any,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    from sidelong.cli.application import DONE, run
    from sidelong.clinic.practice.locks import to_dose, to_lock
    from sidelong.exchange.doses import write_doses
    from sidelong.exchange.promises import write_locks

    make_doses(20, n_first=15)
    make_doses(2, n_first=1, seen_by="home", start=20)
    locked, doses = tmp_path / "locked.csv", tmp_path / "doses.csv"
    write_locks(locked, [to_lock(row) for row in EstimateLock.objects.all()])
    write_doses(doses, [to_dose(row) for row in FirstDoseRow.objects.all()])
    words = ["--doses", str(doses), "--out", str(tmp_path / "out.csv"), "--today", "2026-11-25"]
    assert run(["promises", str(locked), *words]) == DONE
    told = capsys.readouterr().out
    shown = signed_in(analyst).get("/promises/").context
    assert f"Seen by staff: {shown['seen']}" in told
    assert f"Told by home: {shown['told']}" in told
    for finding in shown["findings"]:
        assert finding in told
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as stream:
        rows = [(int(row["doses"]), int(row["first_try"])) for row in csv.DictReader(stream)]
    assert rows == [(row.n, row.n_happened) for row in shown["picture"].rows]


def test_a_signed_medicine_step_waits_for_its_dose_by_code(
    course: Any, cast: Any, make_staff: Any, analyst: Any, signed_in: Any, make_doses: Any
) -> None:
    from sidelong.clinic.practice.actions import Decision, sign_result
    from sidelong.clinic.practice.answers import fingerprint_of
    from sidelong.clinic.practice.evidence import evidence_of

    sign_result(
        code=cast.CODE,
        course=1,
        seen=fingerprint_of(evidence_of(course)),
        decision=Decision.MEDICINE_STEP,
        position=None,
        now=cast.NOW,
        by=make_staff(Role.CLINICIAN),
    )
    browser = signed_in(analyst)
    page = words_of(browser.get("/promises/"))
    assert "1 course has a signed result; 1 of them has no first dose so far." in page
    assert cast.CODE in page
    assert "Record it" not in page
    lead = signed_in(make_staff(Role.LEAD))
    lead.post(f"/trainees/{cast.CODE}/courses/1/first-dose/", DOSE | {"given_on": "2026-11-25"})
    page = words_of(lead.get("/promises/"))
    assert cast.CODE not in page
    assert "1 course has a signed result; 0 of them have no first dose so far." in page


def test_later_evenings_in_the_suggested_position_are_counted(
    cast: Any, course: Any, plan: Any, keep: Any, coach: Any, analyst: Any, signed_in: Any
) -> None:
    """Only dated evenings after the lock count; sheets that came late were practised before."""
    from dataclasses import replace

    from sidelong.clinic.practice.actions import keep_nights
    from sidelong.clinic.practice.promise_actions import lock_estimate
    from sidelong.clinic.practice.typed import TypedCell, TypedNight
    from sidelong.training.position import Position

    best = Position.LEFT
    nights = [
        TypedNight(
            number,
            0,
            tuple(
                TypedCell("5", "first") if position is best else TypedCell("1", "later")
                for position in night.order
            ),
            felt_best=str(best),
            scale="5",
        )
        for number, night in enumerate(plan.nights, start=1)
    ]
    keep(nights[:10])
    lock_estimate(code=cast.CODE, course=1, now=cast.NOW, by=coach)
    dated = [
        replace(nights[10], evening="2026-11-24"),
        replace(nights[11], evening="2026-11-26"),
        replace(nights[12], evening="2026-11-27"),
        nights[13],
    ]
    later = cast.NOW + timedelta(days=3)
    keep_nights(code=cast.CODE, course=1, nights=dated, now=later, today=later.date(), by=coach)
    said = signed_in(analyst).get("/promises/").context["said"].later
    assert (said.n, said.n_first) == (2, 2)
