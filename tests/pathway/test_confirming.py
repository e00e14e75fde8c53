from dataclasses import replace
from datetime import UTC, datetime

import pytest

from sidelong.pathway.readings import Confirmed, KnownPage, confirm, find_misplaced
from sidelong.training.correction import Correction
from sidelong.training.entry import Source, WentDown, WhyNot, Written
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position
from sidelong.training.reading import FieldReading, ImageReading, PageReading, PageStatus

ORDER = (Position.RIGHT, Position.DOWN, Position.CENTRE)
PLAN = Plan("HL-0007", (Night(ORDER, 5.0, "S5"), Night(ORDER[::-1], 5.0, "S5")))
PAGES = {
    "HL-0007-01": KnownPage(PLAN, 1),
    "HL-0007-02": KnownPage(PLAN, 2),
    "HL-0007-SPARE": KnownPage(PLAN, None),
}
FIELDS = ("skipped", *(f"p{s}.{q}" for s in (1, 2, 3) for q in ("rating", "went_down", "why_not")))
FIELDS += ("felt_best", "written")


def sheet(
    page_id: str = "HL-0007-01",
    *,
    image: str = "a.jpg",
    status: PageStatus = PageStatus.OK,
    review: tuple[str, ...] = (),
    **marked: str,
) -> ImageReading:
    """One image of a sheet on which only what is named is marked; dots are double underscores."""
    values = {name.replace("__", "."): value for name, value in marked.items()}
    is_ok = status is PageStatus.OK
    fields = {
        name: FieldReading(values.get(name, ""), 0.99, accepted=is_ok and name not in review)
        for name in FIELDS
    }
    return ImageReading(image, (PageReading(page_id, status, 0.9, fields),))


def say(field: str, value: str, *, image: str = "a.jpg", page: str = "HL-0007-01", minute: int = 0):
    when = datetime(2026, 11, 25, 9, minute, tzinfo=UTC)
    return Correction(image, page, field, value, "C-01", when)


def whole(*images: ImageReading, said: tuple[Correction, ...] = ()) -> Confirmed:
    return confirm(images, said, pages=PAGES)


GOOD = {"p1__rating": "4", "p1__went_down": "first", "p2__went_down": "no", "p2__why_not": "melted"}


def test_an_accepted_sheet_becomes_an_entry_in_the_planned_positions() -> None:
    [entry] = whole(sheet(**GOOD, felt_best="right", written="next_day")).entries
    assert [(row.slot, row.position) for row in entry.rows] == [
        (1, Position.RIGHT),
        (2, Position.DOWN),
    ]
    assert (entry.rows[0].rating, entry.rows[0].went_down) == (4, WentDown.FIRST)
    assert entry.rows[1].why_not is WhyNot.MELTED
    assert (entry.rows[0].piece_mm, entry.rows[0].piece) == (5.0, "S5")
    assert (entry.felt_best, entry.written, entry.source) == (
        Position.RIGHT,
        Written.NEXT_DAY,
        Source.SHEET,
    )


def test_all_the_same_is_an_answer_and_no_favourite() -> None:
    [entry] = whole(sheet(**GOOD, felt_best="same")).entries
    assert entry.all_the_same
    assert entry.felt_best is None


def test_one_field_for_review_keeps_the_whole_night_out_and_is_listed() -> None:
    made = whole(sheet(**GOOD, review=("p3.rating", "felt_best")))
    assert made.entries == ()
    assert {problem.where.split(", ")[-1] for problem in made.waiting} == {"p3.rating", "felt_best"}
    assert {each.outcome for each in made.confirmations} == {"left_out"}


def test_a_person_lets_the_night_in_and_stays_on_record() -> None:
    said = (say("p3.rating", "5"), say("date", "2026-11-20"))
    made = whole(sheet(**GOOD, review=("p3.rating",)), said=said)
    [entry] = made.entries
    assert entry.rows[2].rating == 5
    by_field = {each.field: each for each in made.confirmations}
    assert (by_field["p3.rating"].value, by_field["p3.rating"].outcome) == ("5", "entered")
    assert by_field["p3.rating"].read == FieldReading("", 0.99, accepted=False)
    assert by_field["p3.rating"].correction is said[0]
    assert (by_field["date"].value, by_field["date"].outcome) == ("2026-11-20", "kept")


def test_a_person_overrules_what_was_accepted_and_the_later_word_counts() -> None:
    said = (say("p1.rating", "1", minute=5), say("p1.rating", "2", minute=1))
    [entry] = whole(sheet(**GOOD), said=said).entries
    assert entry.rows[0].rating == 1


def test_a_second_photograph_is_compared_and_not_added() -> None:
    again = sheet(**GOOD, image="b.jpg", review=("p3.rating",))
    made = whole(sheet(**GOOD), again)
    assert len(made.entries) == 1
    assert made.waiting == ()


def test_two_photographs_that_disagree_wait_for_a_person() -> None:
    other = sheet(**(GOOD | {"p1__rating": "5"}), image="b.jpg")
    made = whole(sheet(**GOOD), other)
    assert made.entries == ()
    [problem] = made.waiting
    assert "p1.rating" in problem.where
    assert "a.jpg and b.jpg" in problem.what
    [entry] = whole(sheet(**GOOD), other, said=(say("p1.rating", "5", image="b.jpg"),)).entries
    assert entry.rows[0].rating == 5


