"""What a reader will find on a printed sheet: marks and boxes, by the numbers that drew them."""

from collections.abc import Iterator, Sequence
from functools import lru_cache

from sidelong.paper.sheet_areas import (
    CODE_PLACES,
    FREE_BOXES,
    NOTE_BOXES,
    TAG_PLACES,
    Answer,
    Area,
    Paper,
    Sheet,
)
from sidelong.training.layout import Box, CheckLine, Field, FieldType, Marker, SheetPage, Target
from sidelong.training.sheet_code import EXAMPLE_NIGHT, SPARE_NIGHT, SheetCode


def sheet_page(
    sheet: Sheet,
    *,
    paper: Paper,
    page_id: str,
    pdf_page: int,
    code: SheetCode,
    markers: Sequence[int],
) -> SheetPage:
    """Say what a reader will find where on the printed page.

    Parameters
    ----------
    sheet : Sheet
        What is printed.
    paper : Paper
        What it is printed on.
    page_id : str
        The page's own code; what a reader must report.
    pdf_page : int
        Page of the PDF, from 0.
    code : SheetCode
        Whose night it is; what the QR codes say.
    markers : sequence of int
        Numbers of the six tags, by place.

    Returns
    -------
    SheetPage
        Millimetres from the top left corner of the page.
    """
    width, height = paper.size_mm
    dx, dy = paper.offset_mm
    is_night = code.night not in (EXAMPLE_NIGHT, SPARE_NIGHT)
    return SheetPage(
        page_id=page_id,
        pdf_page=pdf_page,
        width_mm=width,
        height_mm=height,
        fields=_fields(sheet.answers, paper),
        note_boxes=tuple(_boxes(sheet, NOTE_BOXES, dx=dx, dy=dy)),
        free_boxes=tuple(_boxes(sheet, FREE_BOXES, dx=dx, dy=dy)),
        trainee=code.trainee,
        course=code.course,
        version=code.version,
        night=code.night if is_night else None,
        markers=tuple(
            Marker(number, box)
            for number, box in zip(markers, _boxes(sheet, TAG_PLACES, dx=dx, dy=dy), strict=True)
        ),
        codes=tuple(_boxes(sheet, CODE_PLACES, dx=dx, dy=dy)),
        check_line=_check_line(sheet.areas["check"].moved(dx, dy)),
        order=code.order,
        scale=code.scale,
        language=code.language,
        part=code.part,
        booklet=code.booklet,
    )


def _check_line(area: Area) -> CheckLine:
    left, right, y = (round(value, 3) for value in (area.x, area.x + area.w, area.y))
    return CheckLine(left, y, right, y)


@lru_cache(maxsize=64)
def _fields(answers: tuple[Answer, ...], paper: Paper) -> tuple[Field, ...]:
    """Turn answers into fields; all nights of a plan share them."""
    dx, dy = paper.offset_mm
    return tuple(
        Field(
            id=name,
            type=FieldType.TICK if name == "skipped" else FieldType.ONE_OF,
            targets=tuple(
                _target(answer, dx=dx, dy=dy) for answer in answers if answer.field == name
            ),
        )
        for name in dict.fromkeys(answer.field for answer in answers)
    )


def _target(answer: Answer, *, dx: float, dy: float) -> Target:
    area = answer.mark.moved(dx, dy)
    return Target(
        id=f"{answer.field}.{answer.value}",
        value=answer.value,
        kind=answer.kind,
        cx=round(area.x + area.w / 2, 3),
        cy=round(area.y + area.h / 2, 3),
        w=area.w,
        h=area.h,
    )


def _boxes(sheet: Sheet, names: Sequence[str], *, dx: float, dy: float) -> Iterator[Box]:
    for name in names:
        if name in sheet.areas:
            area = sheet.areas[name].moved(dx, dy)
            yield Box(x=round(area.x, 3), y=round(area.y, 3), w=area.w, h=area.h)
