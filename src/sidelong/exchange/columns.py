"""What one column of a table may hold, and how a cell becomes a value and a value a cell.

The same description reads, writes, and is published as a table schema, so the three cannot say
different things. A value that may be a name, a birth date or free text is never repeated in a
fault: codes, labels and dates are not quoted, and of other cells only numbers and known words.
"""

import difflib
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum

Value = str | int | float | date | datetime | None


class Kind(StrEnum):
    """Type of a column's values."""

    CODE = "code"
    KEY = "key"
    LABEL = "label"
    INTEGER = "integer"
    NUMBER = "number"
    CHOICE = "choice"
    DATE = "date"
    TIME = "time"


# A code names files (TRAINEE.pdf) and stands in spreadsheets: it starts with a letter or digit, so
# that no program takes it for a formula, and it is no device name of Windows.
CODE_PATTERN = r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}"
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?", re.IGNORECASE)
# A spreadsheet program runs a cell that starts with one of = + - @ as a formula.
LABEL_PATTERN = r"[^\s=+\-@].{0,499}"
# A page or a field of a printed sheet; contract 1 of sheets writes @ before what is no field.
KEY_PATTERN = r"@?[A-Za-z0-9][A-Za-z0-9._+-]{0,79}"
_CODE = re.compile(CODE_PATTERN)
_KEY = re.compile(KEY_PATTERN)
_LABEL = re.compile(LABEL_PATTERN)
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_TIME = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?"
    r"(?:[Zz]|[+-][0-9]{2}:?[0-9]{2})"
)
# Too short for the date of a birth, or for the number of a person or a telephone.
_SHOWABLE = re.compile(r"[+-]?(?:[0-9]{1,4}(?:[.,][0-9]{0,3})?|[.,][0-9]{1,4}) ?%?")
_KNOWN_WORDS = frozenset(
    {
        *("yes", "no", "true", "false", "none", "null", "nan", "inf", "n/a", "na", "?", "-", "x"),
        *("first", "later", "left", "right", "down", "centre", "center", "up", "easy", "hard"),
        *("best", "same", "same_evening", "next_day", "trainee", "supporter"),
    }
)

CODE_REMEDY = (
    "Use 1 to 40 letters (A to Z), digits, dots, hyphens or underscores, starting with a letter "
    "or digit, and never a name."
)


