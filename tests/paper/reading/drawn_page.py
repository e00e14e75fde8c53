"""A printed page that tests draw marks on, by shapes of their own."""

from functools import cache
from io import BytesIO

import cv2
import numpy as np
import pypdfium2 as pdfium
from numpy.typing import NDArray
from printed import print_booklet

from sidelong.paper.images import Pixels
from sidelong.paper.reading.lighting import PAPER_WHITE, Quality
from sidelong.paper.reading.marks import judge_fields, watched_places
from sidelong.paper.reading.patches import PATCH_PX, PATCH_PX_PER_MM, FieldContext
from sidelong.paper.reading.reference import PrintedPages, cut_printed
from sidelong.training.layout import Field, SheetPage, Target
from sidelong.training.reading import FieldReading

BLUE, GREY, RED = (30, 40, 150), (110, 110, 112), (200, 40, 40)
CLEAR = Quality(px_per_mm=8.0, blur_mm=0.1, noise=1.0, contrast=0.95)
SCALE = PATCH_PX_PER_MM


@cache
def sheet() -> SheetPage:
    return print_booklet().layout.pages[3]


@cache
def _bare() -> Pixels:
    document = pdfium.PdfDocument(BytesIO(print_booklet().pdf))
    bitmap = document[sheet().pdf_page].render(scale=SCALE * 25.4 / 72, rev_byteorder=True)
    return np.ascontiguousarray(bitmap.to_numpy()[:, :, :3])


@cache
def _darkest() -> Pixels:
    darkest = PrintedPages(print_booklet().pdf).darkest(sheet())
    assert darkest is not None
    return darkest


class Page:
    """A printed page that a test draws on, in mm."""

    def __init__(self, *, is_print_known: bool = True) -> None:
        self.pixels = _bare().copy()
        self.is_print_known = is_print_known

    def line(self, *points: tuple[float, float], width: float, colour: tuple[int, int, int]):
        fixed = (np.array(points) * SCALE * 16).round().astype(np.int32).reshape(-1, 1, 2)
        thick = max(1, round(width * SCALE))
        cv2.polylines(self.pixels, [fixed], False, colour, thick, cv2.LINE_AA, 4)

    def mark(self, target: Target, kind: str, *, colour=BLUE, width: float = 0.6) -> None:
        x, y = target.cx, target.cy
        if kind == "filled":
            for i in np.arange(-3, 3.1, 0.5):
                reach = np.sqrt(max(11 - i * i, 0.5))
                self.line((x - reach, y + i), (x + reach, y + i), width=width, colour=colour)
        elif kind == "ticked":
            corners = ((x - 2.5, y), (x - 0.5, y + 2.5), (x + 4, y - 4))
            self.line(*corners, width=width, colour=colour)
        elif kind == "crossed":
            self.line((x - 3, y - 3), (x + 3, y + 3), width=width, colour=colour)
            self.line((x - 3, y + 3), (x + 3, y - 3), width=width, colour=colour)
        elif kind == "ringed":
            t = np.linspace(0, 2 * np.pi, 50)
            ring = [(x + 5 * np.cos(a), y + 4.7 * np.sin(a)) for a in t]
            self.line(*ring, width=width, colour=colour)
        elif kind == "half_filled":
            for i in np.arange(0.3, 3.1, 0.5):
                reach = np.sqrt(max(11 - i * i, 0.5))
                self.line((x - reach, y + i), (x + reach, y + i), width=width, colour=colour)
        elif kind == "crayon":
            zigzag = [(x + (5 if i % 2 else -5), y - 4 + i) for i in range(9)]
            self.line(*zigzag, width=2.0, colour=colour)
        else:
            centre = tuple(round(each * SCALE) for each in (x, y))
            cv2.circle(self.pixels, centre, round(5 * SCALE), (240, 180, 30), -1, cv2.LINE_AA)

    def rub_out(self, target: Target, share: float, *, lower_half: bool = False) -> None:
        top, left = (round((each - 6.5) * SCALE) for each in (target.cy, target.cx))
        middle = top + round(6.5 * SCALE) if lower_half else top
        window = (slice(middle, top + 13 * int(SCALE)), slice(left, left + 13 * int(SCALE)))
        bare, now = _bare()[window].astype(float), self.pixels[window].astype(float)
        self.pixels[window] = (now + (bare - now) * share).astype(np.uint8)

    def seen(self) -> NDArray[np.float64]:
        """Blur it a little, add noise, and leave a margin of 15 mm."""
        seen = cv2.GaussianBlur(self.pixels, (0, 0), 0.6).astype(float) * PAPER_WHITE / 255
        seen += np.random.default_rng(1).normal(0, 1.0, seen.shape)
        return np.pad(seen, ((90, 90), (90, 90), (0, 0)), constant_values=PAPER_WHITE)

    def patches(self, field: Field, wide: NDArray[np.float64] | None = None) -> Pixels:
        wide = self.seen() if wide is None else wide
        cut = []
        for place in watched_places(field):
            top = round(place.cy * SCALE - PATCH_PX / 2) + 90
            left = round(place.cx * SCALE - PATCH_PX / 2) + 90
            cut.append(wide[top : top + PATCH_PX, left : left + PATCH_PX])
        return np.clip(np.stack(cut), 0, 255).astype(np.uint8)

    def read(self, quality: Quality = CLEAR) -> dict[str, FieldReading]:
        fields = sheet().fields
        contexts = [self.context(field, quality) for field in fields]
        wide = self.seen()
        readings = judge_fields([self.patches(field, wide) for field in fields], contexts)
        return {field.id: each for field, each in zip(fields, readings, strict=True)}

    def context(self, field: Field, quality: Quality = CLEAR) -> FieldContext:
        places = watched_places(field)
        printed = cut_printed(_darkest(), places) if self.is_print_known else None
        return FieldContext(field, quality, np.ones(len(places)), printed)


def field(name: str) -> Field:
    return next(each for each in sheet().fields if each.id == name)
