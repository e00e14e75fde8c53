"""What a person saw on a photographed sheet, and who and when."""

from dataclasses import dataclass
from datetime import datetime

# What is written by hand on a sheet and typed by whoever looks at its picture.
DATE, NOTE, PIECES, PRESENT = "date", "note", "pieces", "present"
# Which night a spare sheet stands for; which page an image shows.
NIGHT, PAGE = "night", "@page"
TYPED = (DATE, NOTE, PIECES, PRESENT, NIGHT)
NO_SHEET = "none"


@dataclass(frozen=True)
class Correction:
    """One field as a person saw it; equal to the reading where it was right.

    Parameters
    ----------
    image : str
        The photograph that was looked at.
    page_id : str
        The page in it.
    field : str
        Field of the page; ``date``, ``note``, ``pieces``, ``present``, ``night``; or ``@page`` for
        which page it is.
    value : str
        What stands there; empty for nothing.
    by : str
        Code of who looked.
    when : datetime
        With an offset.
    """

    image: str
    page_id: str
    field: str
    value: str
    by: str
    when: datetime

    def __post_init__(self) -> None:
        """Refuse a correction by nobody, of nothing, or at no certain time."""
        if not (self.image and self.page_id and self.field and self.by):
            raise ValueError("a correction needs image, page, field and who made it")
        if self.when.tzinfo is None:
            raise ValueError("when needs an offset")
