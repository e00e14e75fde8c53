"""What follows from an estimate: it agrees with what stands beside it, and is not always said."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidelong.exchange.estimates import as_written
from sidelong.pathway import estimates
from sidelong.pathway.estimates import PractisedCourse, estimate_courses
from sidelong.pathway.outlooks import FURTHER_NIGHTS, OPEN_VERDICTS
from sidelong.preferences import DEFAULT, HyperparameterMixture
from sidelong.training.entry import Entry, EntryRow, Scale, WentDown
from sidelong.training.estimate import Estimate, FurtherNights, Verdict
from sidelong.training.position import ALL_POSITIONS, Position

D, L, C, R, U = ALL_POSITIONS
MIXTURE = HyperparameterMixture(
    tuple(replace(DEFAULT, spread_sd=spread) for spread in (0.0, 0.3, 0.8, 1.6)), (0.25,) * 4
)
# Evenings that leave the answer open, and evenings that settle it.
MIXED = ({D: 3, L: 5, C: 4, R: 2, U: 4}, {D: 2, L: 3, C: 5, R: 4, U: 4})
SETTLED = ({D: 2, L: 5, C: 2, R: 2, U: 2},)


def course_of(patterns, *, n_nights: int, code: str = "HL-1") -> PractisedCourse:
    entries = []
    for night in range(n_nights):
        ratings = patterns[night % len(patterns)]
        rows = tuple(
            EntryRow(slot, position, 5.0, rating, WentDown.FIRST)
            for slot, (position, rating) in enumerate(ratings.items(), start=1)
        )
        best = max(ratings, key=lambda position: ratings[position])
        entries.append(Entry(code, night + 1, rows, felt_best=best))
    return PractisedCourse(code, ALL_POSITIONS, 14, Scale.FIVE, tuple(entries))


def answer(course: PractisedCourse, **more) -> Estimate:
    asked = {"further_nights": FURTHER_NIGHTS, "up_signed_off": True} | more
    return estimate_courses([course], **asked)[0]


ratings_of_all = st.fixed_dictionaries(dict.fromkeys(ALL_POSITIONS, st.integers(1, 5)))


@settings(deadline=None, max_examples=25)
@given(
    patterns=st.lists(ratings_of_all, min_size=1, max_size=3),
    n_nights=st.integers(1, 14),
    other=st.sampled_from([D, L, R, U]),
    mixed=st.booleans(),
)
def test_against_centre_alone_being_better_is_being_ahead(patterns, n_nights, other, mixed) -> None:
    closed = frozenset(ALL_POSITIONS) - {C, other}
    course = course_of(patterns, n_nights=n_nights)
    shared = MIXTURE if mixed else DEFAULT
    exact = answer(course, barred={"HL-1": closed}, hyperparameters=shared)
    if not exact.is_trusted:
        assert exact.p_better == ()
        return
    for estimate, within in ((exact, 1e-9), (as_written(exact), 1.01e-4)):
        (ahead,) = (each.chance_ahead for each in estimate.positions if each.position is other)
        better = estimate.better_than_centre(other)
        assert better == pytest.approx(ahead, abs=within)
        said = [each for each in estimate.p_better if each is not None]
        assert said == [better]


def test_nobody_is_ahead_who_is_not_likely_better_than_centre() -> None:
    estimate = answer(course_of(MIXED, n_nights=9))
    for each in estimate.positions:
        better = estimate.better_than_centre(each.position)
        assert (better is None) == (each.position is C)
        assert better is None or better > each.chance_ahead


def test_a_closed_position_is_not_compared_and_a_closed_centre_compares_nothing() -> None:
    course = course_of(MIXED, n_nights=9)
    unsigned = answer(course, up_signed_off=False)
    assert unsigned.better_than_centre(U) is None
    assert unsigned.better_than_centre(L) is not None
    assert answer(course, barred={"HL-1": frozenset({C})}).p_better == ()


def test_more_own_nights_carry_a_larger_share() -> None:
    shares = [answer(course_of(MIXED, n_nights=n)).own_share for n in (1, 5, 14)]
    assert shares == sorted(shares)
    assert 0 < shares[0] < 0.5 < shares[-1] < 1


def test_further_nights_are_looked_ahead_to_only_where_the_answer_is_open() -> None:
    verdicts = set()
    for patterns, n_nights in ((MIXED, 3), (MIXED, 8), (MIXED, 14), (SETTLED, 14)):
        estimate = answer(course_of(patterns, n_nights=n_nights))
        verdicts.add(estimate.verdict)
        assert (estimate.further is not None) == (estimate.verdict in OPEN_VERDICTS)
        if estimate.further is not None:
            assert estimate.further.nights == FURTHER_NIGHTS
            assert estimate.further.highest_then > estimate.further.highest_now - 0.01
    assert {Verdict.INSUFFICIENT, Verdict.CLEAR} <= verdicts
    assert verdicts & {Verdict.TOO_CLOSE, Verdict.LIKELY}


def test_nobody_looks_ahead_unasked() -> None:
    course = course_of(MIXED, n_nights=3)
    assert answer(course, further_nights=0).further is None
    assert answer(course).further is not None
    assert answer(course, further_nights=0) == replace(answer(course), further=None)


def test_with_one_position_left_there_is_nothing_to_compare() -> None:
    closed = frozenset({D, L, C, U})
    estimate = answer(course_of(MIXED, n_nights=3), barred={"HL-1": closed})
    assert (estimate.p_better, estimate.own_share, estimate.further) == ((), None, None)


@pytest.mark.parametrize("n_nights", [0, 8])
def test_what_cannot_be_trusted_or_is_nobodys_own_is_not_taken_further(
    monkeypatch, n_nights
) -> None:
    real = estimates.mend_estimates

    def doubt(*args, **more):
        held = real(*args, **more)
        return replace(held, is_trusted=np.zeros_like(held.is_trusted))

    if n_nights:
        assert answer(course_of(MIXED, n_nights=n_nights)).p_better
        monkeypatch.setattr(estimates, "mend_estimates", doubt)
    estimate = answer(course_of(MIXED, n_nights=n_nights))
    assert (estimate.p_better, estimate.own_share, estimate.further) == ((), None, None)


def test_nobodys_answer_depends_on_who_else_is_answered() -> None:
    courses = [
        course_of(patterns, n_nights=n, code=f"HL-{k}")
        for k, (patterns, n) in enumerate([(SETTLED, 14), (MIXED, 3), (MIXED, 0), (MIXED, 9)])
    ]
    together = estimate_courses(courses, further_nights=FURTHER_NIGHTS, up_signed_off=True)
    for course, among in zip(courses, together, strict=True):
        alone = answer(course)
        assert (among.further is None) == (alone.further is None)
        assert among.own_share == pytest.approx(alone.own_share, abs=1e-6)
        assert among.p_better == pytest.approx(alone.p_better, abs=1e-6)
        if alone.further is not None:
            assert among.further.another == pytest.approx(alone.further.another, abs=0.04)


def test_rounding_keeps_every_figure_and_rounds_once() -> None:
    exact = answer(course_of(MIXED, n_nights=3))
    rounded = as_written(exact)
    assert as_written(rounded) == rounded
    assert rounded.own_share == pytest.approx(exact.own_share, abs=0.51e-4)
    assert rounded.further.rise == pytest.approx(exact.further.rise, abs=1.01e-4)
    assert sum(round(each.chance_ahead * 10_000) for each in rounded.positions) == 10_000


def test_values_that_are_no_chances_are_refused() -> None:
    with pytest.raises(ValueError, match="not within"):
        FurtherNights(7, 0.5, 1.2, 0.1)
    with pytest.raises(ValueError, match="one for each position"):
        replace(answer(course_of(MIXED, n_nights=3)), p_better=(0.5,))
    assert answer(course_of(MIXED, n_nights=3)).better_than_centre(Position.CENTRE) is None
