from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange.entries import EntriesRead, read_entries, write_entries
from sidelong.problems import Refused
from sidelong.training.entry import (
    Entry,
    EntryRow,
    RatedBy,
    Scale,
    Source,
    WentDown,
    WhyNot,
    Written,
)
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position

HEAD = "trainee,night,slot,position,piece_mm,rating,went_down,felt_best"
UP, DOWN, LEFT = Position.UP, Position.DOWN, Position.LEFT
PLANS = (
    Plan("HL-0001", (Night((UP, DOWN), 5.0), Night((DOWN, UP), 5.0)), site="harbour"),
    Plan("HL-0002", (Night((UP, LEFT), 5.0),)),
)


@st.composite
def one_entry(draw: st.DrawFn, key: tuple[str, int, int, int]) -> Entry:
    scale = draw(st.sampled_from(Scale))
    places = draw(
        st.lists(
            st.tuples(st.integers(1, 5), st.sampled_from(Position)),
            min_size=1,
            max_size=5,
            unique_by=(lambda place: place[0], lambda place: place[1]),
        )
    )
    rows = tuple(
        EntryRow(
            slot=slot,
            position=position,
            piece_mm=draw(st.none() | st.floats(0.01, 50)),
            rating=draw(st.none() | st.sampled_from(scale.ratings)),
            went_down=draw(st.none() | st.sampled_from(WentDown)),
            why_not=draw(st.none() | st.sampled_from(WhyNot)),
            rated_by=draw(st.none() | st.sampled_from(RatedBy)),
            piece=draw(st.sampled_from(["", "bead-3"])),
        )
        for slot, position in sorted(places)
    )
    all_the_same = draw(st.booleans())
    trainee, course, version, night = key
    return Entry(
        trainee=trainee,
        night=night,
        rows=rows,
        felt_best=None
        if all_the_same
        else draw(st.none() | st.sampled_from([row.position for row in rows])),
        all_the_same=all_the_same,
        course=course,
        version=version,
        scale=scale,
        written_at=draw(
            st.none()
            | st.datetimes(
                datetime(2020, 1, 1),  # noqa: DTZ001 - the strategy adds the zone
                datetime(2030, 1, 1),  # noqa: DTZ001
                timezones=st.sampled_from([UTC, timezone(timedelta(hours=-3))]),
            )
        ),
        written=draw(st.none() | st.sampled_from(Written)),
        source=draw(st.none() | st.sampled_from(Source)),
        site=draw(st.sampled_from(["", "harbour"])),
        band=draw(st.sampled_from(["", "younger"])),
    )


@st.composite
def some_entries(draw: st.DrawFn) -> tuple[Entry, ...]:
    keys = st.tuples(
        st.sampled_from(["A-1", "B.2"]), st.integers(1, 2), st.integers(1, 2), st.integers(1, 20)
    )
    nights = sorted(draw(st.lists(keys, min_size=1, max_size=6, unique=True)))
    return tuple(draw(one_entry(key)) for key in nights)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    deadline=None,
    max_examples=60,
)
@given(entries=some_entries(), name=st.sampled_from(["e.csv", "e.parquet"]))
def test_entries_come_back_as_they_were_written(
    tmp_path: Path, entries: tuple[Entry, ...], name: str
) -> None:
    write_entries(tmp_path / name, entries)
    assert read_entries(tmp_path / name).entries == entries


def save(folder: Path, *rows: str, more: str = "") -> Path:
    path = folder / "entries.csv"
    path.write_text("\n".join([HEAD + more, *rows]) + "\n", encoding="utf-8")
    return path


def refusals(path: Path, **against: object) -> list[str]:
    with pytest.raises(Refused) as caught:
        read_entries(path, **against)
    assert all(problem.remedy.endswith((".", "?")) for problem in caught.value.problems)
    return [str(problem) for problem in caught.value.problems]


def read(path: Path, **against: object) -> tuple[EntriesRead, list[str]]:
    found = read_entries(path, **against)
    return found, [str(notice) for notice in found.notices]


