"""The table of readings: what was read from photographed sheets, contract 1.

One row for every field of every page that was recognised. Rows whose field begins with ``@`` are
about the page or the image: ``@page`` (`ok`, `not_found`, `unsure_id`), ``@print_scale`` (printed
over true length, or `unknown`) and ``@seconds`` (processor time for the image).
"""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from sidelong.exchange.columns import Column, Kind, Value
from sidelong.exchange.tables import Row, scan_table, write_table
from sidelong.problems import Problem, Refused
from sidelong.training.reading import (
    FieldReading,
    ImageReading,
    PageReading,
    PageStatus,
    ReadingStatus,
)

PAGE, PRINT_SCALE, SECONDS = "@page", "@print_scale", "@seconds"
UNKNOWN = "unknown"

IMAGE_COLUMN = Column(
    name="image",
    kind=Kind.LABEL,
    says=(
        "Name of the photograph or scan; `#2` and so on for further pages of a document, `~2` for "
        "a second print of the same page in it."
    ),
)
PAGE_COLUMN = Column(
    name="page_id",
    kind=Kind.KEY,
    may_be_blank=True,
    says="The page's own code; empty where no sheet was found.",
)
FIELD_COLUMN = Column(
    name="field",
    kind=Kind.KEY,
    says="Field of the page, or `@page`, `@print_scale`, `@seconds`.",
)
VALUE_COLUMN = Column(
    name="value",
    kind=Kind.LABEL,
    may_be_blank=True,
    says="Value of the marked answer; empty where nothing is marked.",
)
READING_COLUMNS = (
    IMAGE_COLUMN,
    PAGE_COLUMN,
    FIELD_COLUMN,
    VALUE_COLUMN,
    Column(
        name="confidence",
        kind=Kind.NUMBER,
        least=0,
        most=1,
        decimals=4,
        says="Chance that the value is right.",
    ),
    Column(
        name="status",
        kind=Kind.CHOICE,
        choices=tuple(ReadingStatus),
        says="`accepted`: may be used without a person; `review`: a person must look.",
    ),
)


def write_readings(path: Path, readings: Iterable[ImageReading]) -> None:
    """Write readings whole, or not at all.

    Parameters
    ----------
    path : Path
        CSV, or Parquet where the name ends in ``.parquet``.
    readings : iterable of ImageReading
        In the order in which they are to stand; confidences are rounded to four decimals.
    """
    write_table(path, READING_COLUMNS, (row for each in readings for row in reading_rows(each)))


def reading_rows(reading: ImageReading) -> Iterator[dict[str, Value]]:
    """Give the rows of one image."""
    if not reading.pages:
        yield _row(reading.image, "", PAGE, PageStatus.NOT_FOUND, 0.0, is_accepted=False)
    for page in reading.pages:
        is_ok = page.status is PageStatus.OK
        yield _row(
            reading.image, page.page_id, PAGE, page.status, page.confidence, is_accepted=is_ok
        )
        for name, each in page.fields.items():
            yield _row(
                reading.image,
                page.page_id,
                name,
                each.value,
                each.confidence,
                is_accepted=each.accepted,
            )
        scale = UNKNOWN if page.print_scale is None else f"{page.print_scale:.4f}"
        is_true = page.is_true_size is not False
        yield _row(reading.image, page.page_id, PRINT_SCALE, scale, 1.0, is_accepted=is_true)
    if reading.seconds is not None:
        first = reading.pages[0].page_id if reading.pages else ""
        yield _row(reading.image, first, SECONDS, f"{reading.seconds:.3f}", 1.0, is_accepted=True)


def read_readings(path: Path) -> tuple[ImageReading, ...]:
    """Read readings, or refuse the table with every fault in it.

    Parameters
    ----------
    path : Path
        A table as `sidelong read` writes it; rows of an image may stand in any order.

    Returns
    -------
    tuple of ImageReading
        In the order of their first rows.

    Raises
    ------
    Refused
        If a cell, a page or an image contradicts itself.
    """
    scan = scan_table(path, READING_COLUMNS)
    faults = [*scan.faults]
    images: dict[str, list[Row]] = {}
    for row in scan.rows:
        if not row.faulty:
            images.setdefault(row["image"], []).append(row)
    read = []
    for image, rows in images.items():
        wrong = list(_find_faults(rows))
        faults += wrong
        if not wrong:
            read.append(_make_image(image, rows))
    if faults:
        raise Refused(faults)
    return tuple(read)


