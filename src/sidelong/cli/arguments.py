"""How words on the command line become values."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Annotated, Any

import cyclopts

from sidelong.training.position import Position, in_listed_order


def _split(tokens: Sequence[cyclopts.Token]) -> list[str]:
    """Split `a,b` and repeated options alike; blanks around a comma do not count."""
    return [part.strip() for token in tokens for part in token.value.split(",") if part.strip()]


def _to_names(_: Any, tokens: Sequence[cyclopts.Token]) -> tuple[str, ...]:
    names = tuple(_split(tokens))
    if not names or len(set(names)) != len(names):
        raise ValueError("give one or more different names with commas between them")
    return names


def _to_positions(_: Any, tokens: Sequence[cyclopts.Token]) -> tuple[Position, ...]:
    words = _split(tokens)
    unknown = [word for word in words if word not in set(Position)]
    if unknown or not words:
        known = ", ".join(Position)
        raise ValueError(f"{', '.join(unknown) or 'nothing'} is not a position; use {known}")
    return in_listed_order({Position(word) for word in words})


def _to_day(_: Any, tokens: Sequence[cyclopts.Token]) -> date:
    text = tokens[0].value
    try:
        return datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=UTC).date()
    except ValueError:
        raise ValueError(f"{text} is no day; write it as 2026-11-25") from None


Day = Annotated[date, cyclopts.Parameter(converter=_to_day)]
Names = Annotated[tuple[str, ...], cyclopts.Parameter(converter=_to_names, n_tokens=1, negative=())]
Positions = Annotated[
    tuple[Position, ...], cyclopts.Parameter(converter=_to_positions, n_tokens=1, negative=())
]
