import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.paper.language import read_language
from sidelong.pathway import backfill
from sidelong.pathway.backfill import (
    USUAL_RULES,
    BackfillFinding,
    BackfillRules,
    BackfillSign,
    PieceCount,
    compare_without,
    find_backfill,
)
from sidelong.pathway.backfill_words import say_finding, say_sensitivity
from sidelong.pathway.estimates import PractisedCourse, estimate_courses
from sidelong.training.entry import Entry, EntryRow, Scale, WentDown, WhyNot, Written
from sidelong.training.position import Position

ENGLISH = read_language("en")
LISTED = tuple(Position)
MONDAY = datetime(2026, 3, 2, 19, 0, tzinfo=UTC)


def night(number: int, by_slot: list[int], *, favourite: int = 0, **more: object) -> Entry:
    """Make a night whose positions have moved on by one place since the night before."""
    order = [LISTED[(number + slot) % 5] for slot in range(len(by_slot))]
    rows = tuple(
        EntryRow(slot + 1, position, rating=rating, went_down=WentDown.FIRST)
        for slot, (position, rating) in enumerate(zip(order, by_slot, strict=True))
    )
    return Entry("T-1", number, rows, felt_best=order[favourite], **more)  # type: ignore[arg-type]


def by_position(number: int, ratings: dict[Position, int]) -> Entry:
    order = [LISTED[(number + slot) % 5] for slot in range(5)]
    entry = night(number, [ratings[position] for position in order])
    return replace(entry, felt_best=max(ratings, key=lambda position: ratings[position]))


def drawn_nights(seed: int) -> list[Entry]:
    rng = np.random.default_rng(seed)
    return [
        night(n, rng.integers(1, 6, size=5).tolist(), favourite=int(rng.integers(5)))
        for n in range(1, 15)
    ]


def signs(entries: list[Entry], **more: object) -> set[BackfillSign]:
    found = find_backfill(entries, rng=np.random.default_rng(1), **more)  # type: ignore[arg-type]
    return {finding.sign for finding in found}


def test_nights_as_they_come_show_no_sign():
    assert signs(drawn_nights(3)) == set()


def test_nights_said_to_be_written_later_are_named():
    entries = drawn_nights(3)
    entries[4] = replace(entries[4], written=Written.LATER)
    entries[5] = replace(entries[5], written=Written.NEXT_DAY)
    found = find_backfill(entries, rng=np.random.default_rng(1))
    assert found == (BackfillFinding(BackfillSign.WRITTEN_LATER, (5,)),)


def test_nights_written_within_minutes_are_one_sitting_in_whatever_order_they_come():
    entries = [
        replace(entry, written_at=MONDAY + timedelta(days=entry.night)) for entry in drawn_nights(3)
    ]
    for index, minutes in ((2, 0), (7, 9), (4, 20)):
        written_at = MONDAY + timedelta(days=40, minutes=minutes)
        entries[index] = replace(entries[index], written_at=written_at)
    (finding,) = find_backfill(entries[::-1], rng=np.random.default_rng(1))
    assert finding == BackfillFinding(BackfillSign.ONE_SITTING, (3, 5, 8))


def test_two_nights_in_one_sitting_are_a_night_caught_up_and_no_sign():
    entries = drawn_nights(3)
    entries[2] = replace(entries[2], written_at=MONDAY)
    entries[3] = replace(entries[3], written_at=MONDAY + timedelta(minutes=2))
    assert signs(entries) == set()


def test_answers_copied_down_the_column_follow_the_place():
    entries = [night(n, [5, 4, 2, 3, 1], favourite=0) for n in range(1, 15)]
    assert signs(entries) == {BackfillSign.BY_PLACE}


def test_a_strong_liking_for_a_position_is_not_taken_for_a_column():
    ratings = dict(zip(Position, (5, 1, 3, 2, 1), strict=True))
    rng = np.random.default_rng(5)
    entries = []
    for number in range(1, 15):
        felt = {p: int(np.clip(r + rng.integers(-1, 2), 1, 5)) for p, r in ratings.items()}
        entries.append(by_position(number, felt))
    assert BackfillSign.BY_PLACE not in signs(entries)


def test_a_favourite_that_never_leaves_its_place_is_noticed():
    kept = [replace(entry, felt_best=entry.rows[0].position) for entry in drawn_nights(9)]
    assert signs(kept) == {BackfillSign.BY_PLACE}


def test_the_same_answers_night_after_night_are_noticed():
    ratings = dict(zip(Position, (5, 1, 3, 2, 1), strict=True))
    entries = [*drawn_nights(3)[:4], *(by_position(n, ratings) for n in range(5, 11))]
    found = find_backfill(entries, rng=np.random.default_rng(1))
    repeated = [finding for finding in found if finding.sign is BackfillSign.REPEATED]
    assert repeated == [BackfillFinding(BackfillSign.REPEATED, (5, 6, 7, 8, 9, 10))]


