"""TOML documents that mirror our frozen values: read with every fault at once, written back.

A table of the document is a value and a key is a field of it, so the fields' types say what may
stand where. The language has no writer in the standard library; the one here writes what these
values need and no more.
"""

import tomllib
import types
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from sidelong.exchange.columns import in_words, nearest, shown
from sidelong.problems import Problem, Refused

Made = TypeVar("Made")
_Pairs = tuple[tuple[str, str], ...]


def parse_toml(content: bytes, *, file: str) -> dict[str, Any]:
    """Turn the bytes of a TOML document into tables.

    Parameters
    ----------
    content : bytes
        UTF-8, with or without a byte order mark.
    file : str
        The file's name, for messages.

    Returns
    -------
    dict
        As :mod:`tomllib` gives it.

    Raises
    ------
    Refused
        If it is not UTF-8 or not TOML.
    """
    try:
        return tomllib.loads(content.decode("utf-8-sig").replace("\r\n", "\n"))
    except UnicodeDecodeError as error:
        remedy = "Save it as UTF-8."
        raise Refused([Problem(file, "it is not UTF-8 text", remedy, "document")]) from error
    except tomllib.TOMLDecodeError as error:
        remedy = "Mend the line; text stands in straight double quotes."
        raise Refused([Problem(file, f"it is not TOML: {error}", remedy, "document")]) from error


