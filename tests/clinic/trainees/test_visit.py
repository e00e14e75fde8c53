"""The rules of the teaching visit."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from sidelong.clinic.trainees.visit import (
    Seen,
    SeenPiece,
    SeenWater,
    TeachingVisit,
    home_ladder,
    keep_to_visit,
    release_faults,
)
from sidelong.exchange.protocols import read_demo_protocol
from sidelong.pathway.readiness import sort_readiness
from sidelong.problems import Refused
from sidelong.training.ladder import Ladder
from sidelong.training.piece import Buoyancy
from sidelong.training.position import Position
from sidelong.training.referral import Referral
from sidelong.training.stepping import SteppingRules

CENTRE_CLEAN = Seen(Position.CENTRE, SeenWater.CLEAN, SeenPiece.CLEAN)


def visit(*seen: Seen, **fields: Any) -> TeachingVisit:
    usual: dict[str, Any] = {
        "trainee": "T-1",
        "held_on": date(2026, 11, 25),
        "adult_present": True,
        "trainee_agreed": True,
        "seen": seen or (CENTRE_CLEAN,),
        "piece": "bead-3",
    }
    return TeachingVisit(**usual | fields)


def test_pieces_go_home_after_one_was_seen_swallowed_cleanly() -> None:
    assert release_faults(visit()) == ()


@pytest.mark.parametrize(
    ("seen", "fields", "said"),
    [
        ((), {"adult_present": False}, "adult"),
        ((), {"trainee_agreed": False}, "agree"),
        (
            (Seen(Position.CENTRE, SeenWater.CLEAN, SeenPiece.NOT_DOWN),),
            {},
            "no piece was seen swallowed cleanly",
        ),
        ((Seen(Position.CENTRE, SeenWater.CLEAN),), {"piece": ""}, "no piece"),
        ((Seen(Position.LEFT, SeenWater.CLEAN, SeenPiece.CLEAN),), {}, "centre"),
        ((CENTRE_CLEAN, Seen(Position.RIGHT, SeenWater.SIGNS)), {}, "not safe"),
        (
            (CENTRE_CLEAN, Seen(Position.RIGHT, SeenWater.CLEAN, SeenPiece.SIGNS)),
            {},
            "not safe",
        ),
    ],
)
def test_nothing_goes_home_otherwise(seen: Any, fields: Any, said: str) -> None:
    faults = release_faults(visit(*seen, **fields))
    assert any(said in str(each) for each in faults)


@pytest.mark.parametrize("water", [SeenWater.SIGNS, SeenWater.HURTS, SeenWater.NOT_TRIED])
def test_no_piece_is_tried_where_water_did_not_go_down_cleanly(water: SeenWater) -> None:
    with pytest.raises(Refused, match="water did not go down cleanly first"):
        Seen(Position.LEFT, water, SeenPiece.CLEAN)


def test_a_visit_says_which_piece_was_tried() -> None:
    with pytest.raises(Refused, match="nobody says which"):
        visit(piece="")


def test_each_position_is_seen_once() -> None:
    with pytest.raises(Refused, match="stands twice"):
        visit(CENTRE_CLEAN, CENTRE_CLEAN)


def test_positions_that_hurt_or_were_not_shown_stay_out_of_the_plan() -> None:
    protocol = read_demo_protocol()
    referral = Referral("T-1", protocol.site, 9)
    sorted_referral = sort_readiness(referral, protocol, today=date(2026, 11, 25))
    sorted_referral = replace(
        sorted_referral, limits=replace(sorted_referral.limits, positions=tuple(Position))
    )
    seen = visit(
        Seen(Position.DOWN, SeenWater.HURTS),
        Seen(Position.LEFT, SeenWater.CLEAN),
        CENTRE_CLEAN,
        Seen(Position.UP, SeenWater.NOT_TRIED),
    )
    kept = keep_to_visit(sorted_referral, seen)
    assert kept.limits.positions == (Position.LEFT, Position.CENTRE)


def test_a_visit_never_brings_back_a_position_that_was_taken_out() -> None:
    protocol = read_demo_protocol()
    sorted_referral = sort_readiness(
        Referral("T-1", protocol.site, 9), protocol, today=date(2026, 11, 25)
    )
    out = set(Position) - set(sorted_referral.limits.positions)
    assert out, "a referral without answers counts as yes everywhere"
    everywhere = visit(*(Seen(each, SeenWater.CLEAN, SeenPiece.CLEAN) for each in Position))
    kept = keep_to_visit(sorted_referral, everywhere)
    assert kept.limits.positions == sorted_referral.limits.positions


@pytest.mark.parametrize(
    ("piece", "below", "codes"),
    [
        ("bead-3", 1, ["bead-3"]),
        ("bead-5", 1, ["bead-4", "bead-5"]),
        ("bead-5", 0, ["bead-5"]),
        ("bead-5", 3, ["bead-3", "bead-4", "bead-5"]),
    ],
)
def test_home_begins_as_the_rules_say_and_never_above_what_was_seen(
    piece: str, below: int, codes: list[str], cast: Any
) -> None:
    rules = SteppingRules(start_below_seen=below)
    home = home_ladder(visit(piece=piece), cast.ladder(), rules=rules)
    assert [each.code for each in home.steps] == codes


def test_a_piece_that_floats_says_nothing_about_one_that_sinks(cast: Any) -> None:
    steps = cast.ladder().steps
    floats = replace(steps[2], seen_in_water=Buoyancy.FLOATS)
    ladder = Ladder((replace(steps[1], seen_in_water=Buoyancy.SINKS), floats))
    home = home_ladder(visit(piece=floats.code), ladder, rules=SteppingRules())
    assert home.steps == (floats,)


def test_a_piece_that_left_the_ladder_asks_for_another_visit(cast: Any) -> None:
    with pytest.raises(Refused, match="not on the ladder in use"):
        home_ladder(visit(piece="bead-7"), cast.ladder(), rules=SteppingRules())
