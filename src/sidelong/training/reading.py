"""What the computer read from one photograph or scan, before a person has confirmed it.

A reading proposes. What is unclear is for review and never a guess; a field that is accepted is one
whose value the reader stands for without a person.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

# A sheet printed further from true size than this does not measure a piece any more.
TRUE_SIZE_TOLERANCE = 0.015


class PageStatus(StrEnum):
    """Whether a sheet was recognised."""

    OK = "ok"
    NOT_FOUND = "not_found"
    UNSURE_ID = "unsure_id"


class ReadingStatus(StrEnum):
    """Whether a value may be used without a person."""

    ACCEPTED = "accepted"
    REVIEW = "review"


@dataclass(frozen=True)
class FieldReading:
    """What one field of a sheet says.

    Parameters
    ----------
    value : str
        Value of the marked target; empty where nothing is marked.
    confidence : float
        Chance that the value is right, in [0, 1].
    accepted : bool
        Whether the value may be used without a person.
    """

    value: str
    confidence: float
    accepted: bool

    def __post_init__(self) -> None:
        """Refuse what is no chance."""
        if not 0.0 <= self.confidence <= 1.0:
            raise ValueError(f"a confidence of {self.confidence} is no chance")

    @property
    def status(self) -> ReadingStatus:
        """The word for the table."""
        return ReadingStatus.ACCEPTED if self.accepted else ReadingStatus.REVIEW


@dataclass(frozen=True)
class PageReading:
    """What one sheet in an image says.

    Parameters
    ----------
    page_id : str
        The page's own code.
    status : PageStatus
        ``ok``, or ``unsure_id`` where the page is only the most likely one.
    confidence : float
        Chance that it is this page, in [0, 1].
    fields : mapping of str to FieldReading
        By the field's id; of an unsure page none is accepted.
    print_scale : float or None
        Printed length over true length; None where the image does not tell.
    """

    page_id: str
    status: PageStatus
    confidence: float
    fields: Mapping[str, FieldReading] = field(default_factory=dict)
    print_scale: float | None = None

    def __post_init__(self) -> None:
        """Refuse a page that is not there, or is trusted further than its name."""
        if not self.page_id or self.status is PageStatus.NOT_FOUND:
            raise ValueError("a page that was read has an id")
        if not 0.0 <= self.confidence <= 1.0:
            raise ValueError(f"a confidence of {self.confidence} is no chance")
        if self.status is PageStatus.UNSURE_ID and any(f.accepted for f in self.fields.values()):
            raise ValueError(f"page {self.page_id} is unsure: none of its fields can be accepted")
        scale = self.print_scale
        if scale is not None and not (math.isfinite(scale) and scale > 0):
            raise ValueError(f"a print scale of {scale} cannot be")

    @property
    def is_true_size(self) -> bool | None:
        """Whether it was printed at 100 %; None where that is unknown."""
        if self.print_scale is None:
            return None
        return abs(self.print_scale - 1.0) <= TRUE_SIZE_TOLERANCE


@dataclass(frozen=True)
class ImageReading:
    """All that was read from one image.

    Parameters
    ----------
    image : str
        Name of the image; pages of a document are told apart by ``#2`` and so on, prints of one
        page in a photograph by ``~2``.
    pages : tuple of PageReading
        Sheets that were recognised, no page twice; empty where there is none.
    seconds : float or None
        Processor time that it took.
    """

    image: str
    pages: tuple[PageReading, ...] = ()
    seconds: float | None = None

    def __post_init__(self) -> None:
        """Refuse an image without a name, or with a page twice."""
        if not self.image:
            raise ValueError("an image needs a name")
        ids = [page.page_id for page in self.pages]
        if len(set(ids)) != len(ids):
            raise ValueError(f"{self.image} has a page twice")
        if self.seconds is not None and not (math.isfinite(self.seconds) and self.seconds >= 0):
            raise ValueError(f"{self.seconds} s cannot be")
