"""One night as the clinic keeps it, as a value; no tables here.

An entry is what crosses our border. Beside it the clinic keeps what tables of entries have no
column for: the date of the evening, and why nobody practised.
"""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from sidelong.training.entry import Entry


class NotDone(StrEnum):
    """Why nobody practised, as the sheet offers it."""

    ILL = "ill"
    TIRED = "tired"
    AWAY = "away"
    FORGOTTEN = "forgotten"
    NO_WISH = "no_wish"
    OTHER = "other"


@dataclass(frozen=True)
class Evening:
    """One night with all that is known of it.

    Parameters
    ----------
    entry : Entry
        What was recorded; no rows where nobody practised.
    evening : date or None
        Its date; None where none was given.
    not_done : NotDone or None
        Why nobody practised.
    """

    entry: Entry
    evening: date | None = None
    not_done: NotDone | None = None

    @property
    def is_blank(self) -> bool:
        """Whether nothing at all was recorded."""
        entry = self.entry
        marks = (entry.rows, entry.felt_best, entry.all_the_same, entry.written)
        return not any((*marks, self.evening, self.not_done))

    def says_the_same(self, other: "Evening") -> bool:
        """Tell whether another version differs in nothing but how and when it came."""
        return _bare(self) == _bare(other)


def _bare(evening: Evening) -> Evening:
    return replace(evening, entry=replace(evening.entry, source=None, written_at=None))