ROW = "HL-0001,1,1,up,5,4,first,1"
FAULTS = {
    "a row twice": (
        [ROW, ROW],
        ["entries.csv, row 3: the row is the same as row 2. Delete one."],
    ),
    "a position twice": (
        [ROW, "HL-0001,1,2,up,5,4,first,0"],
        ["entries.csv, row 3, position: position up of night 1 is there twice, first in row 2."],
    ),
    "a slot twice": (
        [ROW, "HL-0001,1,1,down,5,4,first,0"],
        ["entries.csv, row 3, slot: slot 1 of night 1 is there twice, first in row 2."],
    ),
    "two bests": (
        [ROW, "HL-0001,1,2,down,5,4,first,1"],
        ["entries.csv, row 3, felt_best: night 1 has two bests, first in row 2."],
    ),
    "a best of 2": (
        ["HL-0001,1,1,up,5,4,first,2"],
        ['entries.csv, row 2, felt_best: "2" is out of range. Use a whole number from 0 to 1,'],
    ),
    "an unknown word": (
        ["HL-0001,1,1,up,5,4,maybe,1"],
        ["entries.csv, row 2, went_down: the text in this cell is not an answer. Use first, l"],
    ),
    "a rating of 6": (
        ["HL-0001,1,1,up,5,6,first,1"],
        ['entries.csv, row 2, rating: "6" is out of range.'],
    ),
    "codes that differ in case": (
        [ROW, "hl-0001,2,1,up,5,4,first,1"],
        ["entries.csv, row 3, trainee: hl-0001 differs only in capitals from HL-0001 in row 2."],
    ),
    "a bad position makes no second fault": (
        [ROW, "HL-0001,1,1,top,5,4,first,0"],
        ["entries.csv, row 3, position: the text in this cell i"],
    ),
    "everything at once": (
        ["HL-0001,1,1,up,x,4,first,1", "HL-0001,1,2,down,5,4,first,1", "HL-0001,,1,up,5,,,"],
        [
            'entries.csv, row 2, piece_mm: "x" is not a number.',
            "entries.csv, row 4, night: it is empty.",
            "entries.csv, row 3, felt_best: night 1 has two bests, first in row 2.",
        ],
    ),
}


@pytest.mark.parametrize(("rows", "says"), FAULTS.values(), ids=FAULTS)
def test_fault_is_named_with_row_field_and_remedy(
    tmp_path: Path, rows: list[str], says: list[str]
) -> None:
    found = refusals(save(tmp_path, *rows))
    assert [text[: len(start)] for text, start in zip(found, says, strict=True)] == says


AGAINST_PLANS = {
    "an unknown trainee, once": (
        ["HL-0003,1,1,up,5,4,first,1", "HL-0003,2,1,up,5,4,first,1"],
        "entries.csv, row 2, trainee: HL-0003 is in no plan (2 rows). Correct the code, or",
    ),
    "a night beyond the plan": (
        ["HL-0001,3,1,up,5,4,first,1"],
        "entries.csv, row 2, night: night 3 is beyond the 2 nights of the plan. Correct",
    ),
    "a position that the plan leaves out": (
        ["HL-0002,1,1,down,5,4,first,1"],
        "entries.csv, row 2, position: down is not in the plan of HL-0002. Look at the sheet:",
    ),
}


@pytest.mark.parametrize(("rows", "says"), AGAINST_PLANS.values(), ids=AGAINST_PLANS)
def test_what_no_plan_has_is_refused_only_beside_plans(
    tmp_path: Path, rows: list[str], says: str
) -> None:
    path = save(tmp_path, *rows)
    assert read_entries(path).entries
    [text] = refusals(path, plans=PLANS)
    assert text.startswith(says)


def test_unknown_trainee_comes_with_the_nearest_code(tmp_path: Path) -> None:
    plans = (Plan("hl-0007", (Night((UP,), 5.0),)),)
    [text] = refusals(save(tmp_path, "hl-007,1,1,up,5,4,first,1"), plans=plans)
    assert text.endswith("Did you mean hl-0007?")


def test_version_without_a_plan_is_refused(tmp_path: Path) -> None:
    [text] = refusals(save(tmp_path, ROW + ",2", more=",version"), plans=PLANS)
    assert text.startswith("entries.csv, row 2, version: HL-0001 has no plan for course 1, version")


def test_empty_version_is_that_of_the_only_plan(tmp_path: Path) -> None:
    plans = (Plan("HL-0001", (Night((UP,), 5.0),), course=2, version=3),)
    [entry] = read_entries(save(tmp_path, ROW), plans=plans).entries
    assert (entry.course, entry.version) == (2, 3)


def test_rating_that_the_form_does_not_offer_is_refused(tmp_path: Path) -> None:
    [text] = refusals(save(tmp_path, "HL-0001,1,1,up,5,3,first,1,4", more=",scale"))
    assert text.startswith(
        "entries.csv, row 2, rating: 3 is not offered by a form of 4 answers. Use 1, 2, 4 or 5"
    )


def test_different_times_within_a_night_are_refused(tmp_path: Path) -> None:
    path = save(
        tmp_path,
        ROW + ",2026-03-01T19:30+01:00",
        "HL-0001,1,2,down,5,4,first,0,2026-03-01T20:30+01:00",
        more=",written_at",
    )
    [text] = refusals(path)
    assert text.startswith("entries.csv, row 3, written_at: it differs from row 2")


def test_time_in_the_future_is_refused_when_today_is_known(tmp_path: Path) -> None:
    path = save(tmp_path, ROW + ",2026-03-03T00:00Z", more=",written_at")
    assert read_entries(path, today=date(2026, 3, 2)).entries
    [text] = refusals(path, today=date(2026, 3, 1))
    assert text.startswith("entries.csv, row 2, written_at: 2026-03-03 is in the future; today is")


# What is kept


def test_missing_and_half_nights_are_no_faults(tmp_path: Path) -> None:
    found, notices = read(save(tmp_path, "HL-0001,2,2,up,,,,", "HL-0001,9,1,down,5,1,no,"))
    assert [entry.night for entry in found.entries] == [2, 9]
    assert found.entries[0].rows == (EntryRow(2, UP),)
    assert notices == []


