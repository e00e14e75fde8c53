"""The folder of small pictures that a person looks at beside the table of readings."""

import csv
import io
import re
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

import cv2

from sidelong.exchange.files import write_text
from sidelong.paper.images import Pixels
from sidelong.paper.reading.patches import cut_crop, field_area
from sidelong.paper.reading.reader import SheetSeen
from sidelong.problems import Problem, Refused
from sidelong.training.layout import Box

INDEX = "crops.csv"
COLUMNS = ("image", "page_id", "field", "file")
_WRITTEN_MARGIN_MM = 2.0


class CropFolder:
    """A folder of crops beside a table; an earlier one of the same table is replaced.

    Parameters
    ----------
    table : Path
        The table of readings; the folder has its name with the ending ``.crops``.

    Raises
    ------
    Refused
        If something lies there that is no folder of crops.
    """

    def __init__(self, table: Path) -> None:
        self.folder = table.with_suffix(".crops")
        self._making = table.with_suffix(".crops.part")
        self._rows: list[tuple[str, str, str, str]] = []
        is_free = not self.folder.exists() or (self.folder / INDEX).is_file()
        if not is_free and (not self.folder.is_dir() or any(self.folder.iterdir())):
            remedy = "Move it away, give another --out, or leave crops out with --no-crops."
            what = "something else lies where crops would go"
            raise Refused([Problem(str(self.folder), what, remedy, "folder")])
        shutil.rmtree(self._making, ignore_errors=True)
        self._making.mkdir()

    def add(self, image: str, sheets: Sequence[SheetSeen]) -> None:
        """Cut out what must be looked at on the sheets of one image."""
        for sheet in sheets:
            page_id = sheet.reading.page_id
            for name, area in _areas(sheet):
                file = f"{len(self._rows) + 1:05d}-{_plain(page_id)}-{_plain(name)}.jpg"
                # The folder takes its name when it is whole: no single file needs care.
                (self._making / file).write_bytes(_encode(cut_crop(sheet.view, area)))
                self._rows.append((image, page_id, name, file))

    def finish(self) -> None:
        """Write the index, and put the new folder in the place of the old one."""
        text = io.StringIO(newline="")
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(self._rows)
        write_text(self._making / INDEX, text.getvalue())
        shutil.rmtree(self.folder, ignore_errors=True)
        self._making.rename(self.folder)


def _areas(sheet: SheetSeen) -> Iterator[tuple[str, Box]]:
    """List fields for review, then what is written by hand."""
    page = sheet.view.page
    for field in page.fields:
        reading = sheet.reading.fields.get(field.id)
        if reading is None or not reading.accepted:
            yield field.id, field_area(field)
    for kind, boxes in (("note", page.note_boxes), ("written", page.free_boxes)):
        for number, box in enumerate(boxes, start=1):
            wider = 2 * _WRITTEN_MARGIN_MM
            left, top = box.x - _WRITTEN_MARGIN_MM, box.y - _WRITTEN_MARGIN_MM
            yield f"{kind}.{number}", Box(left, top, box.w + wider, box.h + wider)


def _plain(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9.-]+", "_", name)[:60]


def _encode(pixels: Pixels) -> bytes:
    settings = [cv2.IMWRITE_JPEG_QUALITY, 85]
    return cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), settings)[1].tobytes()
