from contextlib import suppress
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidelong.exchange import parquet
from sidelong.exchange.columns import CellFault, Column, Kind, nearest
from sidelong.exchange.entries import read_entries
from sidelong.exchange.tables import read_table, scan_table, write_table, write_text
from sidelong.problems import Refused

COLUMNS = (
    Column(name="trainee", kind=Kind.CODE, says="code"),
    Column(name="night", kind=Kind.INTEGER, says="whole", least=1, most=14),
    Column(name="piece_mm", kind=Kind.NUMBER, says="number", above=0, may_be_blank=True),
    Column(name="went_down", kind=Kind.CHOICE, says="word", choices=("first", "no")),
    Column(name="site", kind=Kind.LABEL, says="label", is_required=False, may_be_blank=True),
    Column(name="start", kind=Kind.DATE, says="date", is_required=False, may_be_blank=True),
    Column(name="at", kind=Kind.TIME, says="time", is_required=False, may_be_blank=True),
)
HEAD = "trainee,night,piece_mm,went_down"
ROWS = st.fixed_dictionaries(
    {
        "trainee": st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,9}", fullmatch=True).filter(
            lambda code: code[:3].casefold() not in {"con", "prn", "aux", "nul", "com", "lpt"}
        ),
        "night": st.integers(1, 14),
        "piece_mm": st.none() | st.floats(min_value=1e-300, max_value=1e300),
        "went_down": st.sampled_from(["first", "no"]),
        "site": st.none()
        | st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=9).filter(
            lambda text: text[0] not in "=+-@"
        ),
        "start": st.none() | st.dates(),
        "at": st.none()
        | st.datetimes(
            min_value=datetime(1900, 1, 1),  # noqa: DTZ001 - the strategy adds the zone
            max_value=datetime(2200, 1, 1),  # noqa: DTZ001
            timezones=st.sampled_from([UTC, timezone(timedelta(hours=5, minutes=45))]),
        ),
    }
)
in_one_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def save(folder: Path, text: str | bytes, name: str = "t.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refusals(path: Path) -> list[str]:
    with pytest.raises(Refused) as caught:
        read_table(path, COLUMNS)
    return [str(problem) for problem in caught.value.problems]


@in_one_folder
@given(rows=st.lists(ROWS, min_size=1, max_size=5), name=st.sampled_from(["t.csv", "t.parquet"]))
def test_reading_gives_back_what_was_written(tmp_path: Path, rows: list, name: str) -> None:
    path = tmp_path / name
    write_table(path, COLUMNS, rows)
    read = read_table(path, COLUMNS)
    assert [{name: row[name] for name in rows[0]} for row in read] == rows
    assert [row.number for row in read] == list(range(2, len(rows) + 2))


@in_one_folder
@given(rows=st.lists(ROWS, min_size=1, max_size=5))
def test_another_reader_sees_the_same_table(tmp_path: Path, rows: list) -> None:
    """PyArrow's CSV reader knows nothing of ours."""
    path = tmp_path / "t.csv"
    write_table(path, COLUMNS, rows)
    types = {"trainee": pa.string(), "night": pa.int64(), "piece_mm": pa.float64()}
    options = pyarrow.csv.ConvertOptions(
        column_types=types | {"went_down": pa.string()},
        include_columns=["trainee", "night", "piece_mm", "went_down"],
    )
    table = pyarrow.csv.read_csv(path, convert_options=options).to_pylist()
    wanted = [{name: row[name] for name in options.include_columns} for row in rows]
    assert table == wanted


@in_one_folder
@given(content=st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_whatever_the_file_only_a_refusal_escapes(tmp_path: Path, content: bytes) -> None:
    for name, start in (("t.csv", b""), ("t.csv", HEAD.encode() + b"\n"), ("t.parquet", b"PAR1")):
        with suppress(Refused):
            assert read_table(save(tmp_path, start + content, name), COLUMNS)


FAULTS = [
    ("night", "", "row 2, night: it is empty. Fill it in: a whole number from 1 to 14."),
    ("night", "2.5", 'row 2, night: "2.5" is not a whole number.'),
    ("night", "15", 'row 2, night: "15" is out of range.'),
    ("night", "0", 'row 2, night: "0" is out of range.'),
    ("night", "1_0", "row 2, night: the text in this cell is not a number."),
    ("night", "nan", 'row 2, night: "nan" is not a number.'),
    ("night", "٣", "row 2, night: the text in this cell is not a number."),
    ("piece_mm", "inf", 'row 2, piece_mm: "inf" is not a number.'),
    ("piece_mm", "1e999", "row 2, piece_mm: the text in this cell is not a number."),
    ("piece_mm", "0", 'row 2, piece_mm: "0" is out of range. Use a number above 0, or leave it'),
    ("piece_mm", '"4,5"', "Write a decimal point, and no separators of thousands."),
    ("went_down", "maybe", "the text in this cell is not an answer. Use first or no."),
    ("trainee", "Ann Other", "row 2, trainee: it is not a code."),
    ("trainee", "=T-1", "row 2, trainee: it is not a code."),
    ("trainee", "CON", "row 2, trainee: it is not a code."),
    ("trainee", "x" * 41, "row 2, trainee: it is not a code."),
]


@pytest.mark.parametrize(
    "cell",
    ["Marlene", "Ö", "o'neill", "Li-Na", "2017-03-05", "5.3.2017", "20170305", "+491701234567"],
)
@pytest.mark.parametrize("column", ["night", "went_down"])
def test_what_may_be_a_name_a_birth_date_or_a_telephone_is_not_repeated(
    tmp_path: Path, column: str, cell: str
) -> None:
    cells = dict(zip(HEAD.split(","), ["T-1", "1", "5", "first"], strict=True)) | {column: cell}
    [text] = refusals(save(tmp_path, f"{HEAD}\n{','.join(cells.values())}\n"))
    assert "the text in this cell" in text
    assert cell not in text


@pytest.mark.parametrize(("column", "cell", "says"), FAULTS)
def test_fault_is_named_with_row_and_field(
    tmp_path: Path, column: str, cell: str, says: str
) -> None:
    cells = dict(zip(HEAD.split(","), ["T-1", "1", "5", "first"], strict=True)) | {column: cell}
    [text] = refusals(save(tmp_path, f"{HEAD}\n{','.join(cells.values())}\n"))
    assert text.startswith("t.csv, row 2, ")
    assert says in text


OPTIONAL_FAULTS = [
    ("site", "=1+1", "it is not a label"),
    ("site", "-x", "it is not a label"),
    ("start", "31.03.2026", "the text in this cell is not a date. Use a date such as 2026-03-31"),
    ("start", "2026-02-30", "the text in this cell is not a date"),
    ("at", "2026-03-01T19:30", "is not a time with its offset. Use a time with its offset such"),
    ("at", "0001-01-01T00:00+14:00", "is not a time with its offset"),
]


@pytest.mark.parametrize(("column", "cell", "says"), OPTIONAL_FAULTS)
def test_fault_in_an_optional_column_is_named(
    tmp_path: Path, column: str, cell: str, says: str
) -> None:
    [text] = refusals(save(tmp_path, f"{HEAD},{column}\nT-1,1,5,first,{cell}\n"))
    assert f"t.csv, row 2, {column}: " in text
    assert says in text


def test_every_fault_comes_at_once_in_reading_order(tmp_path: Path) -> None:
    path = save(tmp_path, f"{HEAD}\nT 1,1,x,first\n\nT-2,99,5,\n")
    places = [text.split(":")[0] for text in refusals(path)]
    assert places == [
        "t.csv, row 2, trainee",
        "t.csv, row 2, piece_mm",
        "t.csv, row 4, night",
        "t.csv, row 4, went_down",
    ]


def test_name_in_a_wrong_place_is_never_repeated(tmp_path: Path) -> None:
    path = save(tmp_path, f"{HEAD},site\nAda Example,1,Ada Example,Ada Example,@Ada Example\n")
    texts = refusals(path)
    assert len(texts) == 4
    assert "Ada" not in "".join(texts)


def test_table_without_header_does_not_repeat_its_first_row(tmp_path: Path) -> None:
    [text] = refusals(save(tmp_path, "Ada Example,1,5,first\n"))
    assert "none of the column names" in text
    assert "Ada" not in text


def test_unknown_column_is_named_with_the_nearest_name(tmp_path: Path) -> None:
    [text] = refusals(save(tmp_path, f"{HEAD},Sitte\nT-1,1,5,first,a\n"))
    assert text == (
        "t.csv, row 1, Sitte: the column is unknown. Rename or delete this column. "
        "Did you mean site?"
    )


def test_a_column_that_has_to_be_there_is_suggested_before_others(tmp_path: Path) -> None:
    head = "trainee,night,slot,posture,piece_mm,rating,went_down,felt_best"
    with pytest.raises(Refused, match=r"posture: the column is unknown.*Did you mean position"):
        read_entries(save(tmp_path, f"{head}\nT-1,1,1,down,5,4,first,1\n"))


def test_missing_and_repeated_columns_are_named_together(tmp_path: Path) -> None:
    texts = refusals(save(tmp_path, "trainee,night,night,went_down\nT-1,1,1,first\n"))
    assert [text.split(".")[1].split(":")[0] for text in texts] == [
        "csv, row 1, piece_mm",
        "csv, row 1, night",
    ]


def test_surplus_cells_are_found_and_empty_ones_are_not(tmp_path: Path) -> None:
    path = save(tmp_path, f"{HEAD},,\nT-1,1,5,first,,,,\nT-2,1,4,5,first\n")
    [text] = refusals(path)
    assert text.startswith("t.csv, row 3: cell 5 has a value but no column name above it")


def test_empty_rows_and_columns_are_left_out_and_rows_keep_their_numbers(tmp_path: Path) -> None:
    path = save(tmp_path, f"{HEAD},,\n,,,,,\nT-1,1,5,first,,\n\nT-2,2,,no\n,,,\n\n")
    assert [(row.number, row["trainee"]) for row in read_table(path, COLUMNS)] == [
        (3, "T-1"),
        (5, "T-2"),
    ]


def test_decimal_comma_counts_where_the_delimiter_is_no_comma(tmp_path: Path) -> None:
    path = save(tmp_path, HEAD.replace(",", ";") + "\nT-1;1,0;4,5;First\nT-2;2;4.5;FIRST\n")
    rows = read_table(path, COLUMNS)
    assert [(row["night"], row["piece_mm"], row["went_down"]) for row in rows] == [
        (1, 4.5, "first"),
        (2, 4.5, "first"),
    ]


def test_table_without_rows_is_refused(tmp_path: Path) -> None:
    assert "no rows" in refusals(save(tmp_path, HEAD + "\n"))[0]


def test_missing_file_and_folder_in_its_place_are_refused(tmp_path: Path) -> None:
    assert "there is no such file" in refusals(tmp_path / "none.csv")[0]
    assert "cannot be read" in refusals(tmp_path)[0]


def test_scan_keeps_the_rows_beside_the_faults(tmp_path: Path) -> None:
    scan = scan_table(save(tmp_path, f"{HEAD}\nT-1,x,5,first\n"), COLUMNS)
    assert scan.rows[0].faulty == {"night"}
    assert scan.rows[0]["night"] is None
    assert scan.rows[0]["trainee"] == "T-1"
    assert len(scan.faults) == 1


# Writing


def test_text_that_a_spreadsheet_would_run_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    row = {"trainee": "T-1", "night": 1, "went_down": "no", "site": '=HYPERLINK("x")'}
    with pytest.raises(Refused, match=r"t\.csv, row 2, site: it is not a label"):
        write_table(path, COLUMNS, [row])
    assert not path.exists()


def test_refused_writing_leaves_the_old_file_as_it_was(tmp_path: Path) -> None:
    path = save(tmp_path, "old")
    with pytest.raises(Refused):
        write_table(path, COLUMNS, [{"trainee": "T-1", "night": 99, "went_down": "no"}])
    assert path.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_failing_disk_leaves_the_old_file_and_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = save(tmp_path, "old")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(Refused, match="No space left"):
        write_text(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_writing_into_no_folder_or_over_one_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="its folder does not exist"):
        write_text(tmp_path / "none" / "t.csv", "x")
    with pytest.raises(Refused, match="it is a folder"):
        write_text(tmp_path, "x")


def test_lines_end_alike_on_every_system(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    write_table(path, COLUMNS, [{"trainee": "T-1", "night": 1, "went_down": "no"}])
    assert path.read_bytes() == b"trainee,night,piece_mm,went_down\nT-1,1,,no\n"


# Parquet


def test_parquet_columns_are_typed(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    row = {"trainee": "T-1", "night": 1, "went_down": "no", "start": date(2026, 3, 1)}
    write_table(path, COLUMNS, [row | {"at": datetime(2026, 3, 1, 19, tzinfo=UTC)}])
    types = dict(zip(*(lambda s: (s.names, s.types))(pa.parquet.read_schema(path)), strict=True))
    assert types == {
        "trainee": pa.string(),
        "night": pa.int64(),
        "piece_mm": pa.float64(),
        "went_down": pa.string(),
        "start": pa.date32(),
        "at": pa.timestamp("us", tz="UTC"),
    }


def test_parquet_of_another_program_is_read_with_its_nulls(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    table = pa.table(
        {
            "trainee": pa.array(["T-1", "T-2"]).dictionary_encode(),
            "night": pa.array([1.0, 2.0]),
            "piece_mm": [4.5, float("nan")],
            "went_down": ["first", "no"],
        }
    )
    pyarrow.parquet.write_table(table, path)
    rows = read_table(path, COLUMNS)
    assert [(row["night"], row["piece_mm"]) for row in rows] == [(1, 4.5), (2, None)]


def test_parquet_without_its_extra_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    [text] = refusals(save(tmp_path, b"PAR1", "t.parquet"))
    assert 'pip install "sidelong[parquet]"' in text
    with pytest.raises(Refused, match="not installed"):
        parquet.write_parquet(COLUMNS, [])


# Columns


def test_column_that_contradicts_itself_is_refused() -> None:
    with pytest.raises(ValueError, match="not a column name"):
        Column(name="Went down", kind=Kind.LABEL, says="")
    with pytest.raises(ValueError, match="choices belong to a choice"):
        Column(name="site", kind=Kind.LABEL, says="", choices=("a",))


def test_value_that_would_not_read_back_is_refused() -> None:
    with pytest.raises(CellFault):
        COLUMNS[4].write_cell(" a ")


@pytest.mark.parametrize(("value", "text"), [(5.0, "5"), (4.5, "4.5"), (1e22, "1e+22"), (1, "1")])
def test_number_is_written_shortest(value: float, text: str) -> None:
    assert COLUMNS[2].write_cell(value) == text


def test_nearest_name_is_suggested_only_when_it_is_near() -> None:
    assert nearest("rateing", ("rating", "slot")) == " Did you mean rating?"
    assert nearest("weather", ("rating", "slot")) == ""
