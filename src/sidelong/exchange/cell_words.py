"""One cell of an old spreadsheet into the text that a table of entries would have."""

import re
from collections.abc import Mapping
from datetime import UTC, datetime

from sidelong.exchange.columns import CellFault, Column, Kind, shown
from sidelong.exchange.dialects import Dialect
from sidelong.exchange.entries import ENTRY_COLUMNS
from sidelong.exchange.old_sheets import BEST, DATE, ORDER, SAME, SheetMapping, same_word
from sidelong.training.position import Position

_COLUMNS = {column.name: column for column in ENTRY_COLUMNS}
_NUMBER = Column(name="number", kind=Kind.NUMBER, says="A number of the old scale.")
_UNSAID = frozenset({"trainee"})


class CellTranslator:
    """Translate cells by the words, scale and formats of a mapping.

    Parameters
    ----------
    rules : SheetMapping
        What the mapping says.
    dialect : Dialect
        How the spreadsheet is written.
    """

    def __init__(self, rules: SheetMapping, dialect: Dialect) -> None:
        self._rules = rules
        self._decimal_comma = dialect.decimal_comma

    def translate_all(self, cells: Mapping[str, str]) -> dict[str, str | CellFault]:
        """Translate the cells of one row.

        Parameters
        ----------
        cells : mapping of str to str
            Their text by our column.

        Returns
        -------
        dict of str to str or CellFault
            Our text, or what is wrong with theirs.
        """
        return {ours: self._translate(ours, text) for ours, text in cells.items()}

    def _translate(self, ours: str, text: str) -> str | CellFault:
        try:
            return self._read(ours, text)
        except CellFault as fault:
            return fault

    def _read(self, ours: str, text: str) -> str:
        """Translate a cell; words first, since they may mean something else than ours."""
        word = same_word(text)
        words = self._rules.words.get(ours, {})
        if word in words:
            return words[word]
        if not word or word in self._rules.blanks:
            return ""
        match ours:
            case "rating":
                return self._read_rating(text)
            case "written_at" if self._rules.times:
                return self._read_time(text)
            case _ if ours == DATE:
                return self._read_date(text)
            case _ if ours == BEST:
                return word if word == SAME else self._read_position(text, BEST)
            case _ if ours == ORDER:
                return ",".join(self._read_order(text))
            case "position":
                return self._read_position(text, "position")
        self._check(ours, text)
        return text

    def _check(self, ours: str, text: str) -> None:
        """Let our column look at an untranslated cell, with the mapping as the remedy."""
        try:
            _COLUMNS[ours].read_cell(text, decimal_comma=self._decimal_comma)
        except CellFault as fault:
            remedy = fault.remedy
            if ours not in _UNSAID:
                remedy = f"Correct it, or say what it means under {self._table(ours)}."
            raise CellFault(fault.what, remedy) from fault

    def _read_rating(self, text: str) -> str:
        scale = self._rules.scale
        if scale is None:
            remedy = f"Correct it, or say what it means under {self._table('rating')}."
            raise CellFault(f"{shown(text)} is not in the mapping", remedy)
        ends = f"from {scale.hardest:g} (hardest) to {scale.easiest:g} (easiest)"
        remedy = f"Use a number {ends}, or say what it means under {self._table('rating')}."
        try:
            number = _NUMBER.read_cell(text, decimal_comma=self._decimal_comma)
            return str(scale.rate(float(str(number))))
        except ValueError as error:
            raise CellFault(f"{shown(text)} is not on the old scale", remedy) from error

    def _read_position(self, text: str, ours: str) -> str:
        word = same_word(text)
        word = self._rules.words.get("position", {}).get(word, word)
        if word not in set(Position):
            remedy = f"Correct it, or say what it means under {self._table(ours)}."
            raise CellFault(f"{shown(text)} is not a position of the mapping", remedy)
        return word

    def _read_order(self, text: str) -> list[str]:
        """Split an order such as `down, left, up`, `D L U` or `DLU`."""
        words_for = self._rules.words
        ours = {position.value: position.value for position in Position}
        known = {**ours, **words_for.get("position", {}), **words_for.get(ORDER, {})}
        parts = [part for part in re.split(r"[,;/>\n]+|->", text) if part.strip()]
        if len(parts) == 1 and same_word(text) not in known:
            parts = text.split() if len(text.split()) > 1 else list(text.strip())
        words = [known.get(same_word(part), "") for part in parts]
        if "" in words or len(set(words)) != len(words):
            remedy = f"Write each position once, in words that stand under {self._table(ORDER)}."
            raise CellFault(f"{shown(text)} is not an order of positions", remedy)
        return words

    def _read_date(self, text: str) -> str:
        form = self._rules.dates
        try:
            if not form:
                return datetime.fromisoformat(text).date().isoformat()
            return datetime.strptime(text, form).replace(tzinfo=UTC).date().isoformat()
        except (ValueError, re.error) as error:
            remedy = f'Correct it, or the format "dates" of {self._rules.file}.'
            raise CellFault(f"{shown(text)} is not a date of that format", remedy) from error

    def _read_time(self, text: str) -> str:
        try:
            read = datetime.strptime(text, self._rules.times)  # noqa: DTZ007 - zone follows
            return (read if read.tzinfo else read.replace(tzinfo=self._rules.zone)).isoformat()
        except (ValueError, re.error) as error:
            remedy = f'Correct it, or the format "times" of {self._rules.file}.'
            raise CellFault(f"{shown(text)} is not a time of that format", remedy) from error

    def _table(self, ours: str) -> str:
        return f"[words.{ours}] of {self._rules.file}"
