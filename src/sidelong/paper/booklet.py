"""All that a family takes home, as one PDF, and the kit of sheets that a reader works from.

The words come from the message catalogue and the site's protocol, the geometry from ``sheet.py``,
the drawing from ``booklet.typ``.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import pypdfium2

from sidelong.paper import front_pages, safety_pages, taking_home
from sidelong.paper.family_words import FamilyWords
from sidelong.paper.language import Language, read_language
from sidelong.paper.night_sheets import (
    Keys,
    NightSheets,
    PrintedSheet,
    number_pages,
    plan_keys,
)
from sidelong.paper.sheet import Paper
from sidelong.paper.true_size import set_true_size
from sidelong.paper.typst import typeset as typeset_pdf
from sidelong.paper.version import Audience, Edition, audience_of
from sidelong.training.entry import Scale
from sidelong.training.layout import Layout, SheetPage
from sidelong.training.piece import Piece
from sidelong.training.plan import Night, Plan
from sidelong.training.protocol import Protocol
from sidelong.training.sheet_code import recognise_markers

Typeset = Callable[..., bytes]

TEMPLATE = "booklet.typ"
N_FRONT_PAGES = 9  # before the example; more in large print
_SOME_PIECE_MM = 5.0  # a sheet's code does not say which one it was printed for


@dataclass(frozen=True)
class Booklet:
    """A printed document with its sheets.

    Parameters
    ----------
    pdf : bytes
        The document; tagged, with its language and alternative texts (PDF/UA-1).
    layout : Layout
        Where every answer stands on which page.
    """

    pdf: bytes
    layout: Layout


def make_booklet(
    plan: Plan,
    *,
    protocol: Protocol,
    scale: Scale | None,
    pieces: Sequence[Piece],
    paper: Paper,
    language: Language,
    audience: Audience | None = None,
    edition: Edition = Edition.STANDARD,
    keys: Keys | None = None,
    number: int = 1,
    is_reprint: bool = False,
    typeset: Typeset = typeset_pdf,
) -> Booklet:
    """Make the booklet of one trainee.

    Parameters
    ----------
    plan : Plan
        Orders and pieces of all nights.
    protocol : Protocol
        The site's words and rules.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record (at 4 years).
    pieces : sequence of Piece
        The site's pieces; a night's piece is looked up by its code and drawn at true size.
    paper : Paper
        What it will be printed on.
    language : Language
        What it is written in.
    audience : Audience or None
        For whom it speaks; None for what the plan's age band says.
    edition : Edition
        How large it is set.
    keys : (int, int) or None
        The booklet's numbers among the markers, see :func:`plan_keys`; None for those that a plan
        alone in its table has.
    number : int
        Which one of those printed for the course, from 1; told on cover and sheets from 2 on.
    is_reprint : bool
        Whether this plan version was printed before; told on the cover.
    typeset : callable
        Sets a template, see :func:`sidelong.paper.typst.typeset`.

    Returns
    -------
    Booklet
        Cover, steps, positions, every evening, safety, not tonight, pieces, photographs, true
        size, an example, one sheet a night (two in large print), and a spare one. The layout
        lists nights and spare.
    """
    words = FamilyWords(plan, protocol, language, audience or audience_of(plan, protocol))
    setting = NightSheets(
        words, scale, pieces, paper, edition, keys or plan_keys([plan])[0], number
    )
    example = list(setting.example())
    sheets = [*setting.nights(), *setting.spare()]
    title = language.say("Practice booklet {code}").format(code=plan.trainee)
    page = _document(title, words=words, paper=paper, edition=edition) | {
        "code": plan.trainee,
        "cover": front_pages.set_cover(words, booklet=number, is_reprint=is_reprint),
        "steps": front_pages.set_steps(words),
        "positions": front_pages.set_positions(words),
        "safety": safety_pages.set_safety(words),
        "evening": front_pages.set_evening(words),
        "tonight": safety_pages.set_tonight(words),
        "pieces": taking_home.set_pieces(words, pieces=pieces),
        "photo": taking_home.set_photo(words),
        "true_size": set_true_size(plan, pieces=pieces, language=language),
    }
    pdf = typeset(TEMPLATE, page=page | _drawn([*example, *sheets]))
    first = N_FRONT_PAGES + len(example)
    if edition is Edition.LARGE:  # its words run on over as many pages as they need
        first = count_pages(pdf) - len(sheets)
    return Booklet(pdf, Layout(f"{plan.trainee}.pdf", number_pages(sheets, first=first)))


def make_kit(
    plans: Sequence[Plan],
    *,
    protocol: Protocol,
    scales: Sequence[Scale | None],
    pieces: Sequence[Piece],
    paper: Paper,
    language: Language,
    edition: Edition = Edition.STANDARD,
    keys: Sequence[Keys] | None = None,
    numbers: Sequence[int] | None = None,
    audiences: Sequence[Audience | None] | None = None,
    typeset: Typeset = typeset_pdf,
) -> Booklet:
    """Make the sheets of several trainees as one document.

    Parameters
    ----------
    plans : sequence of Plan
        At least one.
    protocol : Protocol
        The site's words and rules.
    scales : sequence of Scale or None
        Form of the rating for each plan, in the same order.
    pieces : sequence of Piece
        The site's pieces.
    paper : Paper
        What it will be printed on.
    language : Language
        What it is written in.
    edition : Edition
        How large the sheets are set.
    keys : sequence of (int, int) or None
        Each plan's numbers among the markers, as its booklet was printed with; None for those of
        a table with these plans alone.
    numbers : sequence of int or None
        Each booklet's number within its course; None where all are the first.
    audiences : sequence of (Audience or None) or None
        For whom each speaks; None for what the plan's age band says.
    typeset : callable
        Sets a template.

    Returns
    -------
    Booklet
        Night sheets alone, plan after plan, then the spare ones; its layout calls the document
        ``pages.pdf``.

    Raises
    ------
    ValueError
        If there is no plan, or not one form of the rating for each.
    """
    if not plans or len(plans) != len(scales):
        raise ValueError("a kit needs at least one plan, and one form of the rating for each")
    ones = [1] * len(plans)
    spoken = audiences or [None] * len(plans)
    settings = [
        NightSheets(
            FamilyWords(plan, protocol, language, audience or audience_of(plan, protocol)),
            scale,
            pieces,
            paper,
            edition,
            key,
            number,
        )
        for plan, scale, key, number, audience in zip(
            plans, scales, keys or plan_keys(plans), numbers or ones, spoken, strict=True
        )
    ]
    sheets = [sheet for setting in settings for sheet in setting.nights()]
    sheets += [sheet for setting in settings for sheet in setting.spare()]
    title = language.say("Night sheets")
    page = _document(title, words=settings[0].words, paper=paper, edition=edition)
    pdf = typeset(TEMPLATE, page=page | _drawn(sheets))
    return Booklet(pdf, Layout("pages.pdf", number_pages(sheets, first=0)))


def make_sheet_again(
    page: SheetPage, *, protocol: Protocol, typeset: Typeset = typeset_pdf
) -> bytes | None:
    """Set one night sheet again as it was printed, for comparing: not for a family.

    The line with the site's number is left out, since nobody knows how long it was.

    Parameters
    ----------
    page : SheetPage
        Of a layout, or rebuilt from the sheet's code.
    protocol : Protocol
        Whose words for positions it gets; the site's own may differ, and so may the piece.
    typeset : callable
        Sets a template.

    Returns
    -------
    bytes or None
        A PDF of one page; None where the page does not say all that its sheet follows from.
    """
    word = recognise_markers(marker.id for marker in page.markers)
    papers = [each for each in Paper if abs(each.size_mm[0] - page.width_mm) < 1.0]
    if word is None or not papers or not (page.trainee and page.order and page.language):
        return None
    number, key = word
    night = Night(page.order, piece_mm=_SOME_PIECE_MM)
    plan = Plan(page.trainee, (night,), course=page.course or 1, version=page.version or 1)
    language = read_language(page.language)
    words = FamilyWords(plan, protocol, language, audience_of(plan, protocol))
    edition = Edition.LARGE if page.part else Edition.STANDARD
    setting = NightSheets(
        words, page.scale, (), papers[0], edition, (key, key), page.booklet, leaves_out_number=True
    )
    sheets = [
        each for each in setting.of_night(night, number=number) if each.page.part == page.part
    ]
    title = language.say("Night sheets")
    document = _document(title, words=words, paper=papers[0], edition=edition)
    return typeset(TEMPLATE, page=document | {"notice": ""} | _drawn(sheets))


def count_pages(pdf: bytes) -> int:
    """Count the pages of a PDF.

    Parameters
    ----------
    pdf : bytes
        The document.

    Returns
    -------
    int
        At least 1.
    """
    with pypdfium2.PdfDocument(pdf) as document:
        return len(document)


def _document(title: str, *, words: FamilyWords, paper: Paper, edition: Edition) -> dict[str, Any]:
    language, protocol = words.language, words.protocol
    notice = ""
    if protocol.invented:
        notice = language.say("Invented example. Not for use with real people.")
    elif not protocol.is_approved:
        notice = language.say("Draft. The site has not signed its protocol yet.")
    return {
        "title": title,
        "lang": language.tag.split("-")[0],
        "rtl": language.is_right_to_left,
        "paper": paper.value,
        "edition": edition.value,
        "audience": words.audience.value,
        "notice": notice,
        "code": "",
    }


def _drawn(printed: Sequence[PrintedSheet]) -> dict[str, Any]:
    """Give the template all sheets, and every fit of words that they ask for, once."""
    sheets = [sheet.drawn for sheet in printed]
    return {"sheets": sheets, "fits": _number_fits(sheets)}


def _number_fits(sheets: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give every pair of words and place a number: each is measured once for all nights."""
    names = ("text", "w", "h", "size", "weight")
    numbers: dict[tuple[Any, ...], int] = {}
    for sheet in sheets:
        for item in sheet["items"]:
            if item["do"] == "text":
                fit = tuple(item[name] for name in names)
                item["fit"] = numbers.setdefault(fit, len(numbers))
    return [dict(zip(names, fit, strict=True)) for fit in numbers]
