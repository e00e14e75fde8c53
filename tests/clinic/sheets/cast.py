"""Photographs of a course's sheets, marked by a felt pen that never misses."""

import io
from collections.abc import Collection, Mapping
from typing import Any

import numpy as np
import pypdfium2
from PIL import Image, ImageDraw, ImageFont

from sidelong.paper.booklet import make_booklet
from sidelong.paper.language import read_language
from sidelong.paper.sheet import Paper
from sidelong.paper.version import Edition

PX_PER_MM = 6.0
BLUE = (25, 40, 120)


def booklet_made(row: Any) -> Any:
    """Print a booklet again exactly as it was made, to have its layout beside its pages."""
    from sidelong.clinic.protocols.documents import ladder_of, protocol_of
    from sidelong.clinic.trainees.rows import plan_of, scale_of

    return make_booklet(
        plan_of(row.plan),
        protocol=protocol_of(row.plan.protocol.text),
        scale=scale_of(row.plan),
        pieces=ladder_of(row.plan.ladder.text).steps,
        paper=Paper(row.paper),
        language=read_language(row.language),
        edition=Edition(row.edition),
        keys=(row.key, row.second_key),
        number=row.number,
    )


def booklet_of(code: str) -> Any:
    """Print the booklet that the family of a first course got."""
    from sidelong.clinic.practice.nights import find_course, plan_rows
    from sidelong.clinic.protocols.documents import ladder_of, protocol_of
    from sidelong.clinic.trainees.rows import plan_of, scale_of

    row = plan_rows(find_course(code, 1))[-1]
    return make_booklet(
        plan_of(row),
        protocol=protocol_of(row.protocol.text),
        scale=scale_of(row),
        pieces=ladder_of(row.ladder.text).steps,
        paper=Paper.A4,
        language=read_language("en"),
    )


def take_photograph(booklet: Any, night: int, *, marks: Mapping[str, str], **more: Any) -> bytes:
    """Mark a sheet and photograph it, lying on a dark table."""
    page = next(each for each in booklet.layout.pages if each.night == night)
    return photograph_page(booklet, page, marks=marks, **more)


def photograph_page(
    booklet: Any,
    page: Any,
    *,
    marks: Mapping[str, str],
    written: Collection[str] | Mapping[str, str] = (),
    ink: tuple[int, int, int] = BLUE,
    turned: float = 4.0,
) -> bytes:
    """Mark a page, write into its boxes, and photograph it, lying on a dark table."""
    image = _printed(booklet, page.pdf_page)
    pen = ImageDraw.Draw(image)
    for field in page.fields:
        for target in field.targets:
            if marks.get(field.id) == target.value:
                r = 3.2 * PX_PER_MM
                x, y = target.cx * PX_PER_MM, target.cy * PX_PER_MM
                pen.ellipse((x - r, y - r, x + r, y + r), fill=BLUE)
    texts = written if isinstance(written, Mapping) else dict.fromkeys(written, "two sips")
    for name, text in texts.items():
        kind, _, number = name.partition(".")
        box = {"note": page.note_boxes, "free": page.free_boxes}[kind][int(number)]
        at = ((box.x + 3) * PX_PER_MM, (box.y + 2) * PX_PER_MM)
        pen.text(at, text, fill=ink, font=ImageFont.load_default(5 * PX_PER_MM))
    return _taken(image, turned=turned, seed=page.pdf_page)


def photograph_example(booklet: Any) -> bytes:
    """Photograph the filled example: it stands before the first night, and in no layout."""
    first = min(page.pdf_page for page in booklet.layout.pages)
    return _taken(_printed(booklet, first - 1), turned=4.0, seed=0)


def _printed(booklet: Any, pdf_page: int) -> Image.Image:
    document = pypdfium2.PdfDocument(booklet.pdf)
    return document[pdf_page].render(scale=PX_PER_MM * 25.4 / 72).to_pil().convert("RGB")


def _taken(image: Image.Image, *, turned: float, seed: int) -> bytes:
    table = Image.new("RGB", (round(image.width * 1.2), round(image.height * 1.2)), (70, 60, 50))
    paper = image.convert("RGBA").rotate(turned, Image.Resampling.BILINEAR, expand=True)
    table.paste(paper, (round(image.width * 0.06), round(image.height * 0.06)), paper)
    pixels = np.asarray(table).astype(np.int16)
    pixels += np.random.default_rng(seed).normal(0, 2, pixels.shape).astype(np.int16)
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "Planted Owner"
    taken = Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))
    taken.save(out, "JPEG", quality=92, exif=exif)
    return out.getvalue()


def full_night(booklet: Any, night: int) -> dict[str, str]:
    """Answer every question of a sheet."""
    page = next(each for each in booklet.layout.pages if each.night == night)
    told = {"written": "same_evening"}
    for field in page.fields:
        if field.id.endswith(".rating"):
            told[field.id] = field.targets[-1].value
        elif field.id.endswith(".went_down"):
            told[field.id] = "first"
        elif field.id == "felt_best":
            told[field.id] = field.targets[0].value
    return told
