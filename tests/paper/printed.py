"""A few plans, a complete protocol, and a ruler for rendered pages; shared by the tests here."""

from dataclasses import replace
from functools import cache
from io import BytesIO

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
from numpy.typing import NDArray

from sidelong.exchange.protocols import read_default_protocol
from sidelong.paper.booklet import Booklet, make_booklet
from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Audience, Edition
from sidelong.training.entry import Scale
from sidelong.training.piece import Piece, PieceKind, Shape
from sidelong.training.plan import Night, Plan
from sidelong.training.position import ALL_POSITIONS, Position
from sidelong.training.protocol import Protocol
from sidelong.training.safety import ClinicLine, EmergencyWords
from sidelong.training.wording import FamilyText

DPI = 300
PIECES = (
    Piece("S4", 4.0, 4.0, 4.0),
    Piece("S8", 8.0, 8.0, 8.0),
    Piece("C3", 15.8, 5.85, 5.85, shape=Shape.CAPSULE, kind=PieceKind.PLACEBO_CAPSULE),
)
_BY_SIMPLICITY = (Position.CENTRE, Position.LEFT, Position.RIGHT, Position.DOWN, Position.UP)


def invent_plan(n_positions: int = 5, *, n_nights: int = 14, trainee: str = "HL-0007") -> Plan:
    """Turn the order by one place every night, and step up half way."""
    used = [each for each in ALL_POSITIONS if each in _BY_SIMPLICITY[:n_positions]]
    nights = []
    for night in range(n_nights):
        turn = night % n_positions
        piece = PIECES[0] if night < n_nights // 2 else PIECES[2]
        nights.append(Night((*used[turn:], *used[:turn]), piece.largest_mm, piece.code))
    return Plan(trainee, tuple(nights))


@cache
def complete_protocol() -> Protocol:
    """Fill in what the shipped draft leaves to the site; unsigned."""
    return replace(
        read_default_protocol(),
        site_name="Invented clinic",
        emergency=(EmergencyWords("en", "555 0100", "Call at once and do as you were shown."),),
        clinic_line=ClinicLine(
            unwatched=FamilyText("Nobody at the clinic is watching in the evening."),
            phone="555 0199",
            hours=FamilyText("Somebody answers on weekdays from 9 to 4."),
        ),
    )


@cache
def print_booklet(
    n_positions: int = 5,
    *,
    n_nights: int = 14,
    scale: Scale | None = Scale.FIVE,
    paper: Paper = Paper.A4,
    tag: str = "en",
    audience: Audience | None = None,
    edition: Edition = Edition.STANDARD,
) -> Booklet:
    """Set one booklet, once for all tests that look at it."""
    return make_booklet(
        invent_plan(n_positions, n_nights=n_nights),
        protocol=complete_protocol(),
        scale=scale,
        pieces=PIECES,
        paper=paper,
        language=read_language(tag),
        audience=audience,
        edition=edition,
    )


def open_pdf(booklet: Booklet) -> pdfium.PdfDocument:
    """Open the document."""
    return pdfium.PdfDocument(BytesIO(booklet.pdf))


def read_text(booklet: Booklet, *, page: int) -> str:
    """Read all words of a page."""
    document = open_pdf(booklet)
    try:
        return str(document[page].get_textpage().get_text_range()).replace("\r\n", "\n")
    finally:
        document.close()


def type_sizes(booklet: Booklet, *, page: int) -> dict[float, str]:
    """Collect the characters of a page by the size in which they are set, pt."""
    document = open_pdf(booklet)
    try:
        text = document[page].get_textpage()
        found: dict[float, str] = {}
        for index in range(text.count_chars()):
            size = round(raw.FPDFText_GetFontSize(text.raw, index), 1)
            char = chr(raw.FPDFText_GetUnicode(text.raw, index))
            found[size] = found.get(size, "") + char.strip()
        return {size: chars for size, chars in found.items() if chars}
    finally:
        document.close()


def picture(booklet: Booklet, *, page: int) -> NDArray[np.int16]:
    """Render a page; shape (rows, columns, 3), values 0..255."""
    document = open_pdf(booklet)
    try:
        rendered = document[page].render(scale=DPI / 72).to_pil().convert("RGB")
        return np.asarray(rendered).astype(np.int16)
    finally:
        document.close()


def px(mm: float) -> int:
    """Say how many pixels so many millimetres are."""
    return round(mm * DPI / 25.4)


def mm(pixels: float) -> float:
    """Say how many millimetres so many pixels are."""
    return pixels * 25.4 / DPI


def is_dark(image: NDArray[np.int16]) -> NDArray[np.bool_]:
    """Find ink."""
    found: NDArray[np.bool_] = image.max(axis=2) < 140
    return found


def is_drop_out(image: NDArray[np.int16]) -> NDArray[np.bool_]:
    """Find the pale orange of the marks' outlines."""
    found: NDArray[np.bool_] = (image[:, :, 0] > 195) & (image[:, :, 2] < 190)
    return found
