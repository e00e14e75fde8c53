"""The pages that a course's photographs may show: every sheet of every booklet that was printed."""

import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import pypdfium2

from sidelong.clinic.practice.nights import plan_rows
from sidelong.clinic.protocols.documents import ladder_of, protocol_of
from sidelong.clinic.trainees.models import BookletRow, Course, PlanRow
from sidelong.clinic.trainees.rows import plan_of, scale_of
from sidelong.paper.booklet import Booklet, make_kit
from sidelong.paper.language import read_language
from sidelong.paper.night_sheets import Keys, plan_keys
from sidelong.paper.reading.reader import Reader
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Audience, Edition
from sidelong.training.entry import Scale
from sidelong.training.layout import SheetPage
from sidelong.training.plan import Plan

_MANY = 16  # courses whose pages stay at hand: setting them takes half a second a booklet


@dataclass(frozen=True)
class Printing:
    """One booklet as it was printed: all that its sheets follow from."""

    plan: Plan
    scale: Scale | None
    protocol: str
    ladder: str
    paper: str
    language: str
    edition: str = Edition.STANDARD
    audience: str = ""
    number: int = 1
    keys: Keys | None = None


def reader_of(course: Course) -> Reader:
    """Make a reader of a course's sheets.

    Parameters
    ----------
    course : Course
        Its row.

    Returns
    -------
    Reader
        Knows the sheets of all booklets that were printed for it. Of a plan version of which none
        was printed here it knows those that the command prints, on A4.

    Raises
    ------
    Refused
        If the course has no plan yet.
    """
    printings = dict.fromkeys(
        each for row in plan_rows(course) for each in _printings(row, course.trainee.language)
    )
    return _reader(tuple(printings))


def _printings(row: PlanRow, language: str) -> Iterator[Printing]:
    plain = Printing(
        plan=plan_of(row),
        scale=scale_of(row),
        protocol=row.protocol.text,
        ladder=row.ladder.text,
        paper=str(Paper.A4),
        language=language,
    )
    # Numbers among the markers were shared by booklets that were made before each had its own:
    # of those the last one counts, as it was printed most probably.
    by_keys = {each.key: each for each in BookletRow.objects.filter(plan=row).order_by("pk")}
    if not by_keys:
        yield replace(plain, keys=plan_keys([plain.plan])[0])
    for made in by_keys.values():
        yield replace(
            plain,
            paper=made.paper,
            language=made.language,
            edition=made.edition,
            audience=made.audience,
            number=made.printed_number,
            keys=(made.key, made.second_key),
        )


@lru_cache(maxsize=_MANY)
def _reader(printings: tuple[Printing, ...]) -> Reader:
    pdf, pages = _bound([_set(each) for each in printings])
    return Reader(PageIndex(pages), printed=PrintedPages(pdf))


def _set(printing: Printing) -> Booklet:
    return make_kit(
        [printing.plan],
        protocol=protocol_of(printing.protocol),
        scales=[printing.scale],
        pieces=ladder_of(printing.ladder).steps,
        paper=Paper(printing.paper),
        language=read_language(printing.language),
        edition=Edition(printing.edition),
        keys=None if printing.keys is None else [printing.keys],
        numbers=[printing.number],
        audiences=[Audience(printing.audience) if printing.audience else None],
    )


def _bound(kits: Iterable[Booklet]) -> tuple[bytes, tuple[SheetPage, ...]]:
    """Bind several kits into one document, with their pages numbered through."""
    bound = pypdfium2.PdfDocument.new()
    pages: list[SheetPage] = []
    try:
        for kit in kits:
            first = len(bound)
            with pypdfium2.PdfDocument(kit.pdf) as document:
                bound.import_pages(document)
            pages += [replace(page, pdf_page=first + page.pdf_page) for page in kit.layout.pages]
        out = io.BytesIO()
        bound.save(out)
    finally:
        bound.close()
    return out.getvalue(), tuple(pages)
