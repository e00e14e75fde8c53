from xml.etree import ElementTree

import pytest

from sidelong.clinic.look.marks import draw_mark, draw_pieces, draw_share, draw_stair


def parts(svg):
    return list(ElementTree.fromstring(svg))


def counted(svg, kind):
    return sum(each.get("class") == kind for each in parts(svg))


def test_answers_and_nights_differ_by_shape_alone():
    shapes = ("first", "later", "no", "unknown", "full", "part", "none", "band")
    drawn = {tuple((each.tag, each.get("class")) for each in parts(draw_mark(s))) for s in shapes}
    assert len(drawn) == len(shapes)


def test_an_unknown_mark_is_refused_with_the_known_ones():
    with pytest.raises(ValueError, match="first, later, no"):
        draw_mark("maybe")


@pytest.mark.parametrize(
    ("chance", "full", "halves"),
    [(0.0, 0, 1), (0.049, 0, 1), (0.05, 1, 0), (0.5, 5, 0), (0.94, 9, 0), (0.95, 9, 1), (1, 9, 1)],
)
def test_ten_pieces_are_never_all_and_never_none(chance, full, halves):
    drawn = parts(draw_pieces(chance))
    kinds = [(each.tag, each.get("class")) for each in drawn]
    assert kinds.count(("circle", "ring")) == 10
    assert kinds.count(("circle", "full")) == full
    assert kinds.count(("path", "full")) == halves


def test_pieces_fill_from_the_side_on_which_lines_begin():
    def first_x(svg):
        return next(float(e.get("cx")) for e in parts(svg) if e.get("class") == "full")

    assert first_x(draw_pieces(0.3)) == 8
    assert first_x(draw_pieces(0.3, flipped=True)) == 152


@pytest.mark.parametrize("rating", [1, 2, 3, 4, 5])
def test_a_rating_stands_on_its_own_step(rating):
    disc = next(e for e in parts(draw_stair(rating)) if e.tag == "circle")
    assert float(disc.get("cx")) == 10 * rating - 5
    top_of_step = 23 - 3 * rating
    assert float(disc.get("cy")) + float(disc.get("r")) == pytest.approx(top_of_step, abs=1.1)


def test_an_unanswered_stair_is_empty_and_a_rating_beyond_it_is_refused():
    assert counted(draw_stair(None), "full") == 0
    for rating in (0, 6):
        with pytest.raises(ValueError, match="not on the stair"):
            draw_stair(rating)


@pytest.mark.parametrize("share", [0.0, 0.25, 1.0])
def test_a_bar_is_as_high_as_its_share(share):
    frame, bar = parts(draw_share(share, is_ahead=True))
    assert float(bar.get("height")) == pytest.approx(share * float(frame.get("height")), abs=0.05)
    assert float(bar.get("y")) + float(bar.get("height")) == pytest.approx(38, abs=0.1)


@pytest.mark.parametrize("draw", [draw_share, draw_pieces])
def test_what_is_no_chance_is_refused(draw):
    for wrong in (-0.01, 1.01, float("nan")):
        with pytest.raises(ValueError, match=r"0\.\.1"):
            draw(wrong)
