"""From bytes that somebody sent to sheets that were read: washed apart, found, read, cut out."""

import io
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sidelong.clinic.sheets.pages import reader_of
from sidelong.clinic.trainees.models import BookletRow, Course
from sidelong.paper.images import Photograph, open_photographs
from sidelong.paper.reading.codes import read_codes, read_page_code
from sidelong.paper.reading.patches import cut_crop, field_area
from sidelong.paper.reading.reader import SheetSeen
from sidelong.paper.reading.tags import find_tags
from sidelong.paper.washing import MAX_BYTES, REFUSED
from sidelong.problems import Problem, Refused
from sidelong.training.layout import Box, SheetPage
from sidelong.training.reading import PageReading, PageStatus
from sidelong.training.sheet_code import EXAMPLE_NIGHT, recognise_markers

PAGE_PX_PER_MM = 5.0
_FRAME_MM = 1.2  # printed around an area to write in, with some bend of the paper
_PAPER_PX = 51  # ten millimetres: wider than any stroke
_INK_LEAST, _INK_OVER_NOISE = 8.0, 5.0
_WASH_SECONDS = 20.0  # far beyond the program's own limit on processor time: the machine is busy


class Stranger(StrEnum):
    """What a photograph shows in which no sheet of the course was found."""

    EXAMPLE = "example"
    OTHERS = "others"


@dataclass(frozen=True)
class ReadSheet:
    """One sheet of a photograph.

    Parameters
    ----------
    reading : PageReading
        What the computer read.
    picture : bytes
        JPEG of the page laid flat, 5 px/mm.
    boxes : mapping of str to dict
        By field and write-in area: ``box`` (left, top, width, height, mm), ``values`` of its
        targets, and for an area ``ink``, the share of it that is written on.
    page : SheetPage
        Which page it is.
    """

    reading: PageReading
    picture: bytes
    boxes: Mapping[str, Mapping[str, object]]
    page: SheetPage


