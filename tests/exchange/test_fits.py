"""Stored fits."""

from datetime import date

import numpy as np
import pytest

from sidelong.exchange.fits import SHIPPED_FIT, StoredFit, read_fit, write_fit
from sidelong.pathway.fitting import fit_own
from sidelong.preferences import DEFAULT, Courses, Hyperparameters, simulate_courses
from sidelong.problems import Refused

TODAY = date(2025, 3, 1)


def practised(n: int, *, nights: int = 6) -> Courses:
    rng = np.random.default_rng(5)
    orders = np.argsort(rng.random((n, nights, 5)), axis=2)
    return simulate_courses(orders, hyperparameters=DEFAULT, rng=rng).courses


@pytest.fixture(scope="module")
def own() -> StoredFit:
    return fit_own(practised(10), today=TODAY).fit


def test_fit_comes_back_as_it_was_stored(tmp_path):
    fit = StoredFit(Hyperparameters(spread_sd=0.71), "made from 60 invented trainees")
    write_fit(tmp_path / "fit.json", fit)
    assert read_fit(tmp_path / "fit.json") == fit


def test_a_fit_with_all_that_is_left_possible_comes_back_too(own, tmp_path):
    write_fit(tmp_path / "fit.json", own)
    assert own.mixture is not None
    assert read_fit(tmp_path / "fit.json") == own
    assert own.shared == own.mixture


def test_a_fit_of_the_first_format_can_still_be_read(tmp_path):
    write_fit(tmp_path / "fit.json", SHIPPED_FIT)
    text = (tmp_path / "fit.json").read_text("utf-8").replace("sidelong fit 2", "sidelong fit 1")
    (tmp_path / "fit.json").write_text(text, "utf-8")
    assert read_fit(tmp_path / "fit.json") == SHIPPED_FIT


@pytest.mark.parametrize("text", ["not json", "[]", '{"format": "another"}', "\x00\x01"])
def test_anything_else_is_refused_with_a_remedy(tmp_path, text):
    (tmp_path / "fit.json").write_text(text, "utf-8")
    with pytest.raises(Refused, match="stored as a fit"):
        read_fit(tmp_path / "fit.json")


def test_hyperparameters_out_of_range_are_refused(tmp_path):
    write_fit(tmp_path / "fit.json", SHIPPED_FIT)
    text = (tmp_path / "fit.json").read_text("utf-8").replace('"drift_sd": 0', '"drift_sd": -1')
    (tmp_path / "fit.json").write_text(text, "utf-8")
    with pytest.raises(Refused, match="drift_sd"):
        read_fit(tmp_path / "fit.json")


def test_a_number_that_is_none_is_refused(tmp_path):
    write_fit(tmp_path / "fit.json", SHIPPED_FIT)
    text = (tmp_path / "fit.json").read_text("utf-8")
    (tmp_path / "fit.json").write_text(text.replace("0.12", "NaN", 1), "utf-8")
    with pytest.raises(Refused, match="stored as a fit"):
        read_fit(tmp_path / "fit.json")


def test_weights_that_do_not_sum_to_1_are_refused(own, tmp_path):
    write_fit(tmp_path / "fit.json", own)
    text = (tmp_path / "fit.json").read_text("utf-8").replace("0.03125", "0.5", 1)
    (tmp_path / "fit.json").write_text(text, "utf-8")
    with pytest.raises(Refused, match="sum to 1"):
        read_fit(tmp_path / "fit.json")