class CellFault(ValueError):
    """A cell that its column does not allow.

    Parameters
    ----------
    what : str
        What is wrong, fit for a message.
    remedy : str
        What to do, as a full sentence.
    """

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    name : str
        As it stands in the header.
    kind : Kind
        Type of its values.
    says : str
        What the values mean, for the published schema.
    is_required : bool
        Whether the table must have this column.
    may_be_blank : bool
        Whether a cell may be empty; read as None.
    least, most : float or None
        Bounds of a number, both included.
    above : float or None
        Bound of a number, not included.
    choices : tuple of str
        The words of a choice.
    decimals : int or None
        Digits after the point when a number is written; None writes the shortest text that
        reads back as the same number.
    """

    name: str
    kind: Kind
    says: str
    is_required: bool = True
    may_be_blank: bool = False
    least: float | None = None
    most: float | None = None
    above: float | None = None
    choices: tuple[str, ...] = ()
    decimals: int | None = None

    def __post_init__(self) -> None:
        """Refuse a description that contradicts itself."""
        if not re.fullmatch(r"[a-z][a-z0-9_]*", self.name):
            raise ValueError(f"{self.name!r} is not a column name")
        if bool(self.choices) != (self.kind is Kind.CHOICE):
            raise ValueError(f"{self.name}: choices belong to a choice, and only there")

    def read_cell(self, text: str, *, decimal_comma: bool = False) -> Value:
        """Turn a cell's text into a value.

        Parameters
        ----------
        text : str
            As it stands in the file; blanks around it do not count.
        decimal_comma : bool
            Whether a number may be written with a comma.

        Returns
        -------
        str, int, float, date, datetime or None
            None for an empty cell; times in UTC.

        Raises
        ------
        CellFault
            If the column does not allow it.
        """
        text = text.strip()
        if not text:
            if self.may_be_blank:
                return None
            raise CellFault("it is empty", f"Fill it in: {self._wanted()}.")
        match self.kind:
            case Kind.CODE:
                return self._read_code(text)
            case Kind.KEY:
                return self._read_key(text)
            case Kind.LABEL:
                return self._read_label(text)
            case Kind.CHOICE:
                return self._read_choice(text)
            case Kind.DATE:
                return self._read_date(text)
            case Kind.TIME:
                return self._read_time(text)
            case _:
                return self._read_number(text, decimal_comma=decimal_comma)

    def write_cell(self, value: Value) -> str:
        """Turn a value into a cell's text that :meth:`read_cell` turns back.

        Parameters
        ----------
        value : str, int, float, date, datetime or None
            None gives an empty cell.

        Returns
        -------
        str
            Text of the cell; numbers have a decimal point, times are in UTC.

        Raises
        ------
        CellFault
            If the column does not allow the value.
        """
        if value is None or value == "":
            text = ""
        elif isinstance(value, datetime):
            text = value.astimezone(UTC).isoformat().replace("+00:00", "Z")
        elif isinstance(value, date):
            text = value.isoformat()
        elif isinstance(value, float):
            text = self._write_number(value)
        else:
            text = str(value)
        back = self.read_cell(text)
        if isinstance(value, str) and text and back != value:
            raise CellFault("it would not read back as it is", self._remedy())
        return text

    def _write_number(self, value: float) -> str:
        if self.decimals is not None:
            # Adding zero turns a negative zero into a plain one.
            return f"{round(value, self.decimals) + 0.0:.{self.decimals}f}"
        return repr(value).removesuffix(".0")

    def _wanted(self) -> str:
        """Say what belongs into a cell."""
        match self.kind:
            case Kind.CHOICE:
                return in_words(self.choices)
            case Kind.INTEGER | Kind.NUMBER:
                return f"a {'whole ' if self.kind is Kind.INTEGER else ''}number{self._range()}"
            case Kind.DATE:
                return "a date such as 2026-03-31"
            case Kind.TIME:
                return "a time with its offset such as 2026-03-31T19:30+02:00"
            case _:
                return f"a {self.kind}"

    def _range(self) -> str:
        """Say the bounds of a number."""
        parts = []
        if self.above is not None:
            parts.append(f"above {self.above:g}")
        if self.least is not None and self.most is not None:
            return f" from {self.least:g} to {self.most:g}"
        if self.least is not None:
            parts.append(f"at least {self.least:g}")
        if self.most is not None:
            parts.append(f"at most {self.most:g}")
        return " " + " and ".join(parts) if parts else ""

    def _remedy(self) -> str:
        """Say what to do about a cell of the wrong kind."""
        blank = ", or leave it empty" if self.may_be_blank else ""
        return f"Use {self._wanted()}{blank}."

    def _read_code(self, text: str) -> str:
        if not _CODE.fullmatch(text) or _DEVICES.fullmatch(text):
            raise CellFault("it is not a code", CODE_REMEDY)
        return text

    def _read_key(self, text: str) -> str:
        if not _KEY.fullmatch(text):
            remedy = "Use letters (A to Z), digits, dots, hyphens, underscores and plus signs."
            raise CellFault("it names no page or field", remedy)
        return text

    def _read_label(self, text: str) -> str:
        text = text.replace("\xa0", " ")
        if not _LABEL.fullmatch(text) or not text.isprintable():
            remedy = "Use up to 500 characters on one line that do not start with = + - or @."
            raise CellFault("it is not a label", remedy)
        return text

    def _read_choice(self, text: str) -> str:
        if text in self.choices:
            return text
        for choice in self.choices:
            if text.casefold() == choice.casefold():
                return choice
        raise CellFault(f"{shown(text)} is not an answer", self._remedy())

    def _read_number(self, text: str, *, decimal_comma: bool) -> int | float:
        if decimal_comma and text.count(",") == 1 and "." not in text:
            text = text.replace(",", ".")
        whole = self.kind is Kind.INTEGER
        if not _NUMBER.fullmatch(text) or not math.isfinite(value := float(text)):
            remedy = self._remedy()
            if "," in text:
                remedy += " Write a decimal point, and no separators of thousands."
            raise CellFault(f"{shown(text)} is not a number", remedy)
        if whole and not value.is_integer():
            raise CellFault(f"{shown(text)} is not a whole number", self._remedy())
        too_low = (self.least is not None and value < self.least) or (
            self.above is not None and value <= self.above
        )
        if too_low or (self.most is not None and value > self.most):
            raise CellFault(f"{shown(text)} is out of range", self._remedy())
        return int(value) if whole else value

    def _read_date(self, text: str) -> date:
        try:
            if _DATE.fullmatch(text):
                return date.fromisoformat(text)
        except ValueError:
            pass
        raise CellFault(f"{shown(text)} is not a date", self._remedy())

    def _read_time(self, text: str) -> datetime:
        try:
            if _TIME.fullmatch(text):
                return datetime.fromisoformat(text.replace(" ", "T").upper()).astimezone(UTC)
        except (ValueError, OverflowError):
            pass
        raise CellFault(f"{shown(text)} is not a time with its offset", self._remedy())


def shown(text: str) -> str:
    """Quote a short number or a known word; anything else may be a name or a birth date."""
    is_known = _SHOWABLE.fullmatch(text) or text.casefold() in _KNOWN_WORDS
    return f'"{text}"' if is_known else "the text in this cell"


def in_words(names: Iterable[str]) -> str:
    """Join names as a sentence does: `a, b or c`."""
    *most, last = names
    return f"{', '.join(most)} or {last}" if most else last


def nearest(name: str, known: Iterable[str], *, cutoff: float = 0.6) -> str:
    """Suggest the known name that is most like a wrong one, as a sentence, or nothing."""
    close = difflib.get_close_matches(name.casefold(), list(known), n=1, cutoff=cutoff)
    return f" Did you mean {close[0]}?" if close else ""
