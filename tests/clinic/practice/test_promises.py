"""Estimates are locked before anybody knows, and first doses laid against them."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from sidelong.clinic.practice.locks import answer_of, lock_holds, to_dose, to_lock
from sidelong.clinic.practice.models import EstimateLock, FirstDoseRow
from sidelong.clinic.practice.promise_actions import lock_estimate, record_first_dose
from sidelong.problems import Refused
from sidelong.training.entry import WentDown, WhyNot
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, SeenBy

SOON = timedelta(days=1)


@pytest.fixture
def lock(course: Any, cast: Any, coach: Any) -> Callable[..., int]:
    def lock_now(*, later: timedelta = timedelta(0), used: Position | None = None) -> int:
        return lock_estimate(code=cast.CODE, course=1, used=used, now=cast.NOW + later, by=coach)

    return lock_now


@pytest.fixture
def dose(cast: Any) -> FirstDose:
    return FirstDose(
        trainee=cast.CODE,
        course=1,
        given_on=cast.TODAY,
        position=Position.LEFT,
        kind=DoseKind.CAPSULE,
        shape=Shape.CAPSULE,
        largest_mm=15.9,
        seen_by=SeenBy.STAFF,
        went_down=WentDown.FIRST,
        rating=4,
        whole=True,
        unchewed=True,
        unaided=None,
    )


@pytest.fixture
def record(cast: Any, coach: Any) -> Callable[..., int]:
    def record_now(dose: FirstDose, *, later: timedelta = SOON) -> int:
        return record_first_dose(dose=dose, now=cast.NOW + later, by=coach)

    return record_now


def correct(cast: Any, keep: Any, *, night: int = 1, base: int = 1) -> None:
    keep([cast.TypedNight(night, base, (cast.TypedCell("1", "no"),) * 5, scale="5")])


def sign(cast: Any, clinician: Any, *, later: timedelta) -> None:
    from sidelong.clinic.practice.actions import Decision, sign_result
    from sidelong.clinic.practice.answers import fingerprint_of
    from sidelong.clinic.practice.evidence import evidence_of
    from sidelong.clinic.practice.nights import find_course

    sign_result(
        code=cast.CODE,
        course=1,
        seen=fingerprint_of(evidence_of(find_course(cast.CODE, 1))),
        decision=Decision.SAME_PLAN,
        position=None,
        now=cast.NOW + later,
        by=clinician,
    )


# The lock


def test_a_lock_holds_what_the_table_of_estimates_says(
    lock: Any, plan: Any, keep: Any, cast: Any, coach: Any
) -> None:
    from sidelong.clinic.practice.queries import result_now

    keep(cast.invent_nights(plan))
    assert lock(used=Position.LEFT) == 1
    row = EstimateLock.objects.get()
    value, now = to_lock(row), result_now(cast.CODE, 1, seen_by=coach)
    assert value.positions == now.answer.estimate.positions
    assert (value.verdict, value.suggested) == (
        now.answer.estimate.verdict,
        now.answer.estimate.suggested,
    )
    assert (value.evidence, value.program) == (now.fingerprint, now.answer.program)
    assert (value.used, value.follow_up, value.version) == (Position.LEFT, 1, 1)
    assert value.fit.name == now.answer.fit
    assert len(value.fit.fingerprint) == 64
    assert answer_of(row) == now.answer
    assert lock_holds(row)


def test_a_lock_marks_the_clinics_own_fit_by_its_values(
    lock: Any, plan: Any, keep: Any, cast: Any, coach: Any
) -> None:
    """A new fit makes a new estimate beside the first one, which keeps its own mark."""
    from sidelong.clinic.audit.acts import act
    from sidelong.clinic.practice.fits import key_of
    from sidelong.clinic.practice.models import FitRow
    from sidelong.exchange.fits import SHIPPED_FIT, StoredFit, format_fit
    from sidelong.exchange.promises import mark_fit
    from sidelong.preferences import DEFAULT

    keep(cast.invent_nights(plan))
    lock()
    own = StoredFit(
        replace(DEFAULT, spread_sd=1.2),
        origin="fitted to 12 invented trainees",
        fingerprint="c" * 64,
        n_trainees=12,
        program="0.1.0",
        made_on=cast.TODAY,
    )
    with act("cohort fitted", by=coach, subject="cohort"):
        FitRow(
            key=key_of(own, made=cast.NOW),
            content=format_fit(own),
            trainees=[],
            made=cast.NOW,
            made_by=coach.audit_key,
        ).save()
    lock(later=SOON)
    one, two = map(to_lock, EstimateLock.objects.order_by("number"))
    assert (one.fit, two.fit) == (mark_fit(SHIPPED_FIT), mark_fit(own))
    assert (two.fit.name, two.fit.program) == (own.origin, "0.1.0")
    assert one.positions != two.positions
    assert (one.follow_up, two.follow_up) == (1, 1)


def test_locking_again_over_the_same_nights_writes_nothing(
    lock: Any, plan: Any, keep: Any, cast: Any
) -> None:
    from sidelong.clinic.audit.models import AuditRow

    keep(cast.invent_nights(plan))
    lock()
    before, n_rows = EstimateLock.objects.get().digest, AuditRow.objects.count()
    assert lock(later=SOON, used=Position.UP) == 1
    assert EstimateLock.objects.get().digest == before
    assert AuditRow.objects.count() == n_rows


def test_a_correction_makes_a_new_estimate_beside_the_first_one(
    lock: Any, plan: Any, keep: Any, cast: Any
) -> None:
    keep(cast.invent_nights(plan))
    lock()
    first = EstimateLock.objects.get()
    correct(cast, keep)
    assert lock(later=SOON) == 2
    one, two = EstimateLock.objects.order_by("number")
    assert (one.lock, one.content, one.digest) == (first.lock, first.content, first.digest)
    assert (one.follow_up, two.follow_up) == (1, 1)
    assert to_lock(one).positions != to_lock(two).positions


def test_new_nights_after_a_signature_begin_a_new_follow_up(
    lock: Any, plan: Any, keep: Any, cast: Any, clinician: Any
) -> None:
    nights = cast.invent_nights(plan)
    keep(nights[:7])
    lock()
    sign(cast, clinician, later=timedelta(hours=1))
    correct(cast, keep)
    assert lock(later=SOON) == 2
    keep(nights[7:])
    assert lock(later=2 * SOON) == 3
    assert [row.follow_up for row in EstimateLock.objects.order_by("number")] == [1, 1, 2]


def test_signing_locks_at_the_latest(plan: Any, keep: Any, cast: Any, clinician: Any) -> None:
    keep(cast.invent_nights(plan))
    sign(cast, clinician, later=timedelta(0))
    assert EstimateLock.objects.get().locked_by == clinician.audit_key
    sign(cast, clinician, later=SOON)
    assert EstimateLock.objects.count() == 1


@pytest.mark.parametrize("column", ["lock", "content", "evidence", "locked", "locked_by"])
def test_a_lock_that_was_changed_does_not_hold(column: str, lock: Any, cast: Any) -> None:
    from sidelong.clinic.audit.acts import act
    from sidelong.clinic.audit.locks import OutsideActError

    lock()
    row = EstimateLock.objects.get()
    with pytest.raises(OutsideActError):
        row.save()
    other = {
        "lock": row.lock.replace("insufficient", "clear"),
        "content": row.content.replace("insufficient", "clear"),
        "evidence": "f" * 64,
        "locked": cast.NOW - SOON,
        "locked_by": "staff:99",
    }
    with act("tampering", by=type("Nobody", (), {"audit_key": "x"})(), subject="x"):
        EstimateLock.objects.update(**{column: other[column]})
    assert not lock_holds(EstimateLock.objects.get())


# The first dose


def test_a_first_dose_is_kept_as_it_was_told(lock: Any, record: Any, dose: FirstDose) -> None:
    lock()
    failed = replace(
        dose, went_down=WentDown.NO, why_not=WhyNot.SPAT_OUT, whole=None, position=None
    )
    assert (record(dose), record(failed)) == (1, 2)
    one, two = FirstDoseRow.objects.order_by("version")
    assert (to_dose(one), to_dose(two)) == (dose, failed)
    assert one.lock == two.lock


def test_a_first_dose_without_a_lock_is_refused(course: Any, record: Any, dose: FirstDose) -> None:
    with pytest.raises(Refused, match="Begin the follow-up first"):
        record(dose)
    assert not FirstDoseRow.objects.exists()


def test_a_first_dose_is_not_dated_before_its_lock_or_in_the_future(
    lock: Any, record: Any, dose: FirstDose, cast: Any
) -> None:
    lock()
    with pytest.raises(Refused, match="lies before the day"):
        record(replace(dose, given_on=cast.TODAY - SOON))
    with pytest.raises(Refused, match="lies in the future"):
        record(replace(dose, given_on=cast.TODAY + 2 * SOON))
    assert not FirstDoseRow.objects.exists()


def test_a_corrected_estimate_is_never_the_promise(
    lock: Any, record: Any, dose: FirstDose, plan: Any, keep: Any, cast: Any
) -> None:
    keep(cast.invent_nights(plan))
    lock()
    correct(cast, keep)
    lock(later=timedelta(hours=1))
    record(dose)
    assert FirstDoseRow.objects.get().lock.number == 1


def test_what_is_locked_after_a_dose_was_recorded_is_no_promise(
    lock: Any,
    record: Any,
    dose: FirstDose,
    plan: Any,
    keep: Any,
    cast: Any,
    clinician: Any,
) -> None:
    nights = cast.invent_nights(plan)
    keep(nights[:7])
    lock()
    sign(cast, clinician, later=timedelta(hours=1))
    record(dose, later=timedelta(hours=2))
    keep(nights[7:])
    lock(later=timedelta(hours=3))
    assert EstimateLock.objects.order_by("number").last().follow_up == 2
    record(replace(dose, rating=5), later=SOON)
    assert {row.lock.number for row in FirstDoseRow.objects.all()} == {1}


def test_the_day_of_the_lock_is_the_sites_day(
    lock: Any, record: Any, dose: FirstDose, cast: Any, settings: Any
) -> None:
    """Late in the evening UTC it is the next day further east."""
    from django.utils import timezone

    lock(later=timedelta(hours=13))
    with timezone.override("Pacific/Auckland"):
        with pytest.raises(Refused, match="lies before the day"):
            record(replace(dose, given_on=date(2026, 11, 25)))
        assert record(replace(dose, given_on=date(2026, 11, 26))) == 1
