"""Reading the same rows once where one page asks for them several times.

Only for pages that write nothing: a verb reads anew, under its own locks.
"""

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar, cast

T = TypeVar("T")

_read: ContextVar[dict[Hashable, Any] | None] = ContextVar("read", default=None)


@contextmanager
def reading_once() -> Iterator[None]:
    """Within this block, what :func:`once` has read stays as it was read first."""
    token = _read.set({})
    try:
        yield
    finally:
        _read.reset(token)


def once(key: Hashable, read: Callable[[], T]) -> T:
    """Read something, or give what was read under the same key within the block.

    Parameters
    ----------
    key : hashable
        What is read, and of which row.
    read : callable
        Reads it; called every time where nothing is read once.

    Returns
    -------
    object
        What was read.
    """
    known = _read.get()
    if known is None:
        return read()
    if key not in known:
        known[key] = read()
    return cast("T", known[key])
