"""Stored fits."""

import pytest

from sidelong.exchange.fits import SHIPPED_FIT, StoredFit, read_fit, write_fit
from sidelong.preferences import Hyperparameters
from sidelong.problems import Refused


def test_fit_comes_back_as_it_was_stored(tmp_path):
    fit = StoredFit(Hyperparameters(spread_sd=0.71), "made from 60 invented trainees")
    write_fit(tmp_path / "fit.json", fit)
    assert read_fit(tmp_path / "fit.json") == fit


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
