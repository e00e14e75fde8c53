"""Plans: streams, seeds, replay."""

from collections import Counter, defaultdict

import numpy as np
import pytest

from sidelong.designs import SUPPORTED_NIGHTS
from sidelong.pathway.enrolling import Enrolment, simulate_enrolment, simulation_rng
from sidelong.pathway.planning import (
    allocation_key,
    differing_plans,
    draw_plan,
    draw_plans,
)
from sidelong.problems import Refused
from sidelong.training.position import ALL_POSITIONS, Position

WITHOUT_UP = (Position.DOWN, Position.LEFT, Position.CENTRE, Position.RIGHT)


def enrol(n, *, positions=ALL_POSITIONS, sites=("a", "b"), bands=("younger", "older"), seed="7"):
    rng = simulation_rng(seed, purpose="enrolment")
    return simulate_enrolment(n, positions=positions, sites=sites, bands=bands, rng=rng)


def test_plan_keeps_what_is_needed_to_draw_it_again():
    plan = draw_plan(Enrolment("HL-1", WITHOUT_UP, "a", "older"), seed="7", index=3, n_nights=14)
    again = draw_plan(
        Enrolment("HL-1", plan.positions, plan.site, plan.band),
        seed="7",
        index=plan.allocation.index,
        n_nights=14,
    )
    assert again == plan
    assert plan.positions == WITHOUT_UP


def test_trainees_of_one_stream_take_its_places_in_order_of_enrolment():
    plans = draw_plans(enrol(60), seed="7", n_nights=14)
    places = defaultdict(list)
    for plan in plans:
        places[plan.allocation.stream].append(plan.allocation.index)
    assert len(places) == 4
    assert all(indices == list(range(len(indices))) for indices in places.values())


def test_every_cell_of_a_stream_is_even_at_any_number_enrolled():
    plans = draw_plans(enrol(33, sites=("a",), bands=("older",)), seed="7", n_nights=14)
    counts = defaultdict(Counter)
    for plan in plans:
        for night, each in enumerate(plan.nights):
            for slot, position in enumerate(each.order):
                counts[night, slot][position] += 1
        for cell in counts.values():
            seen = [cell[position] for position in Position]
            assert max(seen) - min(seen) <= 1


def test_trainees_with_fewer_positions_form_a_stream_of_their_own():
    mixed = [Enrolment("HL-1", ALL_POSITIONS), Enrolment("HL-2", WITHOUT_UP)]
    plans = draw_plans(mixed, seed="7", n_nights=14)
    assert [plan.allocation.index for plan in plans] == [0, 0]
    assert plans[0].allocation.stream != plans[1].allocation.stream


def test_published_seed_finds_the_plan_that_was_changed():
    plans = list(draw_plans(enrol(20), seed="7", n_nights=14))
    assert differing_plans(plans, seed="7") == ()
    plans[4], plans[9] = plans[9], plans[4]
    assert differing_plans(plans, seed="7")
    assert len(differing_plans(plans, seed="8")) > 15


@pytest.mark.parametrize("seed", ["", "abc", "-3", "1.5", "0" * 63])
def test_word_that_is_no_seed_is_refused(seed):
    with pytest.raises(Refused, match="not a seed"):
        allocation_key(seed)


def test_recorded_seed_is_the_key_itself():
    assert allocation_key("ab" * 32) == b"\xab" * 32


def test_number_of_nights_without_proven_orders_is_refused_with_those_there_are():
    with pytest.raises(Refused, match=", ".join(map(str, SUPPORTED_NIGHTS))):
        draw_plan(Enrolment("HL-1", WITHOUT_UP), seed="7", index=0, n_nights=13)


def test_enrolment_uses_every_site_and_band_and_repeats_with_its_seed():
    drawn = enrol(240)
    assert drawn == enrol(240)
    assert drawn != enrol(240, seed="8")
    shares = Counter((each.site, each.band) for each in drawn)
    # Four equally likely cells of 240: a count outside 60 +- 30 has a chance below 1e-5.
    assert all(30 <= shares[site, band] <= 90 for site in "ab" for band in ("younger", "older"))
    assert len({each.trainee for each in drawn}) == 240


def test_simulation_draws_tell_nothing_of_the_allocation():
    one = simulation_rng("7", purpose="enrolment").random(3)
    other = simulation_rng("7", purpose="entries").random(3)
    assert not np.allclose(one, other)
