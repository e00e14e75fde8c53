"""Old spreadsheets; every one of them is invented."""

import re
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.entries import read_entries, write_entries
from sidelong.exchange.mapped_entries import read_mapped_entries
from sidelong.problems import Refused
from sidelong.training.entry import WentDown
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position

SHEETS = Path(__file__).parent / "old_sheets"
PAGE = Path(__file__).parents[2] / "docs" / "schemas" / "mapping.md"
MAPPING = """
shape = "long"
[columns]
trainee = "Child"
night = "Evening"
slot = "Try"
position = "Head"
rating = "Ease"
went_down = "Down?"
[scale]
hardest = 0
easiest = 10
[words.position]
tucked = "down"
[words.went_down]
yes = "first"
"""
SHEET = "Child,Evening,Try,Head,Ease,Down?\n"


def save(folder: Path, sheet: str, mapping: str = MAPPING) -> tuple[Path, Path]:
    paths = folder / "old.csv", folder / "mapping.toml"
    for path, text in zip(paths, (sheet, mapping), strict=True):
        path.write_text(text, encoding="utf-8")
    return paths


def refusals(folder: Path, sheet: str, mapping: str = MAPPING, **against: object) -> list[str]:
    path, rules = save(folder, sheet, mapping)
    with pytest.raises(Refused) as caught:
        read_mapped_entries(path, mapping=rules, **against)
    return [str(problem) for problem in caught.value.problems]


