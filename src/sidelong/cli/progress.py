"""Progress of long work: shown on a terminal, silent in a pipe."""

from collections.abc import Iterable, Iterator
from typing import TypeVar

from rich.console import Console
from rich.progress import track as rich_track

T = TypeVar("T")


def track(items: Iterable[T], *, doing: str, total: int) -> Iterator[T]:
    """Go through items, showing how far the work has come.

    Parameters
    ----------
    items : iterable
        What is worked through.
    doing : str
        What is being done, for example ``"Setting booklets"``.
    total : int
        How many items there are.

    Yields
    ------
    object
        The items, unchanged.
    """
    console = Console(stderr=True)
    quiet = not console.is_terminal
    yield from rich_track(items, doing, total=total, console=console, transient=True, disable=quiet)
