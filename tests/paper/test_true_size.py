"""The true-size page: values that others have published, printed at their size."""

import numpy as np
import pytest
from printed import PIECES, invent_plan, is_dark, mm, picture, print_booklet, px, read_text
from scipy import ndimage

from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.paper.true_size import CAPSULE_SIZES, pieces_of, set_true_size

PAGE = 8

# Closed length and cap diameter, mm, as a pharmaceutics handbook prints them (from memory); the
# page prints suppliers' charts (read at second hand). Makers differ by 0.3 to 0.5 mm in length
# and 0.05 mm in diameter (from memory).
HANDBOOK = {
    "000": (26.1, 9.91),
    "00": (23.3, 8.53),
    "0": (21.7, 7.65),
    "1": (19.4, 6.91),
    "2": (18.0, 6.35),
    "3": (15.9, 5.82),
    "4": (14.3, 5.32),
    "5": (11.1, 4.91),
}


def test_capsule_sizes_agree_with_the_handbook_within_what_makers_differ() -> None:
    assert [size.name for size in CAPSULE_SIZES] == list(HANDBOOK)
    for size in CAPSULE_SIZES:
        length, diameter = HANDBOOK[size.name]
        assert size.length_mm == pytest.approx(length, abs=0.5)
        assert size.diameter_mm == pytest.approx(diameter, abs=0.05 + 1e-9)


def test_capsules_shrink_as_their_number_grows() -> None:
    lengths = [size.length_mm for size in CAPSULE_SIZES]
    widths = [size.diameter_mm for size in CAPSULE_SIZES]
    assert lengths == sorted(lengths, reverse=True)
    assert widths == sorted(widths, reverse=True)


@pytest.mark.parametrize("paper", list(Paper))
def test_capsules_are_printed_at_their_size(paper: Paper) -> None:
    image = is_dark(picture(print_booklet(paper=paper), page=PAGE))
    found = outlines(image)
    for size in CAPSULE_SIZES:
        near = [
            (length, width)
            for length, width in found
            if abs(length - size.length_mm) < 0.2 and abs(width - size.diameter_mm) < 0.2
        ]
        assert near, f"no outline of {size.length_mm} x {size.diameter_mm} mm was found"


@pytest.mark.parametrize("width", [8.0, 15.0, 17.0])
def test_the_gullet_is_printed_at_its_width(width: float) -> None:
    image = is_dark(picture(print_booklet(), page=PAGE))
    assert any(abs(h - width) < 0.2 and abs(w - width) < 0.2 for h, w in outlines(image))


def outlines(image: np.ndarray) -> list[tuple[float, float]]:
    """Measure every connected patch of ink, longer side first by the page, mm."""
    labels, _ = ndimage.label(image, structure=np.ones((3, 3)))
    return [
        (mm(columns.stop - columns.start), mm(rows.stop - rows.start))
        for rows, columns in ndimage.find_objects(labels)
        if rows.stop - rows.start > px(3)
    ]


def test_the_page_shows_each_piece_of_the_plan_once_small_to_large() -> None:
    shown = pieces_of(invent_plan(), PIECES)
    assert [(size, None if piece is None else piece.code) for size, piece in shown] == [
        (4.0, "S4"),
        (15.8, "C3"),
    ]
    page = set_true_size(invent_plan(), pieces=PIECES, language=read_language("en"))
    assert [piece["words"] for piece in page["pieces"]] == ["S4: 4 mm", "C3: 15.8 × 5.85 mm"]


def test_a_piece_known_by_its_size_alone_is_drawn_round() -> None:
    page = set_true_size(invent_plan(), pieces=(), language=read_language("en"))
    assert [(piece["l"], piece["b"]) for piece in page["pieces"]] == [(4.0, 4.0), (15.8, 15.8)]


def test_the_page_says_what_to_do_when_the_line_is_wrong_and_where_values_come_from() -> None:
    text = " ".join(read_text(print_booklet(), page=PAGE).split())
    for words in (
        "It must measure 100 mm.",
        "print again at 100 %",
        "differ a little between makers",
        "read at second hand",
        "It does not say that a piece is safe for one person.",
    ):
        assert words in text, words
    assert "collapsed" not in text
