"""`sidelong read`: photographs and scans of sheets become readings."""

import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from sidelong.cli.crops import CropFolder
from sidelong.cli.memory import keep_large_blocks
from sidelong.cli.progress import track
from sidelong.cli.words import counted
from sidelong.exchange.files import check_apart, check_place
from sidelong.exchange.layouts import read_layout, write_layout
from sidelong.exchange.photographs import Found, find_photographs
from sidelong.exchange.protocols import read_default_protocol
from sidelong.exchange.readings import write_readings
from sidelong.paper.images import SUFFIXES, Photograph, open_photographs
from sidelong.paper.night_sheets import sheet_name
from sidelong.paper.reading.codes import read_codes
from sidelong.paper.reading.opening import CodeReader, open_reader
from sidelong.paper.reading.reader import Reader, SheetSeen
from sidelong.problems import Problem, Refused
from sidelong.training.layout import Layout, SheetPage
from sidelong.training.reading import ImageReading, PageStatus
from sidelong.training.sheet_code import EXAMPLE_NIGHT

RETAKE = (
    "Photograph the sheet again: flat, all black-and-white squares in view, no shadow over it; "
    "or type the night by hand."
)
NO_CODE = (
    "Give the --layout of its kit: then its black-and-white squares are enough. Or photograph it "
    "again, flat and closer, or type the night by hand."
)


def read(
    photographs: Path,
    *,
    layout: Path | None = None,
    out: Path = Path("readings.csv"),
    crops: bool = True,
) -> None:
    """Read photographed and scanned sheets.

    Every field gets a value, the chance that it is right, and a status: `accepted`, or `review`
    where a person must look. Nothing is guessed; what is unclear is for review. An image that
    cannot be read does not stop the others.

    For example:

        sidelong read photographs --layout kit/layout.json --out readings.csv

    Parameters
    ----------
    photographs
        Folder, ZIP archive or single file: JPEG, PNG, TIFF, HEIC, PDF.
    layout
        layout.json of `sidelong booklet --kit`, with its PDF beside it.
        Without it each sheet is laid out again from its QR code, which must then be legible.
    out
        Table of readings to write. Beside it, with the ending .layout.json: the pages that were
        found, for `sidelong confirm`.
    crops
        Also cut out what a person must look at: fields for review, and what is written by hand.
        They go into a folder beside the table, with the ending .crops.
    """
    found = layout_beside(out)
    check_apart(
        read={"the photographs": photographs, "--layout": layout},
        written={"--out": out, "the layout beside it": found},
    )
    known = None if layout is None else read_layout(layout)
    files = find_photographs(photographs, suffixes=SUFFIXES)
    check_place(out)
    if layout is None or known is None:
        reader: Reader | CodeReader = CodeReader(read_default_protocol())
    else:
        reader = open_reader(
            known, folder=layout.resolve().parent, protocol=read_default_protocol()
        )
    keep_large_blocks()
    folder = CropFolder(out) if crops else None
    readings: list[ImageReading] = []
    problems: list[Problem] = []
    for file in track(files, doing="Reading sheets", total=len(files)):
        for reading, problem in _read_file(file, reader, folder):
            readings.append(reading)
            problems += [problem] if problem else []
    if folder is not None:
        folder.finish()
    write_readings(out, readings)
    _write_pages(found, readings, known=known, rebuilt=reader)
    for problem in problems:
        print(problem, file=sys.stderr)
    for line in _summary(readings, out):
        print(line)


def layout_beside(readings: Path) -> Path:
    """Name the layout of the pages that were found, beside a table of readings."""
    return readings.with_name(f"{readings.stem}.layout.json")


def _write_pages(
    place: Path,
    readings: Iterable[ImageReading],
    *,
    known: Layout | None,
    rebuilt: Reader | CodeReader,
) -> None:
    """Write the layout of what was found; an earlier one of this table goes, if nothing was."""
    named = {page.page_id for reading in readings for page in reading.pages}
    pages: Iterable[SheetPage] = known.pages if known is not None else ()
    if isinstance(rebuilt, CodeReader):
        pages = rebuilt.pages.values()
    found = tuple(page for page in pages if page.page_id in named)
    if found:
        write_layout(place, Layout(known.pdf if known else "pages.pdf", found))
    else:
        place.unlink(missing_ok=True)