@pytest.mark.parametrize(
    ("marks", "best", "same"),
    [("10", UP, False), ("00", None, True), ("  ", None, False)],
    ids=["named", "all the same", "none named"],
)
def test_felt_best_tells_all_the_same_from_blank(
    tmp_path: Path, marks: str, best: Position | None, same: bool
) -> None:
    first, second = marks
    found, notices = read(
        save(tmp_path, f"A,1,1,up,5,4,first,{first}", f"A,1,2,down,5,4,first,{second}")
    )
    assert (found.entries[0].felt_best, found.entries[0].all_the_same) == (best, same)
    assert notices == []


NOTICES = {
    "best did not go down": (
        ["HL-0001,1,1,up,5,4,no,1"],
        "entries.csv, row 2, felt_best: the night's best did not go down. It was kept",
    ),
    "best beside blanks": (
        [ROW, "HL-0001,1,2,down,5,4,first,"],
        "entries.csv, row 3, felt_best: it is empty here and filled in other rows of night 1. "
        "It was taken as 0.",
    ),
    "zero beside blanks": (
        ["HL-0001,1,1,up,5,4,first,0", "HL-0001,1,2,down,5,4,first,"],
        "entries.csv, row 3, felt_best: it is empty here and filled in other rows of night 1. "
        "It was taken as none named.",
    ),
    "wrong order": (
        ["HL-0001,1,1,down,5,4,first,1", "HL-0001,1,2,up,5,4,first,0"],
        "entries.csv, row 2, slot: the order of night 1 is not the planned up, down.",
    ),
    "another piece": (
        ["HL-0001,1,1,up,4.5,4,first,1"],
        "entries.csv, row 2, piece_mm: 4.5 mm is not the planned 5 mm.",
    ),
}


@pytest.mark.parametrize(("rows", "says"), NOTICES.values(), ids=NOTICES)
def test_what_is_unlikely_is_kept_and_flagged(tmp_path: Path, rows: list[str], says: str) -> None:
    found, [notice] = read(save(tmp_path, *rows), plans=PLANS)
    assert notice.startswith(says)
    assert len(found.entries[0].rows) == len(rows)


MORE_NOTICES = {
    "why not beside first": (
        "why_not",
        ["A,1,1,up,5,,first,,melted"],
        "entries.csv, row 2, why_not: it says why not, but the piece went down first try.",
    ),
    "not tried beside an answer": (
        "why_not",
        ["A,1,1,up,5,3,,,not_tried"],
        "entries.csv, row 2, why_not: it says not tried, but there is an answer.",
    ),
    "times out of order": (
        "written_at",
        ["A,1,1,up,5,4,,,2026-03-05T19:00Z", "A,2,1,up,5,4,,,2026-03-04T19:00Z"],
        "entries.csv, row 3, written_at: night 2 was written before night 1.",
    ),
    "form changed": (
        "scale",
        ["A,1,1,up,5,4,,,4", "A,2,1,up,5,4,,,5"],
        "entries.csv, row 3, scale: the form changes from 4 to 5 answers within a course.",
    ),
    "night again": (
        "version",
        ["A,1,1,up,5,4,,,1", "A,1,1,up,5,4,,,2"],
        "entries.csv, row 3, version: night 1 is recorded again under version 2.",
    ),
    "another site than planned": (
        "site",
        ["HL-0001,1,1,up,5,4,,,hillside"],
        "entries.csv, row 2, site: the site is not that of the plan.",
    ),
}


@pytest.mark.parametrize(("column", "rows", "says"), MORE_NOTICES.values(), ids=MORE_NOTICES)
def test_what_an_optional_column_makes_unlikely_is_flagged(
    tmp_path: Path, column: str, rows: list[str], says: str
) -> None:
    plans = PLANS if column == "site" else None
    found, [notice] = read(save(tmp_path, *rows, more=f",{column}"), plans=plans)
    assert notice.startswith(says)
    assert sum(len(entry.rows) for entry in found.entries) == len(rows)


def test_rows_in_any_order_become_nights_in_order(tmp_path: Path) -> None:
    path = save(
        tmp_path, "B,2,1,up,5,4,first,", "A,1,2,down,5,4,first,", "B,1,1,up,5,4,first,",
        "A,1,1,up,5,4,first,",
    )  # fmt: skip
    entries = read_entries(path).entries
    assert [(entry.trainee, entry.night) for entry in entries] == [("B", 1), ("B", 2), ("A", 1)]
    assert [row.position for row in entries[2].rows] == [UP, DOWN]


def test_spreadsheet_dialect_gives_the_same_entries(tmp_path: Path) -> None:
    plain = save(tmp_path, ROW.replace(",5,", ",4.5,"), "HL-0001,1,2,down,4.5,,no,0")
    dialect = tmp_path / "excel.csv"
    text = plain.read_text(encoding="utf-8").replace(",", ";").replace(".", ",")
    dialect.write_bytes(("sep=;\r\n" + text.replace("\n", "\r\n")).encode("utf-16"))
    assert read_entries(dialect).entries == read_entries(plain).entries
