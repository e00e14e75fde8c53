"""The five head positions."""

from enum import StrEnum


class Position(StrEnum):
    """Where the head is while swallowing; right and left are the trainee's own.

    Listed in the order in which tables and pages show them.
    """

    DOWN = "down"
    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"
    UP = "up"


ALL_POSITIONS: tuple[Position, ...] = tuple(Position)


def in_listed_order(positions: frozenset[Position] | set[Position]) -> tuple[Position, ...]:
    """Sort positions as tables and pages list them."""
    return tuple(position for position in Position if position in positions)