@pytest.mark.parametrize(
    ("marked", "field"),
    [
        ({"skipped": "1"}, "skipped"),
        ({"felt_best": "centre"}, "felt_best"),
    ],
)
def test_answers_that_contradict_one_another_wait(marked: dict[str, str], field: str) -> None:
    made = whole(sheet(**GOOD, **marked))
    assert made.entries == ()
    assert [problem.where.split(", ")[-1] for problem in made.waiting] == [field]


def test_a_mistyped_answer_of_a_person_waits() -> None:
    made = whole(sheet(**GOOD), said=(say("p1.rating", "7"),))
    assert made.entries == ()
    assert "p1.rating" in made.waiting[0].where


def test_a_night_that_was_not_practised_has_no_rows_and_nothing_waits() -> None:
    made = whole(sheet(skipped="1"))
    assert (made.entries, made.waiting) == ((), ())
    assert {each.outcome for each in made.confirmations} == {"entered"}


def test_an_unsure_page_waits_until_a_person_names_it_and_every_field() -> None:
    unsure = sheet(**GOOD, status=PageStatus.UNSURE_ID)
    assert "@page" in whole(unsure).waiting[0].where
    named = (say("@page", "HL-0007-02"),)
    assert len(whole(unsure, said=named).waiting) == len(FIELDS)
    fields = tuple(say(name, unsure.pages[0].fields[name].value) for name in FIELDS)
    [entry] = whole(unsure, said=named + fields).entries
    assert entry.night == 2
    assert entry.rows[0].position is ORDER[::-1][0]


def test_what_a_spare_sheet_says_counts_in_the_order_that_is_printed_on_it() -> None:
    pages = PAGES | {"HL-0007-SPARE": KnownPage(PLAN, None, order=ORDER)}
    spare = sheet("HL-0007-SPARE", **GOOD, felt_best="right")
    said = (say("night", "2", page="HL-0007-SPARE"),)
    [entry] = confirm([spare], said, pages=pages).entries
    assert [(row.slot, row.position) for row in entry.rows] == [
        (1, Position.RIGHT),
        (2, Position.DOWN),
    ]
    assert entry.night == 2
    assert PLAN.nights[1].order != ORDER


@pytest.mark.parametrize(("page_id", "night"), [("HL-0007-01", 1), ("HL-0007-SPARE", None)])
def test_a_sheet_that_was_printed_from_another_plan_waits(page_id: str, night: int | None) -> None:
    other = (Position.CENTRE, Position.RIGHT, Position.DOWN)
    said = (say("night", "2", page=page_id),)
    for order, n_entries in ((other, 0), (ORDER, 1)):
        pages = PAGES | {page_id: KnownPage(PLAN, night, order=order)}
        made = confirm([sheet(page_id, **GOOD)], said, pages=pages)
        assert len(made.entries) == n_entries
        told = [str(problem) for problem in made.waiting]
        assert any("the order printed on it is not that of the plan" in each for each in told) is (
            order == other
        )


def test_a_night_on_two_sheets_with_two_orders_waits() -> None:
    pages = PAGES | {"HL-0007-SPARE": KnownPage(PLAN, None, order=ORDER)}
    own, spare = sheet("HL-0007-02", **GOOD), sheet("HL-0007-SPARE", image="b.jpg", **GOOD)
    said = (say("night", "2", image="b.jpg", page="HL-0007-SPARE"),)
    made = confirm([own, spare], said, pages=pages)
    assert made.entries == ()
    assert "in two orders" in str(made.waiting[0])
    left_out = say("@page", "none", image="b.jpg", page="HL-0007-SPARE")
    [entry] = confirm([own, spare], (*said, left_out), pages=pages).entries
    assert entry.rows[0].position is ORDER[::-1][0]


def test_a_spare_sheet_needs_its_night() -> None:
    spare = sheet("HL-0007-SPARE", **GOOD)
    made = whole(spare)
    assert made.entries == ()
    assert made.waiting[0].where.endswith("night")
    [entry] = whole(spare, said=(say("night", "2", page="HL-0007-SPARE"),)).entries
    assert entry.night == 2


def test_half_of_a_night_of_two_pages_is_not_taken_for_blank() -> None:
    halves = {
        "HL-0007-01-1": replace(PAGES["HL-0007-01"], part=1),
        "HL-0007-01-2": replace(PAGES["HL-0007-01"], part=2),
    }
    first, second = (sheet(page, image=f"{page}.jpg", **GOOD) for page in halves)
    made = confirm([first], (), pages=halves)
    assert made.entries == ()
    assert "two pages" in made.waiting[0].what
    assert len(confirm([first, second], (), pages=halves).entries) == 1


def test_an_image_without_a_sheet_says_what_to_do() -> None:
    made = whole(ImageReading("cat.jpg"))
    assert (made.waiting[0].where, made.entries) == ("cat.jpg", ())


def test_corrections_of_what_was_never_read_are_found() -> None:
    read = [sheet(**GOOD)]
    said = [
        say("p1.rating", "3"),
        say("date", "2026-11-20"),
        say("p9.rating", "3"),
        say("p1.rating", "3", image="z.jpg"),
        say("p1.rating", "3", page="HL-0007-09"),
    ]
    assert [each for each, _ in find_misplaced(read, said)] == said[2:]
