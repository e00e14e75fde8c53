"""Nights: kept as typed, in versions, never over somebody else's."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.locks import OutsideActError
from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.practice.models import NightEntry, NightRow
from sidelong.clinic.practice.nights import known_nights
from sidelong.clinic.practice.typed import TypedCell, TypedNight
from sidelong.problems import Refused
from sidelong.training.entry import RatedBy, Scale, WentDown, WhyNot
from sidelong.training.position import Position


def typed(night: int = 1, base: int = 0, **more: Any) -> TypedNight:
    cells = more.pop("cells", (TypedCell("4", "first"),) + (TypedCell(),) * 4)
    return TypedNight(night=night, base=base, cells=cells, scale="5", **more)


def test_a_night_is_kept_as_it_was_typed_and_blanks_stay_blank(course: Any, keep: Any) -> None:
    cells = (
        TypedCell("4", "first"),
        TypedCell("", "no", "spat_out"),
        TypedCell(),
        TypedCell("2"),
        TypedCell("", "later"),
    )
    kept = keep([typed(cells=cells, evening="2026-11-03", written="next_day")])
    evening = known_nights(course).nights[1].evening
    assert kept.versions == {1: 1}
    assert [(row.slot, row.rating, row.went_down, row.why_not) for row in evening.entry.rows] == [
        (1, 4, WentDown.FIRST, None),
        (2, None, WentDown.NO, WhyNot.SPAT_OUT),
        (4, 2, None, None),
        (5, None, WentDown.LATER, None),
    ]
    assert evening.evening == date(2026, 11, 3)
    assert evening.entry.felt_best is None
    assert not evening.entry.all_the_same


def test_positions_and_pieces_are_those_of_the_plan(course: Any, plan: Any, keep: Any) -> None:
    keep([typed(night=3, cells=(TypedCell("3"),) * 5)])
    rows = known_nights(course).nights[3].evening.entry.rows
    assert tuple(row.position for row in rows) == plan.nights[2].order
    assert {row.piece_mm for row in rows} == {plan.nights[2].piece_mm}


def test_every_change_is_a_new_version_beside_the_old(course: Any, keep: Any, coach: Any) -> None:
    keep([typed()])
    keep([typed(base=1, cells=(TypedCell("5", "first"),) + (TypedCell(),) * 4)])
    entries = NightEntry.objects.filter(course=course).order_by("version")
    assert [(each.version, each.rows.get().rating) for each in entries] == [(1, 4), (2, 5)]
    assert {each.kept_by for each in entries} == {coach.audit_key}
    assert known_nights(course).nights[1].evening.entry.rows[0].rating == 5


def test_a_night_can_be_cleared_and_its_past_stays(course: Any, keep: Any) -> None:
    keep([typed()])
    kept = keep([typed(base=1, cells=(TypedCell(),) * 5)])
    assert kept.versions == {1: 2}
    assert known_nights(course).nights[1].evening.is_blank
    assert NightRow.objects.filter(entry__course=course).count() == 1


def test_sending_twice_changes_nothing_and_leaves_no_second_act(course: Any, keep: Any) -> None:
    keep([typed()])
    n_acts = AuditRow.objects.count()
    again = keep([typed()])  # the first answer was lost on its way
    assert again.versions == {1: 1}
    assert again.clashes == ()
    assert AuditRow.objects.count() == n_acts
    assert NightEntry.objects.filter(course=course).count() == 1


def test_a_night_that_somebody_else_changed_is_left_alone(
    course: Any, keep: Any, make_staff: Any
) -> None:
    keep([typed()])
    other = make_staff(Role.LEAD)
    keep([typed(base=1, cells=(TypedCell("2"),) * 5)], by=other)
    kept = keep([typed(base=1, cells=(TypedCell("5"),) * 5), typed(night=2)])
    assert [clash.night for clash in kept.clashes] == [1]
    assert kept.clashes[0].theirs.base == 2
    assert kept.clashes[0].theirs.cells == (TypedCell("2"),) * 5
    assert kept.versions == {2: 1}, "the other night is kept"
    assert known_nights(course).nights[1].evening.entry.rows[0].rating == 2


def test_a_faulty_night_keeps_no_other_from_being_kept(course: Any, keep: Any) -> None:
    kept = keep([typed(cells=(TypedCell("7"),) * 5), typed(night=2)])
    assert kept.versions == {2: 1}
    assert [(each.night, each.slot, each.column) for each in kept.faults] == [
        (1, slot, "rating") for slot in range(1, 6)
    ]


def test_a_favourite_alone_is_kept_with_the_position_it_names(
    course: Any, plan: Any, keep: Any
) -> None:
    best = plan.nights[0].order[2]
    keep([typed(cells=(TypedCell(),) * 5, felt_best=str(best))])
    entry = known_nights(course).nights[1].evening.entry
    assert entry.felt_best is best
    assert [(row.position, row.rating, row.went_down) for row in entry.rows] == [(best, None, None)]


def test_a_night_without_practice_keeps_its_reason(course: Any, keep: Any) -> None:
    keep([typed(cells=(TypedCell(),) * 5, not_done="ill")])
    evening = known_nights(course).nights[1].evening
    assert (evening.not_done, evening.entry.rows) == ("ill", ())


def test_a_supporters_record_says_so(db: None, cast: Any, keep: Any) -> None:
    course = cast.set_down_course("HL-22222", scale=None)
    blank = known_nights(course).typed(1)
    assert blank.rated_by == RatedBy.SUPPORTER
    keep([replace(blank, cells=(TypedCell("4"),) * 5)], code="HL-22222")
    rows = known_nights(course).nights[1].evening.entry.rows
    assert {row.rated_by for row in rows} == {RatedBy.SUPPORTER}


def test_what_is_kept_comes_back_as_it_would_be_typed(
    course: Any, plan: Any, keep: Any, cast: Any
) -> None:
    nights = cast.invent_nights(plan, is_patchy=True)
    keep(nights)
    known = known_nights(course)
    for night in nights:
        assert known.typed(night.night) == replace(night, base=known.version(night.night))


def test_the_form_of_the_rating_is_the_one_of_the_course(cast: Any, db: None) -> None:
    course = cast.set_down_course("HL-33333", scale=Scale.FOUR, positions=tuple(Position)[:3])
    blank = known_nights(course).typed(2)
    assert (blank.scale, len(blank.cells)) == ("4", 3)


def test_rows_are_added_and_never_changed(course: Any, keep: Any, coach: Any) -> None:
    from sidelong.clinic.audit.acts import act

    keep([typed()])
    entry = NightEntry.objects.get()
    with (
        pytest.raises(OutsideActError, match="never changed"),
        act("tampering", by=coach, subject="x"),
    ):
        entry.save()


def test_an_unknown_course_is_refused(db: None, keep: Any) -> None:
    with pytest.raises(Refused, match="there is none"):
        keep([typed()])