def wash_apart(content: bytes) -> bytes:
    """Wash a photograph in a process of its own.

    Parameters
    ----------
    content : bytes
        As it was sent.

    Returns
    -------
    bytes
        JPEG without metadata, upright.

    Raises
    ------
    Refused
        If it is no photograph, too large, or damaged.
    """
    if len(content) > MAX_BYTES:
        raise Refused([_fault(f"it has over {MAX_BYTES // 10**6} MB")])
    command = [sys.executable, "-m", "sidelong.paper.washing"]
    try:
        done = subprocess.run(  # noqa: S603  (our own program, and no word of it comes from outside)
            command, input=content, capture_output=True, timeout=_WASH_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        raise Refused([_fault("it takes too long to open")]) from None
    if done.returncode == 0:
        return done.stdout
    what = done.stderr.decode("utf-8", "replace") if done.returncode == REFUSED else ""
    raise Refused([_fault(what or "it is damaged")])


def read_photograph(washed: bytes, course: Course) -> tuple[ReadSheet, ...]:
    """Read all sheets of a course in one photograph.

    Parameters
    ----------
    washed : bytes
        What :func:`wash_apart` gave.
    course : Course
        Whose pages may be met.

    Returns
    -------
    tuple of ReadSheet
        Empty where no sheet of this course was found.

    Raises
    ------
    Refused
        If the course has no plan yet, or one page lies in the photograph more than once: a
        photograph keeps a page once, and none may be lost.
    """
    (photograph,) = open_photographs(washed, name="photograph")
    _, seen = reader_of(course).read(photograph)
    again = dict.fromkeys(each.reading.page_id for each in seen if each.number > 1)
    if again:
        what = f"page {' and '.join(again)} lies in it more than once, and none of it was taken"
        remedy = "Photograph each of the sheets by itself, and send the new files."
        raise Refused([Problem("photograph", what, remedy, "photograph")])
    return tuple(_cut_out(each) for each in seen if not _is_of_others(each, photograph, course))


def name_stranger(washed: bytes, course: Course) -> Stranger | None:
    """Say what a photograph shows in which no sheet of a course was found.

    Parameters
    ----------
    washed : bytes
        What :func:`wash_apart` gave.
    course : Course
        The course.

    Returns
    -------
    Stranger or None
        The filled example, or a sheet of another course or trainee; None where neither is certain.
    """
    (photograph,) = open_photographs(washed, name="photograph")
    codes = read_codes(photograph)
    own = (course.trainee_id, course.number)
    if any(code.night == EXAMPLE_NIGHT for code in codes):
        return Stranger.EXAMPLE
    if any((code.trainee, code.course) != own for code in codes):
        return Stranger.OTHERS
    told = recognise_markers(tag.id for tag in find_tags(photograph))
    if told is None:
        return None
    night, key = told
    if night == EXAMPLE_NIGHT:
        return Stranger.EXAMPLE
    of_others = BookletRow.objects.exclude(plan__course=course).filter(key=key)
    return Stranger.OTHERS if of_others.exists() else None


def _is_of_others(seen: SheetSeen, photograph: Photograph, course: Course) -> bool:
    """Tell whether a sheet's own code names somebody else, another course, or the example."""
    # Sheets of two booklets may share two markers: enough to be taken, in doubt, for a page of
    # this course. Such a sheet must not wait here to be confirmed as somebody else's night.
    if seen.reading.status is PageStatus.OK:
        return False
    code = read_page_code(photograph, seen.view.mapping, seen.view.page.codes)
    own = (course.trainee.code, course.number)
    return code is not None and ((code.trainee, code.course) != own or code.night == EXAMPLE_NIGHT)


def _cut_out(seen: SheetSeen) -> ReadSheet:
    page = seen.view.page
    whole = Box(0.0, 0.0, page.width_mm, page.height_mm)
    picture = io.BytesIO()
    pixels = cut_crop(seen.view, whole, px_per_mm=PAGE_PX_PER_MM)
    Image.fromarray(np.asarray(pixels)).save(picture, "JPEG", quality=85)
    boxes = {
        field.id: _listed(field_area(field), [target.value for target in field.targets])
        for field in page.fields
    }
    written = [(f"note.{n}", box) for n, box in enumerate(page.note_boxes)]
    written += [(f"free.{n}", box) for n, box in enumerate(page.free_boxes)]
    for name, box in written:
        inner = Box(
            box.x + _FRAME_MM, box.y + _FRAME_MM, box.w - 2 * _FRAME_MM, box.h - 2 * _FRAME_MM
        )
        share = ink_share(np.asarray(cut_crop(seen.view, inner, px_per_mm=PAGE_PX_PER_MM)))
        boxes[name] = _listed(box, ()) | {"ink": round(share, 4)}
    return ReadSheet(seen.reading, picture.getvalue(), boxes, page)


def ink_share(pixels: NDArray[np.uint8]) -> float:
    """Measure how much of an area to write in is darker than the paper around.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (rows, columns, 3)
        RGB, without the printed frame.

    Returns
    -------
    float
        Share of the area, in [0, 1]; light that falls off and noise count for nothing.
    """
    grey = cv2.GaussianBlur(np.ascontiguousarray(pixels.min(axis=2)), (0, 0), 1.2)
    paper = cv2.medianBlur(grey, _PAPER_PX)
    darker = paper.astype(np.int16) - grey
    noise = 1.4826 * float(np.median(np.abs(darker)))
    return float(np.mean(darker > max(_INK_LEAST, _INK_OVER_NOISE * noise)))


def _listed(box: Box, values: Sequence[str]) -> dict[str, object]:
    return {"box": [round(side, 2) for side in (box.x, box.y, box.w, box.h)], "values": values}


def cut_from_page(picture: bytes, box: Sequence[float]) -> bytes:
    """Cut one area out of a page's picture.

    Parameters
    ----------
    picture : bytes
        JPEG at 5 px/mm.
    box : sequence of float
        Left, top, width, height, mm.

    Returns
    -------
    bytes
        JPEG.
    """
    left, top, width, height = (value * PAGE_PX_PER_MM for value in box)
    image = _opened(picture)
    cut = image.crop(
        (
            max(0, round(left)),
            max(0, round(top)),
            min(image.width, round(left + width)),
            min(image.height, round(top + height)),
        )
    )
    out = io.BytesIO()
    cut.save(out, "JPEG", quality=88)
    return out.getvalue()


@lru_cache(maxsize=4)
def _opened(picture: bytes) -> Image.Image:
    """Decode a page once for all that is cut from it."""
    image = Image.open(io.BytesIO(picture))
    image.load()
    return image


def _fault(what: str) -> Problem:
    remedy = "Photograph the sheet again, as the phone usually does, and send the new file."
    return Problem("photograph", what, remedy, "photograph")
