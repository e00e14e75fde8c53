"""The site's written rules, asked with a trainee's nights."""

from datetime import date

import pytest

from sidelong.pathway.estimates import PractisedCourse
from sidelong.pathway.stepping import advise_course
from sidelong.training.entry import Entry, EntryRow, Scale, WentDown, WhyNot
from sidelong.training.event import Event
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Piece
from sidelong.training.position import Position
from sidelong.training.safety import Tier
from sidelong.training.stepping import Move, SteppingRules

LADDER = Ladder(tuple(Piece(f"bead-{mm}", mm, mm, mm) for mm in (3, 4, 5)))
RULES = SteppingRules(up_after_easy_nights=2, back_after_failed_nights=2)
DAY = date(2026, 3, 1)
PAIR = (Position.LEFT, Position.CENTRE)


def night(number, *, rating=5, went=WentDown.FIRST, why=None, piece="bead-4", size=4.0):
    rows = tuple(
        EntryRow(slot, position, size, rating, went, why, piece=piece)
        for slot, position in enumerate(PAIR, start=1)
    )
    return Entry("HL-1", number, rows)


def advise(*entries, events=()):
    course = PractisedCourse("HL-1", PAIR, 14, Scale.FIVE, entries)
    return advise_course(course, ladder=LADDER, rules=RULES, events=events)


def test_easy_nights_in_a_row_lead_one_step_up():
    advice = advise(night(1), night(2))
    assert (advice.move, advice.step) == (Move.UP, 3)


def test_failed_nights_in_a_row_lead_one_step_back():
    failed = [night(k, rating=1, went=WentDown.NO) for k in (1, 2)]
    advice = advise(*failed)
    assert (advice.move, advice.step) == (Move.BACK, 1)


def test_pieces_that_were_not_tried_did_not_fail():
    blank = [night(k, rating=None, went=WentDown.NO, why=WhyNot.NOT_TRIED) for k in (1, 2)]
    assert advise(*blank) is None


def test_step_is_found_by_size_where_no_code_was_written():
    assert advise(night(1, piece=""), night(2, piece="")).step == 3


@pytest.mark.parametrize("piece", ["bead-9", "marble"])
def test_piece_that_is_not_on_the_ladder_gives_no_advice(piece):
    assert advise(night(1, piece=piece)) is None


def test_grave_event_locks_until_a_clinician_answered_and_stops_the_step_up_afterwards():
    grave = Event("HL-1", 2, Tier.ACT_FIRST, Position.LEFT)
    answered = Event("HL-1", 2, Tier.ACT_FIRST, Position.LEFT, may_go_on_since=DAY)
    assert advise(night(1), night(2), events=[grave]).move is Move.LOCKED
    assert advise(night(1), night(2), events=[answered]).move is Move.BACK