def _row(
    image: str, page_id: str, name: str, value: str, confidence: float, *, is_accepted: bool
) -> dict[str, Value]:
    status = ReadingStatus.ACCEPTED if is_accepted else ReadingStatus.REVIEW
    return {
        "image": image,
        "page_id": page_id,
        "field": name,
        "value": str(value),
        "confidence": float(confidence),
        "status": status.value,
    }


def _find_faults(rows: Sequence[Row]) -> Iterator[Problem]:
    """Find rows that repeat a field, and rows that cannot be what they say."""
    seen: dict[tuple[str | None, str], Row] = {}
    for row in rows:
        key = (row["page_id"], row["field"])
        if key in seen:
            what = f"this field stands there twice, first in row {seen[key].number}"
            yield row.problem("field", what, "Delete one of the two rows.", kind="readings")
        seen.setdefault(key, row)
        yield from _find_row_faults(row)
    unsure = {page for (page, name), row in seen.items() if _is(row, name, PageStatus.UNSURE_ID)}
    for (page, name), row in seen.items():
        if page is not None and (page, PAGE) not in seen:
            what, remedy = "its page has no row @page", "Give the table as it was written."
            yield row.problem("page_id", what, remedy, kind="readings")
        if page in unsure and not name.startswith("@") and row["status"] == "accepted":
            what = "a field of an unsure page cannot be accepted"
            yield row.problem("status", what, "Write review.", kind="readings")


def _is(row: Row, name: str, status: PageStatus) -> bool:
    return name == PAGE and row["value"] == status.value


def _find_row_faults(row: Row) -> Iterator[Problem]:
    name, value = row["field"], row["value"]
    remedy = "Give the table as it was written."
    if name == PAGE:
        found = {status.value for status in PageStatus if status is not PageStatus.NOT_FOUND}
        wanted = {PageStatus.NOT_FOUND.value} if row["page_id"] is None else found
        if value not in wanted:
            what = "a page is ok or unsure_id, an image without one not_found"
            yield row.problem("value", what, remedy, kind="readings")
    elif name in {PRINT_SCALE, SECONDS}:
        is_number = _number(value) is not None
        if not is_number and not (name == PRINT_SCALE and value == UNKNOWN):
            yield row.problem("value", "it is not a number above 0", remedy, kind="readings")
    elif name.startswith("@"):
        yield row.problem("field", "it is no row of this table", remedy, kind="readings")
    elif row["page_id"] is None:
        yield row.problem("page_id", "a field belongs to a page", remedy, kind="readings")


def _number(value: str | None) -> float | None:
    try:
        number = float(value or "")
    except ValueError:
        return None
    return number if 0 <= number < 1e6 else None


def _make_image(image: str, rows: Sequence[Row]) -> ImageReading:
    pages: dict[str, dict[str, Row]] = {}
    seconds = None
    for row in rows:
        if row["field"] == SECONDS:
            seconds = _number(row["value"])
        elif row["page_id"] is not None:
            pages.setdefault(row["page_id"], {})[row["field"]] = row
    made = (_make_page(page_id, of_page) for page_id, of_page in pages.items())
    return ImageReading(image, tuple(made), seconds)


def _make_page(page_id: str, rows: dict[str, Row]) -> PageReading:
    scale = rows.get(PRINT_SCALE)
    return PageReading(
        page_id=page_id,
        status=PageStatus(rows[PAGE]["value"]),
        confidence=float(rows[PAGE]["confidence"]),
        fields={
            name: FieldReading(
                value=row["value"] or "",
                confidence=float(row["confidence"]),
                accepted=row["status"] == ReadingStatus.ACCEPTED,
            )
            for name, row in rows.items()
            if not name.startswith("@")
        },
        print_scale=(_number(scale["value"]) or None) if scale is not None else None,
    )
