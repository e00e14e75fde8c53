"""Charts against the values they are drawn from: positions read back from the drawing."""

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from sidelong.clinic.look.chances import picture_chances
from sidelong.clinic.look.earlier import picture_earlier
from sidelong.clinic.look.samples import sample_course
from sidelong.clinic.look.trend import draw_panel, picture_trend
from sidelong.paper.charts import TrendChart, TrendMark, TrendPanel, TrendPoint
from sidelong.paper.language import read_language
from sidelong.training.estimate import EarlierAnswer, Estimate, PositionEstimate, Verdict
from sidelong.training.position import Position

ENGLISH = read_language("en")
POINTS = (TrendPoint(1, 2.0, 1.5, 2.5), TrendPoint(2, 3.0, 2.0, 4.0), TrendPoint(3, 5.0, 4.0, 5.0))
MARKS = (
    TrendMark(1, 1, "no"),
    TrendMark(2, 3, "later"),
    TrendMark(3, 5, "first"),
    TrendMark(3, None, "unknown"),
)
PANEL = TrendPanel(Position.LEFT, "Left", POINTS, MARKS)
LEGEND = (("first", "at the first try"), ("later", "later"), ("no", "not"), ("unknown", "unsaid"))
CHART = TrendChart("What is shown.", 3, "very hard", "very easy", "night", LEGEND, (PANEL,))


def drawn(panel=PANEL, *, flipped=False):
    return list(ElementTree.fromstring(draw_panel(panel, chart=CHART, flipped=flipped)))


def by_class(parts, kind):
    return [each for each in parts if each.get("class") == kind]


def numbers(path):
    flat = [float(each) for each in re.findall(r"-?\d+\.?\d*", path)]
    return list(zip(flat[::2], flat[1::2], strict=True))


def height_of(rating):
    """Read the height of a rating off the drawn lines themselves: hair 1 is rating 1."""
    lines = by_class(drawn(), "hair")
    return float(re.match(r"M[\d.]+ ([\d.]+)", lines[rating - 1].get("d"))[1])


def test_the_line_passes_through_the_expected_ratings():
    line = numbers(by_class(drawn(), "middle")[0].get("d"))
    assert [y for _, y in line] == pytest.approx(
        [height_of(2), height_of(3), height_of(5)], abs=0.1
    )
    steps = [b - a for (a, _), (b, _) in pairwise(line)]
    assert steps[0] == pytest.approx(steps[1], abs=0.15)
    assert steps[0] > 0


def test_the_band_goes_out_along_the_upper_ends_and_back_along_the_lower():
    band = numbers(by_class(drawn(), "band")[0].get("d"))
    line = numbers(by_class(drawn(), "middle")[0].get("d"))
    assert len(band) == 6
    for (x, upper), (back_x, lower), (mid_x, middle) in zip(
        band[:3], band[:2:-1], line, strict=True
    ):
        assert x == back_x == mid_x
        assert upper <= middle <= lower


def test_marks_stand_at_their_night_and_rating_in_their_own_shape():
    parts, line = drawn(), numbers(by_class(drawn(), "middle")[0].get("d"))
    later, first = by_class(parts, "ring")[0], by_class(parts, "full")[0]
    assert float(later.get("cx")) == pytest.approx(line[1][0], abs=0.1)
    assert float(later.get("cy")) == pytest.approx(height_of(3), abs=0.1)
    assert float(first.get("cy")) == pytest.approx(height_of(5), abs=0.1)
    cross = by_class(parts, "stroke")[0]
    x, y = numbers(cross.get("d"))[0]
    assert (x + 3.6, y + 3.6) == pytest.approx((line[0][0], height_of(1)), abs=0.15)
    blank = by_class(parts, "pale")[0]
    ground = float(re.search(r" ([\d.]+) H", by_class(parts, "ground")[0].get("d"))[1])
    assert float(blank.get("y")) + 3.6 == pytest.approx(ground, abs=0.1)


def test_time_runs_with_the_lines_and_ratings_stay_upright():
    usual = numbers(by_class(drawn(), "middle")[0].get("d"))
    flipped = numbers(by_class(drawn(flipped=True), "middle")[0].get("d"))
    assert [y for _, y in usual] == [y for _, y in flipped]
    assert [x for x, _ in flipped] == sorted((x for x, _ in flipped), reverse=True)


def test_a_course_of_one_night_and_a_panel_without_points_can_be_drawn():
    one = TrendChart("One night.", 1, "low", "high", "night", (), (PANEL,))
    svg = draw_panel(TrendPanel(Position.UP, "Up", (), ()), chart=one)
    assert by_class(ElementTree.fromstring(svg), "middle") == []
    assert len(by_class(ElementTree.fromstring(svg), "hair")) == 5


def test_the_table_behind_repeats_every_mark_and_interval():
    picture = picture_trend(CHART, language=ENGLISH)
    cells = [cells[0] for _, cells in picture.rows]
    assert [night for night, _ in picture.rows] == [1, 2, 3]
    assert [(c.rating, c.outcome_words) for c in cells[:2]] == [("1", "not"), ("3", "later")]
    assert [c.estimate for c in cells] == [
        "2.0 (1.5 to 2.5)",
        "3.0 (2.0 to 4.0)",
        "5.0 (4.0 to 5.0)",
    ]


def estimate_of(*chances, closed=()):
    positions = tuple(
        PositionEstimate(p, c, 0.5, 3.0, 0.5, 2.0, 4.0, may_recommend=p not in closed)
        for p, c in zip(Position, chances, strict=False)
    )
    earlier = (EarlierAnswer(3, chances, Verdict.TOO_CLOSE),)
    return Estimate("XX-1", positions, 14, 14, Verdict.LIKELY, earlier=earlier)


def test_the_way_to_the_answer_shows_every_moment_and_who_was_ahead():
    picture = picture_earlier(estimate_of(0.2, 0.5, 0.3), language=ENGLISH)
    assert [(m.when, m.verdict) for m in picture.moments] == [
        ("After night 3", "too close to call"),
        ("Night 14, now", "one is probably ahead"),
    ]
    ahead = [[share.is_ahead for share in shares] for _, _, shares in picture.rows]
    assert ahead == [[False, False], [True, True], [False, False]]
    assert [shares[0].words for _, _, shares in picture.rows] == [
        "20\u00a0%",
        "50\u00a0%",
        "30\u00a0%",
    ]


def test_a_closed_position_is_never_shown_ahead():
    estimate = estimate_of(0.2, 0.5, 0.3, closed={Position.LEFT})
    picture = picture_earlier(estimate, language=ENGLISH)
    assert [shares[0].is_ahead for _, _, shares in picture.rows] == [False, False, True]


def test_nothing_is_drawn_before_the_first_night():
    nothing = Estimate("XX-1", estimate_of(1.0).positions, 0, 14, Verdict.INSUFFICIENT)
    assert picture_earlier(nothing, language=ENGLISH).moments == ()


def test_chances_stand_in_the_order_of_the_report_first_try_before_best():
    course = sample_course()
    picture = picture_chances(course.report.chances, estimate=course.estimate, language=ENGLISH)
    assert [each.row for each in picture.rows] == list(course.report.chances.rows)
    assert "first try" in picture.columns[1]
    assert "Easiest" in picture.columns[3]
    assert sum(each.is_ahead for each in picture.rows) == 1


def test_chances_of_somebody_else_are_refused():
    with pytest.raises(ValueError, match="same positions"):
        picture_chances(
            sample_course().report.chances, estimate=estimate_of(0.4, 0.6), language=ENGLISH
        )