def test_a_course_where_everything_was_very_easy_shows_no_sign():
    assert signs([by_position(n, dict.fromkeys(Position, 5)) for n in range(1, 15)]) == set()


def test_pieces_that_do_not_fit_the_answers_are_noticed():
    entries = drawn_nights(3)  # 14 nights of five pieces, each at the first try
    assert signs(entries, pieces=PieceCount(given=100, returned=30)) == set()
    assert signs(entries, pieces=PieceCount(given=100, returned=27)) == set()
    assert signs(entries, pieces=PieceCount(given=100, returned=60)) == {BackfillSign.PIECES}
    assert signs(entries, pieces=PieceCount(given=100, returned=0)) == {BackfillSign.PIECES}


@pytest.mark.parametrize(
    ("went_down", "why_not", "used"),
    [
        (WentDown.FIRST, None, (1, 1)),
        (WentDown.LATER, None, (2, 2)),
        (WentDown.NO, WhyNot.SPAT_OUT, (1, 2)),
        (WentDown.NO, WhyNot.NOT_TRIED, (0, 0)),
        (None, None, (0, 2)),
    ],
)
def test_an_answer_stands_for_as_many_pieces_as_the_rule_of_two_tries_allows(
    went_down, why_not, used
):
    row = EntryRow(1, Position.LEFT, went_down=went_down, why_not=why_not)
    assert backfill._pieces_used(row) == used


def test_agreement_by_place_equals_a_count_of_all_pairs():
    ratings = np.random.default_rng(2).integers(1, 6, size=(1, 6, 4))
    pairs = sum(
        int(ratings[0, a, place] == ratings[0, b, place])
        for a in range(6)
        for b in range(a)
        for place in range(4)
    )
    assert backfill._agreement(ratings)[0] == pairs


def test_chance_of_a_column_agrees_with_going_through_all_orders():
    # Exact permutation distribution, as in any handbook: all 6**3 orders of three nights.
    rows = [[1, 2, 4], [1, 2, 5], [1, 3, 4]]
    seen = int(backfill._agreement(np.array([rows]))[0])
    orders = product(*(list(permutations(row)) for row in rows))
    exact = np.mean([backfill._agreement(np.array([each]))[0] >= seen for each in orders])
    entries = [night(n, row) for n, row in enumerate(rows, start=1)]
    rng = np.random.default_rng(4)
    for chance, expected in ((exact * 1.4, True), (exact * 0.7, False)):
        rules = BackfillRules(chance=float(chance))
        asked = [backfill._ratings_follow_place(entries, rules, rng) for _ in range(40)]
        # so few draws suffice for the rule that an answer near the line differs now and then
        assert (np.mean(asked) > 0.5) == expected


@given(st.integers(0, 2**32 - 1))
def test_the_same_record_and_seed_give_the_same_signs(seed):
    entries = drawn_nights(seed % 50)
    first, again = (find_backfill(entries, rng=np.random.default_rng(seed)) for _ in range(2))
    assert first == again


def test_leaving_the_nights_out_tells_whether_the_answer_hangs_on_them():
    liked = {position: 5 if position is Position.LEFT else 2 for position in Position}
    entries = tuple(
        replace(by_position(n, liked), written=Written.LATER if n > 1 else None)
        for n in range(1, 15)
    )
    course = PractisedCourse("T-1", LISTED, 14, Scale.FIVE, entries)
    later = [BackfillFinding(BackfillSign.WRITTEN_LATER, tuple(range(2, 15)))]
    compared = compare_without(course, later, estimate=lambda one: estimate_courses([one])[0])
    assert compared is not None
    assert compared.with_all == estimate_courses([course])[0]
    assert compared.without.nights_used == 1
    assert compared.changes_answer
    assert "another one" in say_sensitivity(compared, ENGLISH)


def test_nothing_is_compared_where_no_night_has_a_sign():
    course = PractisedCourse("T-1", LISTED, 14, Scale.FIVE, ())
    assert compare_without(course, [], estimate=lambda one: estimate_courses([one])[0]) is None


@pytest.mark.parametrize("sign", list(BackfillSign))
def test_every_sign_is_told_and_asked_about_without_blame(sign):
    noticed, question = say_finding(BackfillFinding(sign, (2, 3, 4)), ENGLISH)
    assert question.endswith("?")
    assert "{" not in noticed + question
    blaming = {"wrong", "false", "lie", "lied", "cheat", "invented", "must", "should"}
    assert not blaming & set(re.findall(r"[a-z]+", (noticed + question).lower()))


@pytest.mark.parametrize(
    "rules",
    [{"sitting_nights": 1}, {"repeated_nights": 1}, {"chance": 0.0}, {"spare_pieces": -1}],
)
def test_rules_that_every_family_would_break_are_refused(rules):
    with pytest.raises(ValueError, match=r"sign|chance|negative"):
        replace(USUAL_RULES, **rules)


def test_more_pieces_cannot_come_back_than_were_given():
    with pytest.raises(ValueError, match="cannot have come back"):
        PieceCount(given=10, returned=11)