class DocumentReader:
    """Reads values out of one document and keeps every fault.

    Parameters
    ----------
    file : str
        The file's name; every fault begins with it.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Problem] = []

    def add(self, where: str, what: str, remedy: str, *, kind: str = "document") -> None:
        """Keep one fault."""
        place = f"{self.file}, {where}" if where else self.file
        self.faults.append(Problem(place, what, remedy, kind))

    def take(self, refused: Refused, *, where: str) -> None:
        """Keep the faults that a value found in itself."""
        for each in refused.problems:
            path = ".".join(part for part in (where, each.where) if part)
            self.add(path, each.what, each.remedy, kind=each.kind)

    def fields_of(self, made: type[Any], table: Mapping[str, Any], *, where: str) -> dict[str, Any]:
        """Read the fields of a value out of a table.

        Parameters
        ----------
        made : type
            A dataclass.
        table : mapping of str to object
            The table.
        where : str
            Key path of the table.

        Returns
        -------
        dict of str to object
            Fields that could be read; defaults are filled in where a key is missing.
        """
        known = {each.name: each for each in fields(made)}
        for key in table:
            if key not in known:
                remedy = f"Rename or delete this key.{nearest(key, known)}"
                self.add(_path(where, key), "the key is unknown", remedy)
        found: dict[str, Any] = {}
        for name, kind in get_type_hints(made).items():
            if name not in known:
                continue
            if name in table:
                self._put(found, name, kind, table[name], where=_path(where, name))
            elif not _has_default(known[name]):
                self.add(_path(where, name), "the key is missing", "Add it.")
            else:
                found[name] = _default(known[name])
        return found

    def make(self, made: type[Made], table: object, *, where: str) -> Made | None:
        """Read one value; None if that failed, with its faults kept."""
        if not isinstance(table, dict):
            self.add(where, f"{_shown(table)} is not a table", "Write a table with its keys.")
            return None
        n_before = len(self.faults)
        found = self.fields_of(made, table, where=where)
        if len(self.faults) > n_before:
            return None
        try:
            return made(**found)
        except Refused as refused:
            self.take(refused, where=where)
            return None

    def _put(
        self, found: dict[str, Any], name: str, kind: Any, value: object, *, where: str
    ) -> None:
        read = self._read(kind, value, where=where)
        if read is not None:
            found[name] = read

    def _read(self, kind: Any, value: object, *, where: str) -> Any:
        """Read a value of any type that our values use; None where it was refused."""
        kind = _without_none(kind)
        if kind == _Pairs:
            return self._read_pairs(value, where=where)
        if get_origin(kind) in {tuple, frozenset}:
            return self._read_many(kind, value, where=where)
        if is_dataclass(kind) and isinstance(kind, type):
            return self.make(kind, value, where=where)
        if isinstance(kind, type) and issubclass(kind, Enum):
            return self._read_choice(kind, value, where=where)
        return self._read_plain(kind, value, where=where)

    def _read_plain(self, kind: type, value: object, *, where: str) -> Any:
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            return float(value)
        right = isinstance(value, kind) and not (
            (isinstance(value, bool) and kind is not bool)
            or (isinstance(value, datetime) and kind is date)
        )
        if right:
            return value
        self.add(where, f"{_shown(value)} is not {_WANTED[kind]}", f"Write {_WANTED[kind]}.")
        return None

    def _read_choice(self, kind: type[Enum], value: object, *, where: str) -> Any:
        allowed = [each.value for each in kind]
        if value in allowed and not isinstance(value, bool):
            return kind(value)
        remedy = f"Use {in_words(map(str, allowed))}."
        self.add(where, f"{_shown(value)} is not known here", remedy)
        return None

    def _read_many(self, kind: Any, value: object, *, where: str) -> Any:
        if not isinstance(value, list):
            self.add(where, f"{_shown(value)} is not a list", "Write a list in square brackets.")
            return None
        item = get_args(kind)[0]
        read = [
            self._read(item, each, where=f"{where}[{number}]")
            for number, each in enumerate(value, start=1)
        ]
        container: Any = get_origin(kind)
        return container(each for each in read if each is not None)

    def _read_pairs(self, value: object, *, where: str) -> Any:
        if isinstance(value, dict) and all(isinstance(each, str) for each in value.values()):
            return tuple(sorted(value.items()))
        self.add(where, "it is not a table of texts", 'Write it as { fr = "...", es = "..." }.')
        return None


def write_document(value: object, *, heading: Iterable[str] = ()) -> str:
    """Write a value as a TOML document that reads back as the same value.

    Parameters
    ----------
    value : dataclass instance
        Fields become keys; values and rows of values become tables.
    heading : iterable of str
        Lines of a comment at the top.

    Returns
    -------
    str
        The document, one line end on every system.
    """
    plain: list[str] = []
    tables: list[str] = []
    for each in fields(value):  # type: ignore[arg-type]
        held = getattr(value, each.name)
        if is_dataclass(held):
            tables += ["", f"[{each.name}]", *_lines(held, keep_defaults=True)]
        elif isinstance(held, tuple) and held and is_dataclass(held[0]):
            for item in held:
                tables += ["", f"[[{each.name}]]", *_lines(item, keep_defaults=False)]
        elif held is not None and held != ():
            plain.append(f"{each.name} = {_text(held)}")
    return "\n".join([*(f"# {line}".rstrip() for line in heading), *plain, *tables, ""])


def _lines(value: Any, *, keep_defaults: bool) -> list[str]:
    return [
        f"{each.name} = {_text(getattr(value, each.name))}"
        for each in fields(value)
        if _is_written(each, getattr(value, each.name), keep_defaults=keep_defaults)
    ]


def _is_written(each: Field[Any], held: object, *, keep_defaults: bool) -> bool:
    if held is None:
        return False
    simple = not isinstance(held, (tuple, frozenset))
    return (keep_defaults and simple) or not (_has_default(each) and held == _default(each))


def _text(value: Any) -> str:
    """Write one value on one line."""
    if isinstance(value, Enum):
        return _text(value.value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, frozenset):
        return f"[{', '.join(sorted(map(_text, value)))}]"
    if isinstance(value, tuple):
        if value and isinstance(value[0], tuple):
            return f"{{ {', '.join(f'{_quoted(key)} = {_quoted(text)}' for key, text in value)} }}"
        return f"[{', '.join(map(_text, value))}]"
    if is_dataclass(value):
        return f"{{ {', '.join(_lines(value, keep_defaults=False))} }}"
    return repr(value)


def _quoted(text: str) -> str:
    """Write a basic string; control characters are escaped, as the language demands."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"'
        + "".join(
            f"\\u{ord(each):04X}" if ord(each) < 32 or ord(each) == 127 else each
            for each in escaped
        )
        + '"'
    )


_WANTED: dict[type, str] = {
    str: "a text in quotes",
    int: "a whole number",
    float: "a number",
    bool: "true or false",
    date: "a date such as 2026-03-31",
}


def _has_default(each: Field[Any]) -> bool:
    return each.default is not MISSING or each.default_factory is not MISSING


def _default(each: Field[Any]) -> Any:
    if each.default_factory is not MISSING:
        return each.default_factory()
    return each.default


def _without_none(kind: Any) -> Any:
    if get_origin(kind) in {types.UnionType, Union}:
        return next(each for each in get_args(kind) if each is not type(None))
    return kind


def _path(where: str, key: str) -> str:
    return f"{where}.{key}" if where else key


def _shown(value: object) -> str:
    return shown(value) if isinstance(value, str) else shown(str(value))
