from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.exchange.mapping import read_mapping
from sidelong.exchange.old_sheets import RatingScale
from sidelong.problems import Refused

LONG = """
shape = "long"
[columns]
trainee = "Child"
night = "Evening"
slot = "Try"
position = "Head"
rating = "Ease"
[scale]
hardest = 0
easiest = 10
"""


def save(folder: Path, text: str) -> Path:
    path = folder / "mapping.toml"
    path.write_text(text, encoding="utf-8")
    return path


def refusals(path: Path) -> list[str]:
    with pytest.raises(Refused) as caught:
        read_mapping(path)
    return [str(problem) for problem in caught.value.problems]


def test_mapping_of_a_long_sheet_is_read(tmp_path: Path) -> None:
    rules = read_mapping(save(tmp_path, LONG))
    assert rules.theirs == ("Child", "Evening", "Try", "Head", "Ease")
    assert (rules.is_wide, rules.slots, rules.header_row) == (False, "column", 1)
    assert rules.scale == RatingScale(0, 10)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("shape = long", "mapping.toml: it is not TOML in UTF-8 (at line 1"),
        (LONG.replace("shape", "shap"), "mapping.toml, shap: the key is unknown."),
        (LONG.replace('"long"', '"tall"'), "mapping.toml, shape: it is neither long nor wide"),
        (LONG.replace("trainee", "trainees"), "columns.trainees: the name is not one of ours"),
        (LONG.replace('trainee = "Child"', ""), "columns.trainee: it is missing"),
        (LONG.replace('night = "Evening"', ""), "columns.night: give one of night and date"),
        (LONG.replace('position = "Head"', ""), "columns.position: it is missing"),
        (LONG.replace('slot = "Try"', ""), "slots: no column holds the slots"),
        (LONG.replace('slot = "Try"', "slot = 3"), "slot: it names no column"),
        (LONG.split("[scale]")[0], "scale: the direction of the rating is not said"),
        (LONG.replace("easiest = 10", ""), "scale: it is not whole"),
        (LONG.replace("easiest = 10", "easiest = 0"), "hardest and easiest are the same"),
        (LONG.replace("easiest = 10", "easiest = nan"), "an end or a cut is not a number"),
        (LONG + "cuts = [1, 2, 3]", "cuts must be four numbers"),
        (LONG + "cuts = [8, 6, 3, 1]", "cuts must be four numbers from the hard"),
        (LONG + "cuts = [1, 2, 3, 10]", "between the ends"),
        (LONG + "[groups.left]\nrating='x'", "groups: a long sheet has none"),
        (LONG + "[groups.top]\nrating='x'", "groups.top: the name is not one of ours"),
        (LONG + "[words.rating]\nsad = 6", 'words.rating.sad: "6" is out of range'),
        (
            LONG + "[words.position]\nx = 'top'",
            "words.position.x: the text in this cell is not an answer",
        ),
        (LONG + "[words.best]\nx = 'top'", "words.best.x: it is not an answer"),
        (LONG + "[words]\nrating = 3", "words.rating: it is not a table"),
        (LONG + "[fixed]\npiece_mm = 0", 'fixed.piece_mm: "0" is out of range'),
        ("header_row = 0\n" + LONG, "header_row: there is no such row"),
        ("header_row = true\n" + LONG, "header_row: the value is of the wrong kind"),
        ("slots = 'order'\n" + LONG, "columns.order: it is missing"),
        ("slots = 'guess'\n" + LONG, "slots: it is not a source of the order"),
        ("slots = ['up', 'up']\n" + LONG, "slots: it is not an order of positions"),
        ("slots = [{a = 1}]\n" + LONG, "slots: it is not an order of positions"),
        ("ignored = [[1]]\n" + LONG, "ignored: it is not a list of words"),
        ("fill_down = ['x']\n" + LONG, "fill_down.x: the name is not one of ours"),
        ("time_zone = 'Nowhere/None'\n" + LONG, "time_zone: it is unknown"),
        ("times = '%H:%M'\n" + LONG, "time_zone: it is missing"),
        ("shape = 'wide'", "groups: they are missing"),
    ],
)
def test_mapping_that_does_not_say_enough_is_refused(tmp_path: Path, text: str, says: str) -> None:
    assert any(says in refusal for refusal in refusals(save(tmp_path, text)))


def test_every_fault_of_a_mapping_comes_at_once(tmp_path: Path) -> None:
    assert len(refusals(save(tmp_path, "shape = 'tall'\n[columns]\nmood = 'x'\n"))) >= 4


def test_word_of_a_broken_mapping_is_not_repeated(tmp_path: Path) -> None:
    text = LONG + "[words.trainee]\n'Ada Example' = 'a'\n'Ada Example' = 'b'\n"
    [refusal] = refusals(save(tmp_path, text))
    assert "Ada" not in refusal


KEYS = [
    "shape",
    "header_row",
    "columns",
    "groups",
    "slots",
    "fixed",
    "words",
    "scale",
    "dates",
    "times",
    "time_zone",
    "blanks",
    "fill_down",
    "ignored",
    "columns.best",
    "groups.up",
    "words.rating",
    "scale.cuts",
    "fixed.site",
]
VALUES = [
    "1",
    "-1",
    "nan",
    "true",
    "''",
    "'x'",
    "'up'",
    "[]",
    "[1]",
    "['up']",
    "[[]]",
    "{}",
    "{a=1}",
    "{a={b=1}}",
    "2026-03-01",
    "{up={rating='x'}}",
    "{rating={x=5}}",
]


@pytest.mark.parametrize("rest", ["", LONG], ids=["alone", "beside a mapping"])
@pytest.mark.parametrize("key", KEYS)
def test_whatever_a_key_holds_only_a_refusal_escapes(tmp_path: Path, key: str, rest: str) -> None:
    for value in VALUES:
        with suppress(Refused):
            assert read_mapping(save(tmp_path, f"{key} = {value}\n{rest}"))


# The scale


@pytest.mark.parametrize(
    ("scale", "ratings"),
    [
        (RatingScale(0, 10), [1, 1, 2, 2, 3, 3, 3, 4, 4, 5, 5]),
        (RatingScale(10, 0), [5, 5, 4, 4, 3, 3, 3, 2, 2, 1, 1]),
        (RatingScale(0, 10, (1, 3, 6, 8)), [1, 1, 2, 2, 3, 3, 3, 4, 4, 5, 5]),
        (RatingScale(10, 0, (8, 6, 3, 1)), [5, 4, 4, 3, 3, 3, 2, 2, 1, 1, 1]),
    ],
    ids=["0 to 10", "turned around", "with cuts", "turned around with cuts"],
)
def test_numbers_of_an_old_scale_become_ratings(scale: RatingScale, ratings: list[int]) -> None:
    assert [scale.rate(number) for number in range(11)] == ratings


@given(st.integers(2, 100), st.data())
def test_rating_is_the_nearest_in_exact_arithmetic(top: int, data: st.DataObject) -> None:
    """Against fractions: nearest of five equal steps, ties toward the middle."""
    number = data.draw(st.integers(0, top))
    exact = 1 + Fraction(4 * number, top)
    nearest = min(range(1, 6), key=lambda rating: (abs(exact - rating), abs(rating - 3)))
    assert RatingScale(0, top).rate(number) == nearest
    assert RatingScale(top, 0).rate(number) == 6 - nearest


def test_number_beyond_the_ends_is_no_rating() -> None:
    with pytest.raises(ValueError, match="11 is not within the ends"):
        RatingScale(0, 10).rate(11)
