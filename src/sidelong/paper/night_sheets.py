"""All sheets of one booklet: its nights, a spare one, and a filled example."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sidelong.paper.example_night import TITLE, fill_in
from sidelong.paper.family_words import FamilyWords
from sidelong.paper.large_sheet import lay_out_large_sheets
from sidelong.paper.night_page import NightHead, set_night
from sidelong.paper.sheet import Paper, as_spare, lay_out_sheet
from sidelong.paper.sheet_areas import Sheet
from sidelong.paper.sheet_art import draw_outlines
from sidelong.paper.sheet_codes import draw_codes
from sidelong.paper.sheet_page import sheet_page
from sidelong.paper.true_size import piece_outline
from sidelong.paper.version import Edition
from sidelong.problems import Problem, Refused
from sidelong.training.entry import Scale
from sidelong.training.layout import SheetPage
from sidelong.training.piece import Piece
from sidelong.training.plan import Night, Plan
from sidelong.training.position import Position
from sidelong.training.sheet_code import (
    EXAMPLE_NIGHT,
    LAST_NIGHT,
    SPARE_NIGHT,
    SheetCode,
    booklet_keys,
    marker_ids,
)

Keys = tuple[int, int]  # a booklet's numbers among the markers, for first and second pages


@dataclass(frozen=True)
class PrintedSheet:
    """One page: what the template draws, and what a reader will find there.

    Parameters
    ----------
    drawn : dict
        Outlines, codes and words as ``night.typ`` expects them.
    page : SheetPage
        Where everything stands; its place in the PDF is still to be given.
    """

    drawn: dict[str, Any]
    page: SheetPage


def plan_keys(plans: Sequence[Plan]) -> tuple[Keys, ...]:
    """Give every plan numbers among the markers that no other plan of the table has.

    Parameters
    ----------
    plans : sequence of Plan
        All plans of a table, in its order: plans added at the end change nothing before them.

    Returns
    -------
    tuple of (int, int)
        For the pages of a plan, and for the second pages of its large print.
    """
    pages = [
        (f"{plan.trainee}{page}", plan.course, plan.version)
        for plan in plans
        for page in ("", "/2")
    ]
    keys = booklet_keys(pages)
    return tuple(zip(keys[::2], keys[1::2], strict=True))


def page_code(plan: Plan, *, night: int, part: int = 0, booklet: int = 1) -> str:
    """Name one sheet: code and night, with course, version and booklet where there are more.

    Parameters
    ----------
    plan : Plan
        The plan.
    night : int
        Sheet number, from 1; the number of the spare sheet for that one.
    part : int
        1 or 2 for a page of the large print.
    booklet : int
        Number of the booklet among those that were printed of the course, from 1.

    Returns
    -------
    str
        For example ``HL-0007-04``, ``HL-0007-C1V2-04``, ``HL-0007-04-2``, ``HL-0007-SPARE``, or
        ``HL-0007-B2-04`` in the second booklet.
    """
    return sheet_name(
        plan.trainee,
        course=plan.course,
        version=plan.version,
        night=night,
        part=part,
        booklet=booklet,
    )


def sheet_name(
    trainee: str, *, course: int, version: int, night: int, part: int = 0, booklet: int = 1
) -> str:
    """Name one sheet as :func:`page_code` does, where the plan is not at hand."""
    again = "" if course == version == 1 else f"-C{course}V{version}"
    again += "" if booklet == 1 else f"-B{booklet}"
    number = "SPARE" if night == SPARE_NIGHT else f"{night:02d}"
    return f"{trainee}{again}-{number}" + (f"-{part}" if part else "")


def spare_order(plan: Plan) -> tuple[Position, ...]:
    """Give the order that is printed on the spare sheet of a plan, slot 1 first."""
    return _spare_night(plan).order


def _spare_night(plan: Plan) -> Night:
    return plan.nights[len(plan.nights) // 2]


@dataclass(frozen=True)
class NightSheets:
    """What all sheets of one booklet have in common, and how they are made from it.

    Parameters
    ----------
    words : FamilyWords
        Whose booklet it is, and how it speaks.
    scale : Scale or None
        Form of the rating; None where the supporter's observation is the record.
    pieces : sequence of Piece
        The site's pieces.
    paper : Paper
        What it will be printed on.
    edition : Edition
        How large it is set.
    keys : (int, int)
        The booklet's numbers among the markers.
    booklet : int
        Its number among those that were printed of the course, from 1.
    leaves_out_number : bool
        Whether the line with the site's number is left out: never where a family gets the sheet.

    Raises
    ------
    Refused
        If the plan has more nights than markers can tell.
    """

    words: FamilyWords
    scale: Scale | None
    pieces: Sequence[Piece]
    paper: Paper
    edition: Edition
    keys: Keys
    booklet: int = 1
    leaves_out_number: bool = False
    # The same drawing serves nights alike.
    _outlines: dict[tuple[Any, ...], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse more nights than markers can tell."""
        n_nights = len(self.words.plan.nights)
        if n_nights > LAST_NIGHT:
            what = f"trainee {self.words.plan.trainee}: {n_nights} nights do not fit a booklet"
            remedy = f"Plan at most {LAST_NIGHT} nights; begin a new course for more."
            raise Refused([Problem("plan", what, remedy, "plan")])

    def nights(self) -> Iterator[PrintedSheet]:
        """Make the sheets of all nights, in order."""
        for number, night in enumerate(self.words.plan.nights, start=1):
            yield from self.of_night(night, number=number)

    def spare(self) -> Iterator[PrintedSheet]:
        """Make the spare sheet, for a night whose own sheet was lost or spoilt.

        Its order is one that the plan has; a person says later which night it stands for.

        Yields
        ------
        PrintedSheet
            One page, or two in large print.
        """
        yield from self.of_night(_spare_night(self.words.plan), number=SPARE_NIGHT)

    def example(self) -> Iterator[PrintedSheet]:
        """Make the filled example; its pages belong into no layout.

        Yields
        ------
        PrintedSheet
            One page, or two in large print.
        """
        yield from self.of_night(self.words.plan.nights[0], number=EXAMPLE_NIGHT)

    def of_night(self, night: Night, *, number: int) -> Iterator[PrintedSheet]:
        """Make the sheet of one night.

        Parameters
        ----------
        night : Night
            Its order and piece.
        number : int
            Sheet number, from 1; those of the example and of the spare sheet for them.

        Yields
        ------
        PrintedSheet
            One page, or two in large print.
        """
        title = self._title(number)
        for part, sheet in self._lay_out(night, is_spare=number == SPARE_NIGHT):
            markers = marker_ids(number, self.keys[max(part, 1) - 1])
            code = self._code(night, number=number, part=part)
            page = sheet_page(
                sheet,
                paper=self.paper,
                page_id=page_code(self.words.plan, night=number, part=part, booklet=self.booklet),
                pdf_page=0,
                code=code,
                markers=markers,
            )
            drawn = self._draw(sheet, night, title=title, page=page)
            drawn["codes"] = draw_codes(sheet, markers=markers, code=code)
            if number == EXAMPLE_NIGHT:
                crosses, written = fill_in(
                    sheet, scale=self.scale, language=self.words.language, edition=self.edition
                )
                drawn["filled"] = [crosses]
                drawn["items"] += written
            yield PrintedSheet(drawn, page)

    def _title(self, number: int) -> str:
        say = self.words.say
        titles = {EXAMPLE_NIGHT: say(TITLE), SPARE_NIGHT: say("Spare sheet")}
        return titles.get(number) or say("Night {night}").format(night=number)

    def _lay_out(self, night: Night, *, is_spare: bool) -> Iterator[tuple[int, Sheet]]:
        turned = self.words.language.is_right_to_left
        sheets: tuple[Sheet, ...] = ()
        if self.edition is Edition.LARGE:
            sheets = lay_out_large_sheets(night.order, scale=self.scale, right_to_left=turned)
        else:
            sheets = (lay_out_sheet(night.order, scale=self.scale, right_to_left=turned),)
        first = 0 if len(sheets) == 1 else 1
        for part, sheet in enumerate(sheets, start=first):
            yield part, as_spare(sheet, right_to_left=turned) if is_spare else sheet

    def _code(self, night: Night, *, number: int, part: int) -> SheetCode:
        plan = self.words.plan
        return SheetCode(
            trainee=plan.trainee,
            course=plan.course,
            version=plan.version,
            night=number,
            order=night.order,
            language=self.words.language.tag,
            scale=self.scale,
            part=part,
            booklet=self.booklet,
        )

    def _draw(self, sheet: Sheet, night: Night, *, title: str, page: SheetPage) -> dict[str, Any]:
        words = self.words
        by_code = {piece.code: piece for piece in self.pieces}
        piece = piece_outline(by_code.get(night.piece), night.piece_mm)
        alike = (piece, page.part, "night.box" in sheet.areas)
        if alike not in self._outlines:
            turned = words.language.is_right_to_left
            self._outlines[alike] = draw_outlines(sheet, piece=piece, right_to_left=turned)
        shown = page.page_id
        if title == words.say(TITLE):
            shown = words.say("Invented" if page.part else "Invented. Not to fill in.")
        emergency = words.protocol.emergency_in(words.language.tag)
        head = NightHead(
            title=title,
            page_id=shown,
            piece_mm=night.piece_mm,
            emergency=None if self.leaves_out_number else emergency.number,
            names={each: words.position(each)["name"] for each in words.plan.positions},
        )
        items = set_night(
            sheet,
            head=head,
            scale=self.scale,
            language=words.language,
            edition=self.edition,
        )
        return {"outlines": self._outlines[alike], "items": items, "filled": []}


def number_pages(sheets: Sequence[PrintedSheet], *, first: int) -> tuple[SheetPage, ...]:
    """Give pages their places in the PDF.

    Parameters
    ----------
    sheets : sequence of PrintedSheet
        In the order in which they are printed.
    first : int
        Place of the first one, from 0.

    Returns
    -------
    tuple of SheetPage
        In the same order.
    """
    return tuple(
        replace(sheet.page, pdf_page=place) for place, sheet in enumerate(sheets, start=first)
    )
