"""Files as spreadsheet programs save them; section numbers are those of RFC 4180, section 2."""

import csv
import io
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.exchange.dialects import MAX_BYTES, Dialect, split_records, tidy_name
from sidelong.problems import Refused

KNOWN = ("trainee", "piece_mm", "site")


def split(content: bytes) -> list[list[str]]:
    return split_records(content, name="t.csv", known=KNOWN)[0]


def refusal(content: bytes) -> str:
    with pytest.raises(Refused) as caught:
        split(content)
    assert len(caught.value.problems) == 1
    return str(caught.value)


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"], ids=["2.1 CRLF", "LF", "CR"])
@pytest.mark.parametrize("last", [True, False], ids=["2.2 ended", "2.2 not ended"])
def test_lines_may_end_in_any_way_and_the_last_need_not(end: str, last: bool) -> None:
    text = end.join(["trainee,site", "T-1,a", "T-2,b"]) + (end if last else "")
    assert split(text.encode()) == [["trainee", "site"], ["T-1", "a"], ["T-2", "b"]]


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ('"T-1","a"', ["T-1", "a"]),  # 2.5 quoted cells
        ('"T-1","a\r\nb"', ["T-1", "a\r\nb"]),  # 2.6 line ends inside
        ('"T-1","a,b"', ["T-1", "a,b"]),  # 2.6 commas inside
        ('"T-1","a""b"', ["T-1", 'a"b']),  # 2.7 doubled quotation marks
        ("T-1, a ", ["T-1", " a "]),  # 2.4 blanks are part of a cell
    ],
)
def test_cells_are_split_as_rfc_4180_says(line: str, cells: list[str]) -> None:
    assert split(f"trainee,site\r\n{line}\r\n".encode())[1] == cells


def test_line_end_in_a_cell_does_not_shift_the_rows_below() -> None:
    records = split(b'trainee,site\n"T-1","one\ntwo\nthree"\nT-2,b\n')
    assert records[2] == ["T-2", "b"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-32", "cp1252"])
def test_letters_survive_the_encodings_of_spreadsheet_programs(encoding: str) -> None:
    text = "trainee,site\r\nT-1,Zoë’s – Süd\r\n"
    assert split(text.encode(encoding))[1] == ["T-1", "Zoë’s – Süd"]


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf_16_with_its_mark_is_read_in_both_byte_orders(encoding: str) -> None:
    assert split("\ufefftrainee,site\nT-1,é\n".encode(encoding))[1] == ["T-1", "é"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("announced", [True, False])
def test_delimiter_is_found_or_announced(delimiter: str, announced: bool) -> None:
    text = delimiter.join(["trainee", "piece_mm"]) + "\n" + delimiter.join(["T-1", "5"]) + "\n"
    first = f"sep={delimiter}\r\n" if announced else ""
    records, dialect = split_records((first + text).encode(), name="t.csv", known=KNOWN)
    assert records == [["trainee", "piece_mm"], ["T-1", "5"]]
    assert dialect == Dialect("utf-8", delimiter)
    assert dialect.decimal_comma is (delimiter != ",")


def test_delimiter_in_a_quoted_header_does_not_mislead() -> None:
    assert split(b'"a;b;c;d",trainee\n1,2\n')[0] == ["a;b;c;d", "trainee"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "it is empty"),
        (b"\xef\xbb\xbf \r\n \n", "it is empty"),
        (b"sep=;\n", "the header is empty"),
        (b"\n\ntrainee,site\nT-1,a\n", "row 1: the header is empty"),
        (b"PK\x03\x04rest of a workbook", "a workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 old", "an old workbook"),
        (b"%PDF-1.7", "a PDF"),
        (b"PAR1....PAR1", "does not end in .parquet"),
        (b"trainee,site\nT-1,\x00\n", "NUL"),
        ("trainee,site\nT-1,a\n".encode("utf-16-le"), "NUL"),
        (b"trainee,site\nT-1,\x07\n", "control characters"),
        (b"trainee,site\nT-1,\x81\n", "in no encoding"),
        (b"\xff\xfet\x00r", "in no encoding"),
        (b'trainee,site\nT-1,"open\nT-2,b\n', "row 2: a quotation mark is not closed"),
        (b'trainee,site\nT-1,"a"b\n', "row 2: a quotation mark is not closed, or stands inside"),
        (b'trainee,site\nT-1,"' + b"x" * 140_000 + b'"\n', "longer than 131072"),
        (b"sep=|\ntrainee|site\n", 'names "|" as the delimiter'),
        (b"trainee,piece_mm,site\nT-1,5,a\nT-2", "row 3: the file ends inside this row"),
    ],
)
def test_file_that_is_no_table_is_refused_with_its_reason(content: bytes, says: str) -> None:
    assert says in refusal(content)


def test_file_that_is_too_large_is_refused_before_it_is_read() -> None:
    class Large(bytes):
        def __len__(self) -> int:
            return MAX_BYTES + 1

    assert "larger than 256 MB" in refusal(Large())


def test_short_rows_of_a_whole_file_are_kept() -> None:
    assert split(b"trainee,piece_mm,site\nT-1\nT-2,5\n")[1:] == [["T-1"], ["T-2", "5"]]


@given(st.binary(max_size=300))
def test_whatever_the_bytes_only_a_refusal_escapes(content: bytes) -> None:
    with suppress(Refused):
        assert split(content)


CELLS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]) | st.sampled_from("\r\n,;\"'"),
    max_size=12,
)


@given(
    st.lists(st.tuples(CELLS, CELLS), max_size=6),
    st.sampled_from([",", ";", "\t"]),
    # With a line feed alone the standard library leaves a bare carriage return unquoted.
    st.sampled_from([("\n", csv.QUOTE_ALL), ("\r\n", csv.QUOTE_MINIMAL)]),
)
def test_what_the_standard_library_writes_is_split_as_it_was(
    rows: list[tuple[str, str]], delimiter: str, style: tuple[str, int]
) -> None:
    end, quoting = style
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=end, quoting=quoting)
    writer.writerows([("trainee", "site"), *rows])
    records = split(stream.getvalue().encode())
    assert records == [["trainee", "site"], *map(list, rows)]


def test_column_names_are_compared_without_case_and_blanks() -> None:
    assert {tidy_name(name) for name in (" Went Down", "went-down", "WENT_DOWN ")} == {"went_down"}
