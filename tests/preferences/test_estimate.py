from dataclasses import fields, replace

import numpy as np
import pytest

from sidelong.preferences import (
    DEFAULT,
    Conduct,
    Courses,
    estimate_earlier,
    estimate_preferences,
    expected_rating,
    give_verdicts,
    simulate_courses,
    trace_nights,
)
from sidelong.preferences.simulate import draw_rating


def simulate(orders, rng, *, n=40, nights=14, conduct=None, **changes):
    return simulate_courses(
        orders(n, nights=nights),
        hyperparameters=replace(DEFAULT, **changes),
        rng=rng,
        conduct=conduct or Conduct(),
    )


def relabelled(courses: Courses, new_place: np.ndarray) -> Courses:
    """The same courses with position p called new_place[p]."""
    old = np.argsort(new_place)
    rename = np.array([*new_place, -1])
    moved = {
        f.name: getattr(courses, f.name)[..., old]
        for f in fields(courses)
        if getattr(courses, f.name).ndim == 3 or f.name == "allowed"
    }
    moved["previous"] = rename[moved["previous"]]
    return replace(courses, **moved, felt_best=rename[courses.felt_best])


def test_relabelling_positions_relabels_the_answer(orders, rng) -> None:
    courses = simulate(orders, rng).courses
    new_place = np.array([3, 0, 4, 2, 1])
    old = np.argsort(new_place)
    plain = estimate_preferences(courses)

    renamed = estimate_preferences(relabelled(courses, new_place))

    for name in ("p_best", "p_first_try", "expected_rating", "sd", "lower", "upper"):
        np.testing.assert_allclose(
            getattr(renamed, name), getattr(plain, name)[:, old], atol=1e-7, err_msg=name
        )


def test_chances_sum_to_1_and_intervals_hold_the_mean(orders, rng) -> None:
    found = estimate_preferences(simulate(orders, rng).courses)
    np.testing.assert_allclose(found.p_best.sum(axis=1), 1.0, atol=1e-12)
    assert found.p_best.shape == (40, 5)
    assert (found.lower >= 1).all()
    assert (found.upper <= 5).all()
    assert (found.lower < found.expected_rating).all()
    assert (found.expected_rating < found.upper).all()
    assert ((found.p_first_try > 0) & (found.p_first_try < 1)).all()
    assert found.converged.all()


def test_more_nights_narrow_the_answer(orders, rng) -> None:
    courses = simulate(orders, rng, n=100).courses
    views = estimate_earlier(courses, (0, 3, 7, 14))
    widths = [np.einsum("nii->n", view.covariance).mean() for view in views]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.5 * widths[0]
    surest = [view.p_best.max(axis=1).mean() for view in views]
    assert surest == sorted(surest)


def test_the_view_after_a_night_uses_that_night_and_no_later_one(orders, rng) -> None:
    courses = simulate(orders, rng, n=8).courses
    rating = courses.rating.copy()
    rating[:, 7:] = np.where(rating[:, 7:] > 0, 6 - rating[:, 7:], 0)
    other = replace(courses, rating=rating)
    np.testing.assert_allclose(
        estimate_earlier(courses, (7,))[0].p_best,
        estimate_earlier(other, (7,))[0].p_best,
        atol=1e-12,
    )
    last = estimate_earlier(courses, (14,))[0]
    np.testing.assert_allclose(last.p_best, estimate_preferences(courses).p_best, atol=1e-7)


def test_the_last_night_looking_back_agrees_with_the_answer_but_for_one_step(orders, rng) -> None:
    still = {"drift_sd": 0.0, "level_drift_sd": 0.0, "learning_gain": 0.0}
    courses = simulate(orders, rng, n=8, **still).courses
    hyperparameters = replace(DEFAULT, **still)
    found = estimate_preferences(courses, hyperparameters=hyperparameters)
    trace = trace_nights(courses, hyperparameters=hyperparameters)
    assert trace.expected_rating.shape == (8, 14, 5)
    for night in (0, 13):
        np.testing.assert_allclose(trace.ease[:, night], found.ease, atol=1e-7)
        np.testing.assert_allclose(
            trace.expected_rating[:, night], found.expected_rating, atol=1e-7
        )
        np.testing.assert_allclose(trace.lower[:, night], found.lower, atol=1e-7)


