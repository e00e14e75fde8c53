"""Ink where a date is written is told from paper, shadow and noise."""

from typing import Any

import cv2
import numpy as np
import pytest

from sidelong.clinic.sheets.reading import ink_share

ROWS, COLUMNS = 40, 190  # 8 by 38 mm


def paper(*, shadow: float = 0.0, noise: float = 1.0, grey: float = 230.0) -> Any:
    fall = 1 - shadow * np.linspace(0, 1, COLUMNS)
    pixels = grey * fall * np.ones((ROWS, 1))
    pixels = pixels + np.random.default_rng(3).normal(0, noise, pixels.shape)
    return np.repeat(np.clip(pixels, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)


def written(pixels: Any, *, darker: float) -> Any:
    mask = np.zeros(pixels.shape[:2], np.uint8)
    cv2.putText(mask, "3.12.", (8, 30), cv2.FONT_HERSHEY_SIMPLEX, 0.8, 255, 2)
    dark = pixels.astype(np.float64) * np.where(mask[:, :, None] > 0, 1 - darker, 1)
    return dark.astype(np.uint8)


@pytest.mark.parametrize(
    "sheet", [paper(), paper(shadow=0.6), paper(noise=12), paper(grey=60, noise=4)]
)
def test_paper_without_a_date_has_no_ink(sheet: Any) -> None:
    assert ink_share(sheet) < 0.004


@pytest.mark.parametrize(
    ("sheet", "darker"),
    [(paper(), 0.7), (paper(), 0.15), (paper(shadow=0.6), 0.3), (paper(noise=6), 0.5)],
)
def test_a_date_leaves_ink_be_it_faint_or_in_a_shadow(sheet: Any, darker: float) -> None:
    assert ink_share(written(sheet, darker=darker)) > 0.02
