"""Promises laid against first doses, on simulated trainees whose truth is known."""

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest

from sidelong.exchange.estimates import as_written
from sidelong.exchange.fits import SHIPPED_FIT
from sidelong.exchange.promises import mark_fit
from sidelong.pathway.enrolling import simulate_enrolment
from sidelong.pathway.estimates import estimate_courses, gather_courses
from sidelong.pathway.invented_doses import ChancesOfDose, invent_first_dose, true_chances
from sidelong.pathway.invention import draw_practice
from sidelong.pathway.planning import draw_plans
from sidelong.pathway.promises import FEWEST, LaterPiece, Promise, lock_figures, reckon
from sidelong.preferences import DEFAULT
from sidelong.training.entry import EntryRow, WentDown
from sidelong.training.estimate import Estimate, PositionEstimate, Verdict
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position
from sidelong.training.promise import LockedEstimate, SeenBy

NOW = datetime(2026, 11, 25, 10, tzinfo=UTC)
DAY = NOW.date()
PLAN = Plan("HL-7K3PX", (Night((Position.LEFT, Position.CENTRE), 5.0),) * 14)


def lock(chance: float = 0.8, *, trainee: str = "HL-7K3PX") -> LockedEstimate:
    """An estimate of two positions, left the better one."""
    left = PositionEstimate(Position.LEFT, 0.9, chance, 4.0, 0.3, 3.5, 4.5)
    centre = replace(left, position=Position.CENTRE, p_best=0.1, p_first_try=chance / 2)
    said = Estimate(trainee, (left, centre), 14, 14, Verdict.CLEAR, suggested=Position.LEFT)
    return lock_figures(
        said,
        course=1,
        version=1,
        follow_up=1,
        number=1,
        locked_at=NOW,
        locked_by="staff:1",
        program="0.1.0",
        fit=mark_fit(SHIPPED_FIT),
        evidence="0" * 64,
    )


def promise(chance: float = 0.8, *, first: bool = True, seen_by: SeenBy = SeenBy.STAFF) -> Promise:
    dose = invent_first_dose(
        "HL-7K3PX",
        course=1,
        position=Position.LEFT,
        chances=ChancesOfDose(float(first), 0.0),
        given_on=DAY,
        rng=np.random.default_rng(1),
        seen_by=seen_by,
    )
    return Promise(lock(chance), dose)


def test_the_chance_is_that_of_the_position_that_was_used() -> None:
    left = promise(0.8)
    centre = Promise(left.lock, replace(left.dose, position=Position.CENTRE))
    assert (left.chance, centre.chance) == (0.8, 0.4)
    assert (left.counts, centre.counts) == (True, True)


def test_a_dose_in_a_position_without_an_estimate_is_counted_and_not_laid() -> None:
    told = promise()
    without = [Promise(told.lock, replace(told.dose, position=at)) for at in (None, Position.UP)]
    said = reckon([told, *without])
    assert (said.n_promises, said.n_unplaced, said.seen.n) == (3, 2, 1)


def test_what_home_reports_is_counted_apart() -> None:
    said = reckon([promise(), promise(first=False, seen_by=SeenBy.HOME)])
    assert (said.seen.n, said.seen.n_first) == (1, 1)
    assert (said.told.n, said.told.n_first) == (1, 0)
    assert said.chances == (0.8,)


def test_another_trainees_dose_is_refused() -> None:
    ours = promise()
    with pytest.raises(ValueError, match="same course"):
        Promise(ours.lock, replace(ours.dose, trainee="HL-99999"))


def test_below_the_fewest_there_is_a_count_and_no_plot() -> None:
    few = reckon([promise()] * (FEWEST - 1))
    assert few.calibration is None
    assert (few.seen.n, few.n_missing) == (FEWEST - 1, 1)
    enough = reckon([promise()] * FEWEST)
    assert enough.calibration is not None
    assert enough.n_missing == 0


def test_nothing_gives_nothing() -> None:
    said = reckon([])
    assert (said.n_promises, said.seen.n, said.later.n, said.n_missing) == (0, 0, 0, FEWEST)


def test_a_slope_waits_for_enough_of_either_kind() -> None:
    failed = [promise(chance, first=False) for chance in np.linspace(0.2, 0.9, 9)]
    down = [promise(chance) for chance in np.linspace(0.3, 0.95, 30)]
    assert reckon(failed + down).calibration.line is None
    assert reckon([*failed, promise(0.5, first=False), *down]).calibration.line is not None