def test_nights_without_answers_are_wider_looking_back(orders, rng) -> None:
    courses = simulate(orders, rng, n=30, conduct=Conduct(missing_night=0.5)).courses
    trace = trace_nights(courses)
    seen = (courses.rating > 0).any(axis=2)
    middle = slice(3, 11)
    assert trace.ease_sd[:, middle][~seen[:, middle]].mean() > (
        trace.ease_sd[:, middle][seen[:, middle]].mean()
    )


def test_zero_nights_give_the_prior_and_no_verdict(blank) -> None:
    found = estimate_preferences(blank(2, 14))
    np.testing.assert_allclose(found.p_best, 0.2, atol=1e-12)
    assert found.nights_used.tolist() == [0, 0]
    assert (found.upper - found.lower > 2.0).all()
    assert [each.word for each in give_verdicts(found)] == ["insufficient"] * 2


@pytest.mark.parametrize("n_positions", [1, 2, 3, 4, 5])
def test_any_number_of_positions_works(n_positions: int, rng) -> None:
    orders = np.argsort(rng.random((20, 10, n_positions)), axis=2)
    sim = simulate_courses(orders, hyperparameters=DEFAULT, rng=rng)
    found = estimate_preferences(sim.courses)
    assert (found.p_best[:, n_positions:] == 0).all()
    assert np.isnan(found.expected_rating[:, n_positions:]).all()
    assert np.isfinite(found.expected_rating[:, :n_positions]).all()
    np.testing.assert_allclose(found.p_best.sum(axis=1), 1.0, atol=1e-12)
    assert len(give_verdicts(found)) == 20


def test_a_single_night_is_honestly_wide(orders, rng) -> None:
    found = estimate_earlier(simulate(orders, rng, n=200, conduct=Conduct(0, 0)).courses, (1,))[0]
    assert found.p_best.max(axis=1).mean() < 0.6
    assert {each.word for each in give_verdicts(found)} == {"insufficient"}


@pytest.mark.parametrize("rating", [1, 3, 5])
def test_one_used_category_favours_nobody_and_stays_finite(blank, rating: int) -> None:
    courses = blank(1, 14)
    courses.slot[:] = [(np.arange(5) + night) % 5 + 1 for night in range(14)]
    courses.rating[:] = rating
    found = estimate_preferences(courses)
    assert found.converged.all()
    np.testing.assert_allclose(found.p_best, 0.2, atol=0.02)
    assert abs(found.expected_rating - rating).max() < 0.8


def test_an_answer_works_without_ratings_or_favourites_or_successes(orders, rng) -> None:
    courses = simulate(orders, rng, n=30).courses
    blanks = {
        "rating": np.zeros_like(courses.rating),
        "went_down": np.zeros_like(courses.went_down),
        "felt_best": np.full_like(courses.felt_best, -1),
    }
    whole = estimate_preferences(courses)
    for name, blank in blanks.items():
        less = estimate_preferences(replace(courses, **{name: blank}))
        assert less.converged.all()
        assert less.covariance.trace(axis1=1, axis2=2).mean() > (
            whole.covariance.trace(axis1=1, axis2=2).mean()
        )


def test_a_favourite_every_night_is_found_whatever_the_ratings_lack(blank) -> None:
    courses = blank(1, 14)
    courses.slot[:] = [(np.arange(5) + night) % 5 + 1 for night in range(14)]
    courses.felt_best[:] = 3
    found = estimate_preferences(courses)
    assert found.p_best[0].argmax() == 3
    assert found.p_best[0, 3] > 0.8