def test_example_of_the_manual_becomes_what_it_says(tmp_path: Path) -> None:
    blocks = dict(re.findall(r"```(csv|toml)\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S))
    sheet, wanted = re.findall(r"```csv\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)
    path, rules = save(tmp_path, sheet, blocks["toml"])
    found = read_mapped_entries(path, mapping=rules)
    write_entries(tmp_path / "new.csv", found.entries)
    assert (tmp_path / "new.csv").read_text(encoding="utf-8") == wanted
    assert found.notices == ()


def test_wide_sheet_with_titles_dates_orders_and_a_turned_scale() -> None:
    found = read_mapped_entries(SHEETS / "wide.csv", mapping=SHEETS / "wide.toml")
    first, second, third, other = found.entries
    assert [(each.trainee, each.night) for each in found.entries] == [
        ("HL-0007", 1), ("HL-0007", 2), ("HL-0007", 3), ("HL-0008", 1),
    ]  # fmt: skip
    # Typed from the sheet by hand: 1 March, order S D L R, marks 0 5 2 10 with 0 the easiest.
    assert [
        (row.slot, row.position, row.rating, row.went_down, row.piece_mm) for row in first.rows
    ] == [
        (1, Position.CENTRE, 5, WentDown.FIRST, 4.5),
        (2, Position.DOWN, 4, WentDown.FIRST, 4.5),
        (3, Position.LEFT, 3, WentDown.LATER, 4.5),
        (4, Position.RIGHT, 1, WentDown.NO, 4.5),
    ]
    assert first.felt_best is Position.CENTRE
    assert second.all_the_same
    assert [row.slot for row in second.rows] == [1, 2]
    assert (third.felt_best, third.all_the_same) == (None, False)
    assert third.rows[0].rating == 2
    assert third.rows[1].rating is None
    assert other.felt_best is None
    assert found.notices == ()


def test_long_sheet_takes_its_order_from_the_plan(tmp_path: Path) -> None:
    mapping = 'slots = "plans"\n' + MAPPING.replace('slot = "Try"\n', "")
    path, rules = save(
        tmp_path, "Child,Evening,Head,Ease,Down?\nA,1,up,3,yes\nA,1,tucked,7,yes\n", mapping
    )
    plans = (Plan("A", (Night((Position.DOWN, Position.UP), 5.0),)),)
    [entry] = read_mapped_entries(path, mapping=rules, plans=plans).entries
    assert [row.position for row in entry.rows] == [Position.DOWN, Position.UP]
    with pytest.raises(Refused, match="none were given"):
        read_mapped_entries(path, mapping=rules)


@pytest.mark.parametrize(
    ("slots", "wanted"),
    [('"rows"', {"up": 1, "down": 2}), ('["down", "left", "up"]', {"down": 1, "up": 3})],
)
def test_order_is_that_of_the_rows_or_the_same_every_night(
    tmp_path: Path, slots: str, wanted: dict[str, int]
) -> None:
    mapping = f"slots = {slots}\n" + MAPPING.replace('slot = "Try"\n', "")
    sheet = "Child,Evening,Head,Ease,Down?\nA,1,up,3,yes\nA,1,tucked,7,yes\n"
    path, rules = save(tmp_path, sheet, mapping)
    [entry] = read_mapped_entries(path, mapping=rules).entries
    assert {row.position.value: row.slot for row in entry.rows} == wanted


@pytest.mark.parametrize("order", ["down, up", "D U", "DU", "tucked/u", "D->U"])
def test_order_is_read_however_it_is_written(tmp_path: Path, order: str) -> None:
    mapping = 'slots = "order"\n' + MAPPING.replace('slot = "Try"', 'order = "Try"')
    mapping += '[words.order]\nD = "down"\nU = "up"\n'
    sheet = f'{SHEET}A,1,"{order}",up,3,yes\nA,1,,tucked,7,yes\n'
    path, rules = save(tmp_path, sheet, mapping)
    [entry] = read_mapped_entries(path, mapping=rules).entries
    assert [row.position.value for row in entry.rows] == ["down", "up"]


def test_cells_are_filled_down_and_fixed_where_it_is_said(tmp_path: Path) -> None:
    mapping = (
        'fill_down = ["trainee", "night"]\n' + MAPPING + "[fixed]\npiece_mm = 4.5\nscale = 5\n"
    )
    path, rules = save(
        tmp_path, f"{SHEET}A,1,1,up,3,yes\n,,2,tucked,7,yes\n,2,1,up,0,no\n", mapping
    )
    entries = read_mapped_entries(path, mapping=rules).entries
    assert [(each.trainee, each.night, len(each.rows)) for each in entries] == [
        ("A", 1, 2), ("A", 2, 1),
    ]  # fmt: skip
    assert entries[1].rows[0].piece_mm == 4.5


def test_times_of_another_format_and_zone_become_utc(tmp_path: Path) -> None:
    mapping = 'times = "%d.%m.%Y %H:%M"\ntime_zone = "Europe/Berlin"\n' + MAPPING
    mapping = mapping.replace('slot = "Try"', 'slot = "Try"\nwritten_at = "When"')
    sheet = (
        SHEET.strip() + ",When\nA,1,1,up,3,yes,01.03.2026 19:30\nA,2,1,up,3,yes,01.07.2026 19:30\n"
    )
    path, rules = save(tmp_path, sheet, mapping)
    times = [entry.written_at for entry in read_mapped_entries(path, mapping=rules).entries]
    assert [f"{time:%Y-%m-%dT%H:%M%z}" for time in times if time] == [
        "2026-03-01T18:30+0000",  # winter: one hour ahead of UTC
        "2026-07-01T17:30+0000",  # summer: two
    ]


FAULTS = {
    "a word that is not mapped": (
        "A,1,1,sideways,3,yes",
        "old.csv, row 2, Head: the text in this cell is not a position of the mapping. Correct it, "
        "or say what it means under [words.position] of mapping.toml.",
    ),
    "an answer that is not mapped": (
        "A,1,1,up,3,perhaps",
        "old.csv, row 2, Down?: the text in this cell is not an answer. Correct it, or say what it "
        "means under [words.went_down] of mapping.toml.",
    ),
    "a number beyond the scale": (
        "A,1,1,up,11,yes",
        'old.csv, row 2, Ease: "11" is not on the old scale. Use a number from 0 (hardest) to 10 '
        "(easiest), or say what it means under [words.rating] of mapping.toml.",
    ),
    "a name in place of a code": (
        "Ada Example,1,1,up,3,yes",
        "old.csv, row 2, Child: it is not a code. Use 1 to 40 letters",
    ),
    "a missing night": ("A,,1,up,3,yes", "old.csv, row 2, Evening: it is empty."),
    "a slot twice": (
        "A,1,1,up,3,yes\nA,1,1,tucked,3,yes",
        "old.csv, row 3, Try: slot 1 of night 1 is there twice, first in row 2.",
    ),
}


@pytest.mark.parametrize(("rows", "says"), FAULTS.values(), ids=FAULTS)
def test_fault_is_named_with_the_old_row_and_column(tmp_path: Path, rows: str, says: str) -> None:
    [text] = refusals(tmp_path, f"{SHEET}{rows}\n")
    assert text.startswith(says)
    assert "Ada" not in text


def test_column_of_which_the_mapping_says_nothing_is_refused(tmp_path: Path) -> None:
    sheet = SHEET.strip() + ",Mood,\nA,1,1,up,3,yes,good,stray\n"
    assert [text.split(". ")[0] for text in refusals(tmp_path, sheet)] == [
        "old.csv, row 1, Mood: the mapping says nothing of it",
        "old.csv, row 1, column 8: it has values but no name",
    ]
    path, rules = save(tmp_path, sheet.replace(",stray", ","), 'ignored = ["Mood"]\n' + MAPPING)
    assert read_mapped_entries(path, mapping=rules).entries


def test_missing_columns_are_named(tmp_path: Path) -> None:
    [text] = refusals(
        tmp_path,
        SHEET.replace("Ease", "Easy") + "A,1,1,up,3,yes\n",
        'ignored = ["Easy"]\n' + MAPPING,
    )
    assert text.startswith("old.csv, row 1, Ease: the column that the mapping names is missing.")
    [text] = refusals(tmp_path, "x,y\n1,2\n")
    assert text.startswith("old.csv, row 1: none of the columns that the mapping names is in it.")


WIDE = """
shape = "wide"
slots = ["down", "up"]
[columns]
trainee = "Child"
date = "Day"
best = "Best"
[groups.down]
rating = "D"
[groups.up]
rating = "U"
[words.rating]
ok = 4
"""


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("A,2026-03-01,up,ok,\n", "old.csv, row 2, Best: the best has no answers in this night."),
        ("A,2026-03-01,left,ok,\n", "old.csv, row 2, Best: the best has no answers in this night."),
        (
            "A,2026-03-01,top,ok,ok\n",
            "old.csv, row 2, Best: the text in this cell is not a position of",
        ),
        (
            "A,1.3.26,up,ok,ok\n",
            "old.csv, row 2, Day: the text in this cell is not a date of that format.",
        ),
        (
            "A,2026-03-01,up,fine,ok\n",
            "old.csv, row 2, D: the text in this cell is not in the mapping.",
        ),
        ("A,,up,ok,ok\n", "old.csv, row 2, Day: it is empty."),
        ("A,2026-03-01,,ok,\nA,2026-03-01,,ok,\n", "old.csv, row 3: the row is the same as row 2."),
        ("A,2026-03-01,,,\n", "old.csv: it has no rows with answers."),
    ],
)
def test_fault_of_a_wide_sheet_is_told_once(tmp_path: Path, rows: str, says: str) -> None:
    [text] = refusals(tmp_path, "Child,Day,Best,D,U\n" + rows, WIDE)
    assert text.startswith(says)


def test_translated_table_reads_back_as_the_same_entries(tmp_path: Path) -> None:
    found = read_mapped_entries(SHEETS / "wide.csv", mapping=SHEETS / "wide.toml")
    write_entries(tmp_path / "new.csv", found.entries)
    assert read_entries(tmp_path / "new.csv").entries == found.entries


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    cells=st.lists(
        st.lists(
            st.sampled_from(["", "A", "1", "2", "up", "tucked", "down", "ok", "2026-03-01", "x y"])
            | st.text(max_size=5),
            min_size=5,
            max_size=6,
        ),
        min_size=1,
        max_size=4,
    ),
    is_wide=st.booleans(),
)
def test_whatever_the_cells_only_a_refusal_escapes(
    tmp_path: Path, cells: list[list[str]], is_wide: bool
) -> None:
    head, mapping = ("Child,Day,Best,D,U\n", WIDE) if is_wide else (SHEET, MAPPING)
    sheet = head + "\n".join(",".join(row).replace("\n", " ") for row in cells) + "\n"
    path, rules = save(tmp_path, sheet, mapping)
    with suppress(Refused):
        assert read_mapped_entries(path, mapping=rules).entries
