"""Third generator of photographed and scanned sheets: one image with its truth."""

from dataclasses import dataclass

import cv2
import numpy as np
from kit import Kit

from sidelong.training.layout import Field, SheetPage
from third.camera import View, hold_phone, lay_on_scanner
from third.conditions import PHONES, SCANNER, SEVERITIES
from third.family import Family
from third.lens import store, take
from third.light import Hidden, light_up
from third.paper import PX_PER_MM, Paper
from third.scene import draw_lid, draw_table, place_sheet
from third.surface import Surface, draw_surface

NAME = "third"
VERSION = 1

GREY_SCAN = 0.35
GREY_PRINTER = 0.2
LITTLE_TONER = 0.12
TONER_LEFT = (0.6, 0.85)
WRONG_SCALE = 0.1
SCALES = (0.93, 0.98)
SCALE_SPREAD = 0.002  # of a printer that was told true size
SHIFT_MM = 0.8
# Where an outline is looked at to tell whether it is hidden, in half widths from its centre.
LOOKED_AT = ((0, 0), (0.8, 0), (-0.8, 0), (0, 0.8), (0, -0.8))


@dataclass(frozen=True)
class Printing:
    """How far a printer missed: scale about the middle of the page, and shift in mm."""

    scale: float
    shift: tuple[float, float]

    @classmethod
    def draw(cls, rng: np.random.Generator) -> "Printing":
        is_wrong = rng.random() < WRONG_SCALE
        scale = rng.uniform(*SCALES) if is_wrong else 1 + rng.normal(0, SCALE_SPREAD)
        return cls(scale, tuple(rng.normal(0, SHIFT_MM, 2)))

    def place(self, page: SheetPage, x: float, y: float) -> tuple[float, float]:
        """Where a point of the layout lies on the sheet, mm."""
        middle_x, middle_y = page.width_mm / 2, page.height_mm / 2
        placed_x = middle_x + self.scale * (x - middle_x) + self.shift[0]
        placed_y = middle_y + self.scale * (y - middle_y) + self.shift[1]
        return placed_x, placed_y

    def apply(self, sheet: np.ndarray, page: SheetPage) -> np.ndarray:
        """Move what stands on a sheet to where the printer put it."""
        x, y = self.place(page, 0, 0)
        matrix = np.array(
            [[self.scale, 0, x * PX_PER_MM], [0, self.scale, y * PX_PER_MM]], np.float32
        )
        size = (sheet.shape[1], sheet.shape[0])
        return cv2.warpAffine(sheet, matrix, size, borderValue=(255, 255, 255))


def make_image(
    kit: Kit,
    page: SheetPage,
    *,
    severity: str,
    rng: np.random.Generator,
    words_share: float = 0.0,
) -> tuple[np.ndarray, dict[str, object]]:
    """Print a page, have it filled in, and take its picture.

    Parameters
    ----------
    kit : Kit
        Where the page comes from.
    page : SheetPage
        The page to fill in.
    severity : str
        One of ``clean_scan``, ``good_phone``, ``poor_phone``, ``terrible``.
    rng : numpy.random.Generator
        All chance.
    words_share : float
        Share of the answers with a word or a drawing of their own that are marked there and not
        on their outline, 0..1.

    Returns
    -------
    image : ndarray of uint8, shape (height, width, 3)
        RGB, as read from the device's file.
    truth : dict
        As README.md beside this package says, without ``image``.

    Raises
    ------
    ValueError
        If there is no such severity.
    """
    if severity not in SEVERITIES:
        raise ValueError(f"{severity} is no severity")
    is_grey = severity == "clean_scan" and rng.random() < GREY_SCAN
    paper = Paper(_printed(kit, page, rng), rng)
    family = Family(paper, page, severity, is_grey, words_share, rng)
    answers, who = family.fill_in()
    printing = Printing.draw(rng)
    sheet = _on_paper(printing.apply(np.clip(paper.pixels, 0, 255), page), rng)
    light, view, hidden = _look(sheet, page, severity, rng)
    lens = PHONES[severity].lens if severity in PHONES else SCANNER
    picture = take(light, lens, view.px_per_mm, rng, is_grey=is_grey)
    fields = {name: answer.document() for name, answer in answers.items()}
    for field in page.fields:
        if _is_hidden(field, page, printing, view, hidden, picture):
            fields[field.id] |= {"acceptable": [], "style": "hidden"}
    image, quality = store(picture, lens, rng)
    told = {"page_id": page.page_id, "print_scale": float(printing.scale), "fields": fields}
    about = {"who": who, "px_per_mm": view.px_per_mm, "jpeg_quality": quality}
    truth = {"severity": severity, "pages": [told], "degradations": about, "file_format": "jpg"}
    return image, truth


def _printed(kit: Kit, page: SheetPage, rng: np.random.Generator) -> np.ndarray:
    """Print a page, sometimes in grey or with little toner; uint8 RGB."""
    sheet = kit.render(page, PX_PER_MM)
    if rng.random() < GREY_PRINTER:
        sheet = np.repeat(cv2.cvtColor(sheet, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    if rng.random() < LITTLE_TONER:
        ink = (255 - sheet.astype(np.float32)) * rng.uniform(*TONER_LEFT)
        sheet = (255 - ink).astype(np.uint8)
    return sheet


def _on_paper(sheet: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Tint a sheet as paper is: a little yellow, never quite white."""
    tint = [rng.uniform(0.97, 1), rng.uniform(0.97, 1), rng.uniform(0.94, 0.99)]
    return sheet * np.array(tint, np.float32) * rng.uniform(0.94, 1)


def _look(
    sheet: np.ndarray, page: SheetPage, severity: str, rng: np.random.Generator
) -> tuple[np.ndarray, View, Hidden]:
    """Lay a sheet under a lid or on a table: the light that comes from there."""
    if severity not in PHONES:
        view = lay_on_scanner(Surface.flat(page.width_mm, page.height_mm), rng)
        light = place_sheet(sheet, view, draw_lid, rng)
        return light, view, Hidden.nothing(light)
    conditions = PHONES[severity]
    surface = draw_surface(page.width_mm, page.height_mm, conditions, rng)
    view = hold_phone(surface, conditions, rng)
    light, hidden = light_up(place_sheet(sheet, view, draw_table, rng), conditions, rng)
    return light, view, hidden


def _is_hidden(
    field: Field,
    page: SheetPage,
    printing: Printing,
    view: View,
    hidden: Hidden,
    picture: np.ndarray,
) -> bool:
    """Tell whether any outline of a field lies outside the picture, under a thumb or in glare."""
    for target in field.targets:
        x, y = view.find(*printing.place(page, target.cx, target.cy))
        reach = target.w / 2 * view.px_per_mm
        if not (reach < x < view.width_px - reach and reach < y < view.height_px - reach):
            return True
        if any(hidden.hides(picture, x + dx * reach, y + dy * reach) for dx, dy in LOOKED_AT):
            return True
    return False