def test_plans_of_different_length_share_one_call(orders, rng) -> None:
    long = simulate(orders, rng, n=6).courses
    short = replace(long.until(7), planned=np.full(6, 7))
    trimmed = simulate(orders, rng, n=6, nights=7).courses
    assert trimmed.n_nights == 7
    found = estimate_preferences(short)
    later = estimate_preferences(long.until(7))
    assert (found.sd < later.sd).all()
    cut = Courses(
        **{
            f.name: getattr(short, f.name)[:, :7]
            if getattr(short, f.name).ndim > 1 and f.name != "allowed"
            else getattr(short, f.name)
            for f in fields(Courses)
        }
    )
    np.testing.assert_allclose(estimate_preferences(cut).p_best, found.p_best, atol=1e-7)


def test_more_trainees_than_one_batch_holds_change_nothing(orders, rng) -> None:
    courses = simulate(orders, rng, n=40, nights=5).courses
    many = courses.take(np.tile(np.arange(40), 30))
    found = estimate_preferences(many)
    np.testing.assert_allclose(found.p_best[:40], found.p_best[-40:], atol=1e-7)
    assert found.p_best.shape == (1200, 5)


def test_no_trainees_give_an_empty_answer(blank) -> None:
    assert estimate_preferences(blank(0, 14)).p_best.shape == (0, 5)


def test_expected_rating_is_the_mean_of_drawn_ratings(rng) -> None:
    ease = np.array([-1.0, 0.0, 1.5])
    noise = np.hypot(DEFAULT.night_sd, DEFAULT.piece_sd)
    felt = ease[:, None] + noise * rng.standard_normal((3, 200_000))
    for scale in (5, 4, 3, 2):
        forms = np.full(felt.shape, scale)
        drawn = draw_rating(felt, forms, hyperparameters=DEFAULT, rng=rng).mean(axis=1)
        known = expected_rating(ease, scale=np.full(3, scale), hyperparameters=DEFAULT)
        np.testing.assert_allclose(known, drawn, atol=0.015)


def test_larger_pieces_are_expected_to_be_harder(blank) -> None:
    courses = blank(2, 14)
    courses.slot[:, 0, 2] = 1
    courses.rating[:, 0, 2] = 3
    courses.piece_mm[:, 0, 2] = 5.0
    courses.piece_mm[1, 13, 2] = 12.0
    found = estimate_preferences(courses)
    assert (found.expected_rating[1] < found.expected_rating[0]).all()
    assert (found.p_first_try[1] < found.p_first_try[0]).all()


def test_verdicts_recompute_the_chances_without_excluded_positions(orders, rng) -> None:
    courses = simulate(orders, rng, n=60, spread_sd=1.5).courses
    found = estimate_preferences(courses)
    may = np.ones((60, 5), bool)
    may[np.arange(60), found.p_best.argmax(axis=1)] = False
    plain, kept = (
        give_verdicts(each) for each in (found, estimate_preferences(courses, open_to=may))
    )
    top = found.p_best.argmax(axis=1)
    assert all(each.best != row for each, row in zip(kept, top, strict=True))
    assert any(each.word in {"clear", "likely"} for each in kept)
    assert plain != kept


@pytest.mark.slow
@pytest.mark.parametrize("spread", [0.0, 0.6, 1.2])
def test_intervals_cover_and_chances_are_true_where_the_model_is_right(
    orders, rng, spread: float
) -> None:
    truth = replace(DEFAULT, spread_sd=spread)
    sim = simulate_courses(
        orders(1500), hyperparameters=truth, rng=rng, conduct=Conduct(missing_night=0.3)
    )
    found = estimate_preferences(sim.courses, hyperparameters=truth)
    slots = np.mean(truth.slot_effects)
    rating = expected_rating(sim.next_ease + slots, scale=sim.courses.scale, hyperparameters=truth)
    covered = ((found.lower <= rating) & (rating <= found.upper)).mean()
    assert 0.87 < covered < 0.94
    right = found.p_best.argmax(axis=1) == sim.best
    # Three standard errors of 1500 answers are 0.035.
    assert abs(found.p_best.max(axis=1).mean() - right.mean()) < 0.035
    ahead, found_ahead = (
        ease - ease.mean(axis=1, keepdims=True) for ease in (sim.next_ease, found.ease)
    )
    if spread:
        slope = (ahead * found_ahead).sum() / (found_ahead**2).sum()
        assert abs(slope - 1.0) < 0.05
