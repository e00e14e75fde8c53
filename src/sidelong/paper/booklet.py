"""All that a family takes home, as one PDF, and the kit of sheets that a reader works from.

The words come from the message catalogue and the site's protocol, the geometry from ``sheet.py``,
the drawing from ``booklet.typ``.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from sidelong.paper import front_pages
from sidelong.paper.language import Language
from sidelong.paper.night_page import NightHead, set_night
from sidelong.paper.sheet import Paper, lay_out_sheet
from sidelong.paper.sheet_art import draw_outlines
from sidelong.paper.sheet_codes import draw_codes
from sidelong.paper.sheet_page import sheet_page
from sidelong.paper.true_size import piece_outline, set_true_size
from sidelong.paper.typst import typeset as typeset_pdf
from sidelong.training.entry import Scale
from sidelong.training.layout import Layout, SheetPage
from sidelong.training.piece import Piece
from sidelong.training.plan import Plan
from sidelong.training.protocol import Protocol
from sidelong.training.sheet_code import SheetCode, booklet_key, booklet_keys, marker_ids

Typeset = Callable[..., bytes]

TEMPLATE = "booklet.typ"
_N_FRONT_PAGES = 6


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
    key: int | None = None,
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
    key : int or None
        The booklet's number among the markers; None for the first that its code suggests, see
        :func:`sidelong.training.sheet_code.booklet_keys`.
    typeset : callable
        Sets a template, see :func:`sidelong.paper.typst.typeset`.

    Returns
    -------
    Booklet
        Cover, steps, positions, every evening, safety, not tonight, one sheet a night, and the
        true-size page.
    """
    sheets, pages = _sheets(
        plan,
        protocol=protocol,
        scale=scale,
        pieces=pieces,
        paper=paper,
        language=language,
        key=booklet_key(plan.trainee, plan.course, plan.version) if key is None else key,
        first_pdf_page=_N_FRONT_PAGES,
    )
    title = language.say("Practice booklet {code}").format(code=plan.trainee)
    page = _document(title, protocol=protocol, paper=paper, language=language) | {
        "code": plan.trainee,
        "cover": front_pages.set_cover(plan, protocol=protocol, language=language),
        "steps": front_pages.set_steps(plan, protocol=protocol, language=language),
        "positions": front_pages.set_positions(plan, protocol=protocol, language=language),
        "safety": front_pages.set_safety(protocol=protocol, language=language),
        "evening": front_pages.set_evening(protocol=protocol, language=language),
        "tonight": front_pages.set_tonight(protocol=protocol, language=language),
        "sheets": sheets,
        "fits": _number_fits(sheets),
        "true_size": set_true_size(plan, pieces=pieces, language=language),
    }
    return Booklet(typeset(TEMPLATE, page=page), Layout(f"{plan.trainee}.pdf", tuple(pages)))


def make_kit(
    plans: Sequence[Plan],
    *,
    protocol: Protocol,
    scales: Sequence[Scale | None],
    pieces: Sequence[Piece],
    paper: Paper,
    language: Language,
    keys: Sequence[int] | None = None,
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
    keys : sequence of int or None
        Each booklet's number among the markers, as its booklet was printed with; None for
        different ones in the order of the plans.
    typeset : callable
        Sets a template.

    Returns
    -------
    Booklet
        Night sheets alone, plan after plan; its layout calls the document ``pages.pdf``.

    Raises
    ------
    ValueError
        If there is no plan, or not one form of the rating and one number for each.
    """
    if not plans or len(plans) != len(scales):
        raise ValueError("a kit needs at least one plan, and one form of the rating for each")
    keys = keys or booklet_keys([(plan.trainee, plan.course, plan.version) for plan in plans])
    sheets: list[dict[str, Any]] = []
    pages: list[SheetPage] = []
    for plan, scale, key in zip(plans, scales, keys, strict=True):
        more = _sheets(
            plan,
            protocol=protocol,
            scale=scale,
            pieces=pieces,
            paper=paper,
            language=language,
            key=key,
            first_pdf_page=len(pages),
        )
        sheets += more[0]
        pages += more[1]
    title = language.say("Night sheets")
    page = _document(title, protocol=protocol, paper=paper, language=language)
    pdf = typeset(TEMPLATE, page=page | {"sheets": sheets, "fits": _number_fits(sheets)})
    return Booklet(pdf, Layout("pages.pdf", tuple(pages)))


def page_code(plan: Plan, *, night: int) -> str:
    """Name one sheet: code and night, with course and version where there is more than one.

    Parameters
    ----------
    plan : Plan
        The plan.
    night : int
        Sheet number, from 1.

    Returns
    -------
    str
        For example ``HL-0007-04``, or ``HL-0007-C1V2-04``.
    """
    again = "" if plan.course == plan.version == 1 else f"-C{plan.course}V{plan.version}"
    return f"{plan.trainee}{again}-{night:02d}"


def _document(
    title: str, *, protocol: Protocol, paper: Paper, language: Language
) -> dict[str, Any]:
    say = language.say
    notice = ""
    if protocol.invented:
        notice = say("Invented example. Not for use with real people.")
    elif not protocol.is_approved:
        notice = say("Draft. The site has not signed its protocol yet.")
    return {
        "title": title,
        "lang": language.tag.split("-")[0],
        "rtl": language.is_right_to_left,
        "paper": paper.value,
        "notice": notice,
        "code": "",
    }


def _sheets(
    plan: Plan,
    *,
    protocol: Protocol,
    scale: Scale | None,
    pieces: Sequence[Piece],
    paper: Paper,
    language: Language,
    key: int,
    first_pdf_page: int,
) -> tuple[list[dict[str, Any]], list[SheetPage]]:
    """Set the words of all nights, and say where their answers stand."""
    by_code = {piece.code: piece for piece in pieces}
    names = {
        position: front_pages.say_position(position, protocol=protocol, language=language)["name"]
        for position in plan.positions
    }
    emergency = protocol.emergency_in(language.tag).number
    outlines: dict[tuple[float, float, str], str] = {}  # the same drawing for nights alike
    sheets, pages = [], []
    for number, night in enumerate(plan.nights, start=1):
        sheet = lay_out_sheet(night.order, scale=scale, right_to_left=language.is_right_to_left)
        page_id = page_code(plan, night=number)
        head = NightHead(
            night=number,
            page_id=page_id,
            piece_mm=night.piece_mm,
            emergency=emergency,
            names=names,
        )
        piece = piece_outline(by_code.get(night.piece), night.piece_mm)
        if piece not in outlines:
            outlines[piece] = draw_outlines(
                sheet, piece=piece, right_to_left=language.is_right_to_left
            )
        items = set_night(sheet, head=head, scale=scale, language=language)
        code = SheetCode(
            trainee=plan.trainee,
            course=plan.course,
            version=plan.version,
            night=number,
            order=night.order,
            language=language.tag,
            scale=scale,
        )
        markers = marker_ids(number, key)
        codes = draw_codes(sheet, markers=markers, code=code)
        sheets.append({"outlines": outlines[piece], "codes": codes, "items": items})
        pages.append(
            sheet_page(
                sheet,
                paper=paper,
                page_id=page_id,
                pdf_page=first_pdf_page + number - 1,
                code=code,
                markers=markers,
            )
        )
    return sheets, pages


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