def test_later_nights_in_the_suggested_position_are_laid_against_its_chance() -> None:
    said = lock(0.7)
    rows = [
        EntryRow(1, Position.LEFT, 5.0, 4, went)
        for went in (WentDown.FIRST, WentDown.LATER, WentDown.FIRST, None)
    ]
    later = reckon([], later=[LaterPiece(said, row) for row in rows])
    assert (later.later.n, later.later.n_first, later.n_later_trainees) == (3, 2, 1)
    assert later.later.expected == pytest.approx(2.1)
    open_end = replace(said, suggested=None)
    assert reckon([], later=[LaterPiece(open_end, rows[0])]).later.n == 0


# Simulated: the truth is known, and the plot has to show it


@pytest.fixture(scope="module")
def simulated() -> list[tuple[LockedEstimate, np.ndarray]]:
    """Locked estimates of 300 simulated trainees, with the true ease of their next night."""
    rng = np.random.default_rng(20261125)
    enrolled = simulate_enrolment(
        300, positions=tuple(Position), sites=["harbour"], bands=["older"], rng=rng
    )
    plans = draw_plans(enrolled, seed="11", n_nights=14)
    drawn = draw_practice(plans, scales={}, rng=rng)
    estimates = estimate_courses(gather_courses(drawn.entries, plans=plans))
    locks = [
        lock_figures(
            as_written(said),
            course=1,
            version=1,
            follow_up=1,
            number=1,
            locked_at=NOW,
            locked_by="",
            program="test",
            fit=mark_fit(SHIPPED_FIT),
            evidence="0" * 64,
        )
        for said in estimates
    ]
    return list(zip(locks, drawn.next_ease, strict=True))


def laid(
    simulated: list[tuple[LockedEstimate, np.ndarray]], *, harder: float = 0.0, seed: int = 3
) -> list[Promise]:
    """Let every trainee take a first dose in the position with the largest chance."""
    rng = np.random.default_rng(seed)
    promises = []
    for said, ease in simulated:
        best = max(said.positions, key=lambda each: each.p_best).position
        chances = true_chances(float(ease[list(Position).index(best)]) - harder, rng=rng)
        dose = invent_first_dose(
            said.trainee,
            course=1,
            position=best,
            chances=chances,
            given_on=date(2026, 11, 26),
            rng=rng,
            seen_by=SeenBy.STAFF,
        )
        promises.append(Promise(said, dose))
    return promises


def test_where_the_model_holds_simulated_promises_are_kept(simulated) -> None:
    said = reckon(laid(simulated))
    assert said.seen.n == 300
    assert said.seen.is_as_expected
    drawn = said.calibration
    assert drawn.test.p_value > 0.01
    assert drawn.line.slope_interval[0] < 1 < drawn.line.slope_interval[1]
    inside = (drawn.table.lower <= drawn.table.stated) & (drawn.table.stated <= drawn.table.upper)
    assert inside.sum() >= 4


def test_where_real_doses_are_harder_the_plot_shows_it(simulated) -> None:
    said = reckon(laid(simulated, harder=1.5))
    assert said.seen.n_first < said.seen.lower
    assert said.calibration.test.p_value < 0.001
    assert said.calibration.line.shift_interval[1] < 0


def test_an_invented_dose_goes_down_as_often_as_its_true_chance() -> None:
    rng = np.random.default_rng(9)
    doses = [
        invent_first_dose(
            "HL-7K3PX",
            course=1,
            position=Position.LEFT,
            chances=ChancesOfDose(0.6, 0.3),
            given_on=DAY,
            rng=rng,
        )
        for _ in range(4000)
    ]
    shares = [np.mean([each.went_down is went for each in doses]) for went in WentDown]
    assert shares == pytest.approx([0.6, 0.3, 0.1], abs=0.03)
    assert np.mean([each.seen_by is SeenBy.HOME for each in doses]) == pytest.approx(0.15, abs=0.03)


@pytest.mark.parametrize("chances", [(-0.1, 0.2), (0.8, 0.3)])
def test_chances_that_cannot_be_are_refused(chances: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="not chances"):
        ChancesOfDose(*chances)


def test_a_fits_mark_changes_with_its_values_whatever_it_is_called() -> None:
    mark = mark_fit(SHIPPED_FIT)
    other = mark_fit(replace(SHIPPED_FIT, hyperparameters=replace(DEFAULT, spread_sd=0.81)))
    assert mark.name == other.name == SHIPPED_FIT.origin
    assert mark.fingerprint != other.fingerprint
    assert mark == mark_fit(SHIPPED_FIT)
    assert len(mark.fingerprint) == 64