def _read_file(
    file: Found, reader: Reader | CodeReader, folder: CropFolder | None
) -> Iterator[tuple[ImageReading, Problem | None]]:
    """Read one file, page by page; whatever is wrong with a page stays with it."""
    try:
        for photograph in open_photographs(file.read().content, name=file.name):
            try:
                whole, sheets = reader.read(photograph)
            except Refused as refusal:
                yield ImageReading(photograph.name), refusal.problems[0]
                continue
            missing = _say_missing(whole, has_layout=not isinstance(reader, CodeReader))
            if not whole.pages:
                missing = _say_stranger(photograph) or missing
            for reading, seen in _by_print(whole, sheets):
                if folder is not None:
                    folder.add(reading.image, seen)
                is_further = reading is not whole
                yield reading, _say_again(whole.image, reading) if is_further else missing
    except Refused as refusal:
        yield ImageReading(file.name), refusal.problems[0]


def _by_print(
    reading: ImageReading, seen: Sequence[SheetSeen]
) -> Iterator[tuple[ImageReading, Sequence[SheetSeen]]]:
    """Give further prints of a page in one photograph names of their own, as of another one."""
    yield reading, [sheet for sheet in seen if sheet.number == 1]
    for number in range(2, max((sheet.number for sheet in seen), default=1) + 1):
        again = [sheet for sheet in seen if sheet.number == number]
        pages = tuple(sheet.reading for sheet in again)
        yield ImageReading(f"{reading.image}~{number}", pages), again


def _say_again(image: str, reading: ImageReading) -> Problem:
    named = " and ".join(page.page_id for page in reading.pages)
    what = f"page {named} lies there more than once; this print is read as {reading.image}"
    remedy = (
        "Look at both: of spare sheets say with a correction of `night` which night each stands "
        "for; two prints of one night are compared."
    )
    return Problem(image, what, remedy, "photograph")


def _say_stranger(photograph: Photograph) -> Problem | None:
    """Name what a photograph shows instead of a readable sheet, where its code says it."""
    for code in read_codes(photograph):
        if code.night == EXAMPLE_NIGHT:
            what, remedy = "it shows the filled example, which is no night", "Leave it out."
            return Problem(photograph.name, what, remedy, "photograph")
        name = sheet_name(
            code.trainee,
            course=code.course,
            version=code.version,
            night=code.night,
            part=code.part,
            booklet=code.booklet,
        )
        what = f"it shows page {name}, which could not be read with this layout"
        remedy = (
            "Give the --layout of its kit, or leave it out: then the page's own code is enough."
        )
        return Problem(photograph.name, what, remedy, "photograph")
    return None


def _say_missing(reading: ImageReading, *, has_layout: bool) -> Problem | None:
    if not reading.pages and not has_layout:
        what = "no sheet's QR code could be read"
        return Problem(reading.image, what, NO_CODE, "photograph")
    if not reading.pages:
        return Problem(reading.image, "no sheet of this layout was found", RETAKE, "photograph")
    unsure = [page for page in reading.pages if page.status is PageStatus.UNSURE_ID]
    if unsure:
        what = f"this may be page {unsure[0].page_id}, but its markers or codes do not agree"
        remedy = "Look at the picture, and say with a correction @page which page it is."
        return Problem(reading.image, what, remedy, "photograph")
    wrong = [page for page in reading.pages if page.is_true_size is False]
    if wrong:
        scale = wrong[0].print_scale or 1.0
        what = f"page {wrong[0].page_id} was printed at {100 * scale:.1f} % of its true size"
        remedy = 'Print at 100 %, not "fit to page": drawn pieces on it have a wrong size.'
        return Problem(reading.image, what, remedy, "photograph")
    return None


def _summary(readings: Sequence[ImageReading], out: Path) -> Iterator[str]:
    pages = [page for reading in readings for page in reading.pages]
    fields = [field for page in pages for field in page.fields.values()]
    n_accepted = sum(field.accepted for field in fields)
    # The time of an image stands with it, not with further prints of a page in it.
    n_images = sum(each.seconds is not None or not each.pages for each in readings)
    yield f"{counted(n_images, 'image')}, {counted(len(pages), 'sheet')} found; in {out}."
    if not pages:
        return
    n_open = len(fields) - n_accepted
    before = "look at the crops, write corrections, then " if n_open else ""
    yield (
        f"{counted(len(fields), 'field')}: {n_accepted} accepted, {n_open} for review. "
        f"Next: {before}`sidelong confirm`."
    )
