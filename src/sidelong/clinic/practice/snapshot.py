"""Values as canonical JSON and back, to be hashed and kept.

One value gives one text: sorted keys, no spaces, numbers as Python writes them. So a digest over
the text is a digest over the value, and what was signed can be read again years later.
"""

import dataclasses
import hashlib
import json
import types
import typing
from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from sidelong.clinic.sealing import framed

T = TypeVar("T")
_AS_THEY_ARE = frozenset({str, int, float, bool})


def to_plain(value: Any) -> Any:
    """Turn a frozen value into what JSON can hold.

    Parameters
    ----------
    value : object
        Dataclasses, tuples, enums, dates, numbers, texts and None, in any depth.

    Returns
    -------
    object
        Dictionaries, lists, numbers, texts and None.
    """
    names = _field_names(value.__class__)
    if names:
        return {name: to_plain(getattr(value, name)) for name in names}
    if value is None or type(value) in _AS_THEY_ARE:
        return value
    if isinstance(value, Mapping):
        return {str(key): to_plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [to_plain(each) for each in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | datetime):
        return value.isoformat()
    return value


def from_plain(kind: type[T], plain: Any) -> T:
    """Make a frozen value of what :func:`to_plain` gave.

    Parameters
    ----------
    kind : type
        A dataclass of fields that are annotated with such types.
    plain : object
        As it was read from JSON.

    Returns
    -------
    object
        The value; its own checks have run.
    """
    made: T = _rebuild(kind, plain)
    return made


def canonical(plain: Any) -> str:
    """Write plain values as text, in exactly one way."""
    return json.dumps(
        plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )


def digest(domain: str, *parts: str) -> str:
    """Hash texts under a name of what they are.

    Parameters
    ----------
    domain : str
        What is hashed; the same texts under another name give another digest.
    parts : str
        In their order; each is framed by its length.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits.
    """
    texts = (each.encode("utf-8") for each in parts)
    return hashlib.sha256(framed(domain.encode("utf-8"), *texts)).hexdigest()


@cache
def _field_names(kind: type) -> tuple[str, ...]:
    """Name the fields of a dataclass; none of anything else."""
    if not dataclasses.is_dataclass(kind):
        return ()
    return tuple(each.name for each in dataclasses.fields(kind))


@cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _rebuild(kind: Any, plain: Any) -> Any:
    if plain is None:
        return None
    if isinstance(kind, types.UnionType):
        kind = next(each for each in kind.__args__ if each is not types.NoneType)
    if typing.get_origin(kind) is tuple:
        first = typing.get_args(kind)[0]
        return tuple(_rebuild(first, each) for each in plain)
    if dataclasses.is_dataclass(kind):
        hints = _hints(typing.cast(type, kind))
        return typing.cast(type, kind)(
            **{name: _rebuild(hints[name], each) for name, each in plain.items()}
        )
    if issubclass(kind, datetime | date):
        return kind.fromisoformat(plain)
    return kind(plain)
