"""Numbers of booklets: every one of a course differs, and what is printed says which it is."""

from importlib import import_module
from typing import Any

import pytest
from django.apps import apps

from sidelong.clinic.audit.acts import act
from sidelong.clinic.trainees.models import BookletRow, PlanRow
from sidelong.clinic.trainees.plan_actions import hand_out_booklet
from sidelong.clinic.trainees.rows import plan_of
from sidelong.paper.night_sheets import plan_keys
from sidelong.paper.sheet import Paper
from sidelong.paper.typst import typeset as typeset_pdf
from sidelong.paper.version import Audience, Edition
from sidelong.problems import Refused


def fake_pdf(template: str, *, page: Any) -> bytes:
    return f"{template} {page['code']}".encode()


def print_one(code: str, coach: Any, cast: Any, **wishes: Any) -> BookletRow:
    wishes = {"paper": Paper.A4, "language": "en", "typeset": fake_pdf} | wishes
    hand_out_booklet(code=code, now=cast.NOW, by=coach, **wishes)
    return BookletRow.objects.last()


def test_every_booklet_of_a_course_has_numbers_of_its_own(
    planned: str, coach: Any, cast: Any
) -> None:
    rows = [print_one(planned, coach, cast) for _ in range(3)]
    assert [row.number for row in rows] == [1, 2, 3]
    assert len({key for row in rows for key in (row.key, row.second_key)}) == 6
    (plan,) = (plan_of(row.plan) for row in rows[:1])
    assert (rows[0].key, rows[0].second_key) == plan_keys([plan])[0], "as the command prints it"


def test_a_number_that_another_trainee_has_is_passed_over(
    planned: str, coach: Any, clinician: Any, cast: Any
) -> None:
    first = print_one(planned, coach, cast)
    other = cast.refer(coach, nth=3)
    cast.clear(other, clinician)
    cast.visit(other, coach)
    cast.issue(other, coach)
    wanted = plan_keys([plan_of(PlanRow.objects.get(course__trainee=other))])[0]
    with act("number taken", by=coach, subject="installation"):
        BookletRow.objects.filter(pk=first.pk).update(key=wanted[0], second_key=wanted[1])
    row = print_one(other, coach, cast)
    assert {row.key, row.second_key}.isdisjoint(wanted)


def test_a_booklet_printed_again_says_so_and_the_first_does_not(
    planned: str, coach: Any, cast: Any
) -> None:
    said: list[Any] = []

    def listen(template: str, *, page: Any) -> bytes:
        said.append((page["cover"]["made"], page["sheets"][-1]["items"]))
        return fake_pdf(template, page=page)

    for _ in range(2):
        print_one(planned, coach, cast, typeset=listen)
    assert "Printed again" not in said[0][0]
    assert {"Booklet 2 of this course", "Printed again"} <= set(said[1][0])
    assert any("-B2-SPARE" in item.get("text", "") for item in said[1][1])


def test_two_booklets_at_one_moment_never_get_the_same_number(
    planned: str, coach: Any, cast: Any
) -> None:
    def slow(template: str, *, page: Any) -> bytes:
        if not BookletRow.objects.exists():  # a colleague is faster
            print_one(planned, coach, cast)
        return fake_pdf(template, page=page)

    with pytest.raises(Refused, match="at the same time"):
        print_one(planned, coach, cast, typeset=slow)
    assert BookletRow.objects.count() == 1


def test_for_whom_and_how_large_is_kept(planned: str, coach: Any, cast: Any) -> None:
    row = print_one(
        planned, coach, cast, typeset=typeset_pdf, audience=Audience.ADULT, edition=Edition.LARGE
    )
    assert (row.audience, row.edition) == ("adult", "large")


def test_booklets_from_before_get_the_numbers_that_they_were_printed_with(
    planned: str, coach: Any, cast: Any
) -> None:
    for _ in range(2):
        print_one(planned, coach, cast)
    before = {"number": 1, "printed_number": 9, "key": 0, "second_key": 0}
    migration = import_module("sidelong.clinic.trainees.migrations.0003_booklets")
    with act("as it was", by=coach, subject="installation"):
        BookletRow.objects.update(**before)
        migration.number_booklets(apps, None)
    rows = BookletRow.objects.all()
    assert [(row.number, row.printed_number) for row in rows] == [(1, 1), (2, 1)]
    assert {(row.key, row.second_key) for row in rows} == {plan_keys([plan_of(rows[0].plan)])[0]}
