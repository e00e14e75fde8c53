"""The pages that a course's photographs may show: every sheet of every plan version."""

from functools import lru_cache

from sidelong.clinic.practice.nights import plan_rows
from sidelong.clinic.protocols.documents import ladder_of, protocol_of
from sidelong.clinic.trainees.models import BookletRow, Course
from sidelong.clinic.trainees.rows import plan_of, scale_of
from sidelong.paper.booklet import make_kit
from sidelong.paper.language import read_language
from sidelong.paper.night_sheets import plan_keys
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.paper.sheet import Paper
from sidelong.training.entry import Scale
from sidelong.training.plan import Plan

_MANY = 16  # courses whose pages stay at hand: setting them takes half a second


def reader_of(course: Course) -> Reader:
    """Make a reader of a course's sheets.

    Parameters
    ----------
    course : Course
        Its row.

    Returns
    -------
    Reader
        Knows the sheets of all its plan versions, as the last booklet was printed.

    Raises
    ------
    Refused
        If the course has no plan yet.
    """
    rows = plan_rows(course)
    last = BookletRow.objects.filter(plan__course=course).last()
    paper, language = (last.paper, last.language) if last else (Paper.A4, course.trainee.language)
    return _reader(
        tuple(plan_of(row) for row in rows),
        tuple(scale_of(row) for row in rows),
        rows[-1].protocol.text,
        rows[-1].ladder.text,
        str(paper),
        language,
    )


@lru_cache(maxsize=_MANY)
def _reader(
    plans: tuple[Plan, ...],
    scales: tuple[Scale | None, ...],
    protocol: str,
    ladder: str,
    paper: str,
    language: str,
) -> Reader:
    kit = make_kit(
        plans,
        protocol=protocol_of(protocol),
        scales=scales,
        pieces=ladder_of(ladder).steps,
        paper=Paper(paper),
        language=read_language(language),
        keys=[plan_keys([plan])[0] for plan in plans],
    )
    return Reader(PageIndex(kit.layout.pages), printed=PrintedPages(kit.pdf))
