"""A small printed kit, and a plain camera: pages laid into pictures by a homography."""

import io
from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
import pypdfium2 as pdfium
from numpy.typing import NDArray
from printed import PIECES, complete_protocol, invent_plan

from sidelong.exchange.protocols import read_default_protocol
from sidelong.paper.booklet import Booklet, make_kit
from sidelong.paper.images import Photograph, from_pixels
from sidelong.paper.language import read_language
from sidelong.paper.reading.mapping import fit_homography, project
from sidelong.paper.reading.opening import CodeReader
from sidelong.paper.reading.patches import FieldContext
from sidelong.paper.reading.reader import Judge, Reader
from sidelong.paper.reading.reference import PrintedPages
from sidelong.paper.reading.sheets import PageIndex
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Edition
from sidelong.training.entry import Scale
from sidelong.training.layout import SheetPage
from sidelong.training.reading import FieldReading
from sidelong.training.sheet_code import booklet_key

Pixels = NDArray[np.uint8]
Curl = Callable[[NDArray[np.float64]], NDArray[np.float64]]
PX_PER_MM = 8.0
TABLE = (96, 84, 70)


@cache
def printed_kit(
    *,
    edition: Edition = Edition.STANDARD,
    language: str = "en",
    paper: Paper = Paper.A4,
    booklet: int = 1,
) -> Booklet:
    plans = [invent_plan(n_nights=3, trainee=code) for code in ("HL-0007", "HL-0015")]
    return make_kit(
        plans,
        protocol=complete_protocol(),
        scales=[Scale.FIVE] * 2,
        pieces=PIECES,
        paper=paper,
        language=read_language(language),
        edition=edition,
        keys=[
            tuple(
                booklet_key(f"{plan.trainee}{page}", 1, 1, attempt=booklet - 1)
                for page in ("", "/2")
            )
            for plan in plans
        ],
        numbers=[booklet] * len(plans),
    )


def pages() -> tuple[SheetPage, ...]:
    return printed_kit().layout.pages


def print_page(number: int) -> Pixels:
    return print_of(printed_kit(), number)


@cache
def print_of(kit: Booklet, number: int) -> Pixels:
    document = pdfium.PdfDocument(io.BytesIO(kit.pdf))
    try:
        scale = PX_PER_MM * 25.4 / 72
        page = document[kit.layout.pages[number].pdf_page]
        return np.array(page.render(scale=scale).to_pil().convert("RGB"))
    finally:
        document.close()


def corners_mm(page: SheetPage) -> NDArray[np.float64]:
    w, h = page.width_mm, page.height_mm
    return np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])


def lay(
    sheet: Pixels, page: SheetPage, corners: NDArray[np.float64], picture: Pixels
) -> tuple[Pixels, NDArray[np.float64]]:
    """Lay a sheet into a picture so that its corners come to lie where they are wanted."""
    homography = fit_homography(corners_mm(page), corners)
    assert homography is not None
    # Pixel i of the print has its centre at (i + 0.5) / PX_PER_MM mm.
    to_mm = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, PX_PER_MM]]) / PX_PER_MM
    size = (picture.shape[1], picture.shape[0])
    kind = cv2.BORDER_TRANSPARENT
    laid = cv2.warpPerspective(
        sheet, homography @ to_mm, size, dst=picture.copy(), flags=cv2.INTER_AREA, borderMode=kind
    )
    return np.asarray(laid, np.uint8), homography


def table(width: int, height: int) -> Pixels:
    return np.full((height, width, 3), TABLE, np.uint8)


def turned_corners(
    page: SheetPage, *, angle: float, scale: float, middle: tuple[float, float], lean: float = 0.0
) -> NDArray[np.float64]:
    """Turn a page by degrees, and let its far side be shorter by a share."""
    around = (corners_mm(page) - [page.width_mm / 2, page.height_mm / 2]) * scale
    around *= 1 - lean * (around[:, 1:] / (page.height_mm * scale))
    a = np.deg2rad(angle)
    return around @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + middle


def photograph(pixels: Pixels, *, dpi: float | None = None) -> Photograph:
    rng = np.random.default_rng(1)
    noisy = cv2.GaussianBlur(pixels, (0, 0), 0.8) + rng.normal(0, 3, pixels.shape)
    return from_pixels(np.clip(noisy, 0, 255).astype(np.uint8), name="made.jpg", dpi=dpi)


def judge_nothing(patches: list[Pixels], contexts: list[object]) -> list[FieldReading]:
    return [FieldReading("", 0.5, accepted=True) for _ in contexts]


def judge_marked(patches: list[Pixels], contexts: list[FieldContext]) -> list[FieldReading]:
    """Take the first answer everywhere: no blank, so that ink beside it holds nothing back."""
    return [FieldReading(each.field.targets[0].value, 0.5, accepted=True) for each in contexts]


def reader(
    *, with_pdf: bool = True, of: list[SheetPage] | None = None, judge: Judge = judge_nothing
) -> Reader:
    printed = PrintedPages(printed_kit().pdf if with_pdf else None)
    return Reader(PageIndex(of or pages()), printed=printed, judge=judge)


def code_reader() -> CodeReader:
    return CodeReader(read_default_protocol(), judge=judge_nothing)


def curl(sheet: Pixels, *, by_mm: float) -> tuple[Pixels, Curl]:
    """Let a sheet curl; gives also where each place of it comes to lie, mm."""
    rows, columns = sheet.shape[:2]

    def bend(at: NDArray[np.float64]) -> NDArray[np.float64]:
        x, y = at[..., 0] * PX_PER_MM / columns, at[..., 1] * PX_PER_MM / rows
        return by_mm * np.stack([0.6 * np.sin(np.pi * y), np.sin(1.3 * np.pi * x)], axis=-1)

    def lands(at: NDArray[np.float64]) -> NDArray[np.float64]:
        seen = at
        for _ in range(30):  # what is seen at a place was printed where it bends to
            seen = at - bend(seen)
        return seen

    y, x = np.mgrid[:rows, :columns]
    places = np.stack([x, y], axis=-1) / PX_PER_MM
    across, down = np.moveaxis((places + bend(places)) * PX_PER_MM, -1, 0).astype(np.float32)
    bent = cv2.remap(sheet, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(bent, np.uint8), lands


def target_error_mm(
    seen: object, homography: NDArray[np.float64], lands: Curl = lambda at: at
) -> float:
    """Largest distance of any target from where it was really laid, mm."""
    view = seen.view  # type: ignore[attr-defined]
    targets = [target for field in view.page.fields for target in field.targets]
    at = np.array([[target.cx, target.cy] for target in targets])
    off = view.mapping.to_photograph(at) - project(homography, lands(at))
    return float(np.hypot(*off.T).max() / view.quality.px_per_mm)


def blurred(pixels: Pixels, *, sigma: float, noise: float = 12.0) -> Photograph:
    """Take a photograph out of focus, in little light."""
    rng = np.random.default_rng(2)
    soft = cv2.GaussianBlur(pixels, (0, 0), sigma) * 0.6
    noisy = np.clip(soft + rng.normal(0, noise, pixels.shape), 0, 255)
    return from_pixels(noisy.astype(np.uint8), name="blurred.jpg")
