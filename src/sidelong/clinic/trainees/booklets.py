"""Which number a booklet gets: within its course, and among the markers on its sheets.

Two booklets of a course share no number, be they of two plan versions or one printed again, so
that a photographed sheet tells which of them it is of, in which language and how large it was set.
Their numbers among the markers are drawn as by command; where a booklet that this clinic printed
before has one already, the next is drawn.
"""

from dataclasses import dataclass
from itertools import count

from sidelong.clinic.trainees.models import BookletRow, PlanRow
from sidelong.paper.night_sheets import Keys
from sidelong.training.sheet_code import N_KEYS, booklet_key


@dataclass(frozen=True)
class BookletPlace:
    """What tells one printed booklet from all others.

    Parameters
    ----------
    number : int
        Which one of its course, from 1.
    is_reprint : bool
        Whether this plan version was printed before.
    keys : (int, int)
        Numbers among the markers, for first and second pages.
    """

    number: int
    is_reprint: bool
    keys: Keys


def next_place(row: PlanRow) -> BookletPlace:
    """Say which numbers the next booklet of a plan gets; nothing is kept yet.

    Parameters
    ----------
    row : PlanRow
        The plan version, with its course.

    Returns
    -------
    BookletPlace
        Numbers that no booklet before it has, as long as there are any left.
    """
    pairs = tuple(BookletRow.objects.values_list("key", "second_key"))
    taken = {key for pair in pairs for key in pair}
    code, course = row.course.trainee_id, row.course.number
    first = _free_key((code, course, row.version), taken, n_printed=len(pairs))
    second = _free_key((f"{code}/2", course, row.version), taken | {first}, n_printed=len(pairs))
    n_before = BookletRow.objects.filter(plan__course=row.course).count()
    is_reprint = BookletRow.objects.filter(plan=row).exists()
    return BookletPlace(n_before + 1, is_reprint, (first, second))


def _free_key(pages: tuple[str, int, int], taken: set[int], *, n_printed: int) -> int:
    if len(taken) >= N_KEYS:  # after some 4700 booklets; those of one course still differ
        return booklet_key(*pages, attempt=n_printed)
    drawn = (booklet_key(*pages, attempt=attempt) for attempt in count())
    return next(key for key in drawn if key not in taken)
