"""The plot of promises kept: where its marks lie, and what it says without being seen."""

import re

import numpy as np
import pytest

from sidelong.clinic.look.calibration import draw_calibration, picture_calibration
from sidelong.outcomes import CalibrationTable, tabulate_calibration


@pytest.fixture
def table() -> CalibrationTable:
    """Two groups: one as it was said, one far below."""
    chances = np.repeat([0.5, 0.9], [10, 20])
    happened = np.concatenate([np.arange(10) < 5, np.arange(20) < 6])
    return tabulate_calibration(chances, happened, n_groups=2)


def marks(svg: str) -> list[tuple[float, float, str]]:
    found = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="6.5" class="(\w+)"', svg)
    return [(float(x), float(y), kind) for x, y, kind in found]


def test_a_mark_lies_where_chance_and_share_meet(table: CalibrationTable) -> None:
    (x1, y1, kind1), (x2, y2, kind2) = marks(draw_calibration(table, chances=()))
    ground = re.search(
        r'<path d="M(\d+) (\d+) V(\d+) H(\d+)" class="ground"', draw_calibration(table, chances=())
    )
    left, top, foot, right = map(float, ground.groups())
    assert [(x - left) / (right - left) for x in (x1, x2)] == pytest.approx([0.5, 0.9], abs=1e-3)
    assert [(foot - y) / (foot - top) for y in (y1, y2)] == pytest.approx([0.5, 0.3], abs=1e-3)
    assert (kind1, kind2) == ("full", "ring"), "shape says whether a group agrees"


def test_every_stated_chance_has_its_stroke(table: CalibrationTable) -> None:
    strokes = re.search(
        r'<path d="([^"]+)" class="said"/>', draw_calibration(table, chances=(0.2, 0.9))
    )
    assert strokes.group(1).count("v8") == 2
    assert 'class="said"' not in draw_calibration(table, chances=())


def test_the_plot_says_in_words_what_it_shows(table: CalibrationTable) -> None:
    picture = picture_calibration(table, chances=(0.5,))
    assert "in 2 groups; in 1 of them the interval holds what was said" in picture.alt
    assert "said 90 %, seen 30 % of 20" in picture.alt
    assert [row.agrees for row in picture.rows] == [True, False]
    assert [(row.n, row.n_happened) for row in picture.rows] == [(10, 5), (20, 6)]
