"""From a file's bytes to rows of text, in whatever way a spreadsheet program saved it.

The plain case is RFC 4180 in UTF-8. Around it stand the habits of spreadsheet programs: a byte
order mark, UTF-16, Windows-1252, semicolons or tabs, decimal commas, a first line ``sep=;``, and
rows cut short after their last filled cell. What each of them is taken for is written down in
``docs/schemas/README.md``; nothing is guessed beyond that list.
"""

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice

from sidelong.problems import Problem, Refused

MAX_BYTES = 256 * 1024 * 1024
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_SAVE_AS = 'Open it in the spreadsheet program, choose "Save as" and "CSV UTF-8".'
_CELL_LIMIT = 131_072
# Longest mark first: UTF-32 little-endian begins like UTF-16 little-endian.
_MARKS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_OTHER_FILES = (
    (b"PK\x03\x04", "it is a workbook (or another zip file), not a table of text"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "it is an old workbook, not a table of text"),
    (b"%PDF", "it is a PDF, not a table of text"),
    (b"PAR1", "it is a Parquet file whose name does not end in .parquet"),
)
_CONTROL = re.compile(r"[\x01-\x08\x0b\x0c\x0e-\x1f]")
_SEP_LINE = re.compile(r'"?sep=(.)"?(?:\r\n|\r|\n|$)', re.IGNORECASE)


@dataclass(frozen=True)
class Dialect:
    """How a file turned out to be written.

    Parameters
    ----------
    encoding : str
        Name of the encoding.
    delimiter : str
        What stands between cells.
    """

    encoding: str = "utf-8"
    delimiter: str = ","

    @property
    def decimal_comma(self) -> bool:
        """Whether numbers may have a decimal comma: not where a comma ends a cell."""
        return self.delimiter != ","


def split_records(
    content: bytes, *, name: str, known: Iterable[str], header_row: int = 1
) -> tuple[list[list[str]], Dialect]:
    """Split a file into records of cells.

    Parameters
    ----------
    content : bytes
        The whole file.
    name : str
        The file's name, for messages.
    known : iterable of str
        Column names that a header may have; the delimiter that finds most of them is taken.
    header_row : int
        Row of the header, 1 in every table of ours; old spreadsheets have titles above it.

    Returns
    -------
    records : list of list of str
        Header first. Record ``i`` is row ``i + 1`` of the spreadsheet, however many lines it
        has in the file; an empty row is an empty list.
    dialect : Dialect
        How the file was written.

    Raises
    ------
    Refused
        If it is not a table of text.

    References
    ----------
    .. [1] RFC 4180, Common Format and MIME Type for CSV Files, section 2.
    """
    text, encoding = _decode(content, name)
    delimiter, text = _take_sep_line(text, name)
    names = {tidy_name(each) for each in known}
    delimiter = delimiter or _find_delimiter(text, names, header_row)
    dialect = Dialect(encoding, delimiter)
    return _parse(text, delimiter, name, header_row), dialect


def tidy_name(name: str) -> str:
    """Drop what does not count in a column's name: case, outer blanks, `-` or blank for `_`."""
    return re.sub(r"[\s\-]+", "_", name.strip().casefold())


def _decode(content: bytes, name: str) -> tuple[str, str]:
    """Find the encoding: a mark, else UTF-8, else Windows-1252."""
    if len(content) > MAX_BYTES:
        what = f"it is larger than {MAX_BYTES // 1024**2} MB"
        raise _refuse(name, what, "Check that it is the right file, or split it.")
    for start, what in _OTHER_FILES:
        if content.startswith(start):
            raise _refuse(name, what, _SAVE_AS)
    mark = next((encoding for start, encoding in _MARKS if content.startswith(start)), None)
    for encoding in (mark,) if mark else ("utf-8", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            raise _refuse(name, "it holds NUL characters, so it is not a table of text", _SAVE_AS)
        if _CONTROL.search(text):
            raise _refuse(name, "it holds control characters of a binary file", _SAVE_AS)
        if not text.strip():
            raise _refuse(name, "it is empty", "Give a table with a header in row 1.")
        return text, encoding
    raise _refuse(name, "its letters are in no encoding that is read here", _SAVE_AS)


def _take_sep_line(text: str, name: str) -> tuple[str | None, str]:
    """Take off the line that tells a spreadsheet program the delimiter; it is not a row."""
    found = _SEP_LINE.match(text)
    if not found:
        return None, text
    if found[1] not in DELIMITERS:
        what = f'the line "sep=" names "{found[1]}" as the delimiter'
        raise _refuse(name, what, "Save it with commas, semicolons or tabs between the cells.")
    return found[1], text[found.end() :]


def _find_delimiter(text: str, known: set[str], header_row: int) -> str:
    """Take the delimiter under which the header holds most known names; a comma if none does."""

    def n_known(delimiter: str) -> int:
        try:
            records = _reader(text[:65_536], delimiter, strict=False)
            header = next(islice(records, header_row - 1, None), [])
        except csv.Error:
            return 0
        return len(known & {tidy_name(cell) for cell in header})

    return max(DELIMITERS, key=n_known)


def _reader(text: str, delimiter: str, *, strict: bool) -> Iterator[list[str]]:
    # newline="" keeps the line ends inside quoted cells as they are.
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=strict)


def _parse(text: str, delimiter: str, name: str, header_row: int) -> list[list[str]]:
    """Split into records, and refuse quotation marks that do not close or stand in the way."""
    records: list[list[str]] = []
    try:
        for record in _reader(text, delimiter, strict=True):
            records.append(record)  # the count so far is the row of a fault
    except csv.Error as error:
        what = "a quotation mark is not closed, or stands inside a cell without being doubled"
        if "field larger" in str(error):
            what = f"a cell is longer than {_CELL_LIMIT} characters; is a quotation mark open?"
        raise _refuse(f"{name}, row {len(records) + 1}", what, _SAVE_AS) from error
    header = records[header_row - 1] if len(records) >= header_row else []
    if not any(cell.strip() for cell in header):
        remedy = f"Put the column names into row {header_row}, without empty rows above them."
        raise _refuse(f"{name}, row {header_row}", "the header is empty", remedy)
    is_cut = len(records) > header_row and 0 < len(records[-1]) < len(header)
    if is_cut and not text.endswith(("\n", "\r")):
        remedy = "Check that the file was copied whole, then end the last row with a new line."
        raise _refuse(f"{name}, row {len(records)}", "the file ends inside this row", remedy)
    return records


def _refuse(where: str, what: str, remedy: str) -> Refused:
    return Refused([Problem(where, what, remedy, "table-file")])
