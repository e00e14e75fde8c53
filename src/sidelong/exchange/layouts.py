"""``layout.json``: where every mark of a kit's pages belongs, contract 1.

Keys that are not ours are allowed and ignored, so that a kit may keep more in the same file.
"""

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from sidelong.exchange.files import read_bytes, write_text
from sidelong.problems import Problem, Refused
from sidelong.training.entry import Scale
from sidelong.training.layout import (
    Box,
    CheckLine,
    Field,
    FieldType,
    Layout,
    Marker,
    SheetPage,
    Target,
    TargetKind,
)
from sidelong.training.position import Position

CONTRACT = 1
_ENDS = ("x1", "y1", "x2", "y2")
_FAR_MM = 10_000.0  # longer than any paper; also keeps out what is no number
_REMEDY = "Write the kit again with the booklet command, and keep its files together."
T = TypeVar("T")


def write_layout(path: Path, layout: Layout) -> None:
    """Write a layout whole, or not at all.

    Parameters
    ----------
    path : Path
        Usually ``layout.json`` beside the PDF that it names.
    layout : Layout
        What was printed; lengths are written to a thousandth of a millimetre.
    """
    document = {
        "contract": CONTRACT,
        "pdf": layout.pdf,
        "pages": [_page_document(page) for page in layout.pages],
    }
    write_text(path, json.dumps(document, indent=1, ensure_ascii=False) + "\n")


def read_layout(path: Path) -> Layout:
    """Read a layout, or refuse it with every fault in it.

    Parameters
    ----------
    path : Path
        A ``layout.json``.

    Returns
    -------
    Layout
        Ready to read photographed pages by.

    Raises
    ------
    Refused
        If it is no layout of contract 1.
    """
    try:
        document = json.loads(read_bytes(path).decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise Refused([_fault(path.name, "it is not JSON in UTF-8")]) from error
    if not isinstance(document, dict) or document.get("contract") != CONTRACT:
        raise Refused([_fault(path.name, f"it is not a layout of contract {CONTRACT}")])
    faults: list[Problem] = []
    pages = []
    for place, page in enumerate(_list(document, "pages", path.name)):
        try:
            pages.append(_read_page(page, f"{path.name}, pages[{place}]"))
        except Refused as refusal:
            faults += refusal.problems
    if faults:
        raise Refused(faults)
    return _made(path.name, lambda: Layout(_text(document, "pdf", path.name), tuple(pages)))


def _page_document(page: SheetPage) -> dict[str, Any]:
    document: dict[str, Any] = {
        "page_id": page.page_id,
        "pdf_page": page.pdf_page,
        "width_mm": _mm(page.width_mm),
        "height_mm": _mm(page.height_mm),
        "fields": [
            {
                "id": each.id,
                "type": each.type.value,
                "targets": [_target_document(target) for target in each.targets],
            }
            for each in page.fields
        ],
        "note_boxes": [_box_document(box) for box in page.note_boxes],
        "free_boxes": [_box_document(box) for box in page.free_boxes],
    }
    if page.trainee:
        document["trainee"] = page.trainee
    for name in ("course", "version", "night"):
        if getattr(page, name) is not None:
            document[name] = getattr(page, name)
    return document | _camera_document(page)


def _camera_document(page: SheetPage) -> dict[str, Any]:
    """Write what helps a camera, beside what contract 1 asks for."""
    document: dict[str, Any] = {}
    if page.markers:
        document["markers"] = [{"id": m.id} | _box_document(m.box) for m in page.markers]
    if page.codes:
        document["codes"] = [_box_document(box) for box in page.codes]
    if page.check_line is not None:
        ends = {name: _mm(getattr(page.check_line, name)) for name in _ENDS}
        document["check_line"] = ends
    if page.order:
        document["order"] = [position.value for position in page.order]
    if page.scale is not None:
        document["scale"] = int(page.scale)
    if page.language:
        document["language"] = page.language
    if page.part:
        document["part"] = page.part
    if page.booklet > 1:
        document["booklet"] = page.booklet
    return document


def _target_document(target: Target) -> dict[str, Any]:
    lengths = {name: _mm(getattr(target, name)) for name in ("cx", "cy", "w", "h")}
    return {"id": target.id, "value": target.value, "kind": target.kind.value, **lengths}


def _box_document(box: Box) -> dict[str, float]:
    return {name: _mm(getattr(box, name)) for name in ("x", "y", "w", "h")}


def _mm(length: float) -> float:
    """Round to a thousandth of a millimetre: finer than any printer, short enough to read."""
    return round(float(length), 3)


def _read_page(page: Any, where: str) -> SheetPage:
    fields = tuple(
        _read_field(each, f"{where}.fields[{place}]")
        for place, each in enumerate(_list(page, "fields", where))
    )
    numbers = {
        name: _whole(page, name, where) for name in ("course", "version", "night") if name in page
    }
    return _made(
        where,
        lambda: SheetPage(
            page_id=_text(page, "page_id", where),
            pdf_page=_whole(page, "pdf_page", where),
            width_mm=_length(page, "width_mm", where),
            height_mm=_length(page, "height_mm", where),
            fields=fields,
            note_boxes=_read_boxes(page, "note_boxes", where),
            free_boxes=_read_boxes(page, "free_boxes", where),
            trainee=_text(page, "trainee", where) if "trainee" in page else "",
            markers=_read_markers(page, where),
            codes=_read_boxes(page, "codes", where),
            check_line=_read_check_line(page, where),
            order=_read_order(page, where),
            scale=Scale(_whole(page, "scale", where)) if "scale" in page else None,
            language=_text(page, "language", where) if "language" in page else "",
            part=_whole(page, "part", where) if "part" in page else 0,
            booklet=_whole(page, "booklet", where) if "booklet" in page else 1,
            **numbers,
        ),
    )


def _read_markers(page: Any, where: str) -> tuple[Marker, ...]:
    markers = _list(page, "markers", where) if "markers" in page else []
    return tuple(
        _read_marker(each, f"{where}.markers[{place}]") for place, each in enumerate(markers)
    )


def _read_marker(document: Any, where: str) -> Marker:
    number, box = _whole(document, "id", where), _read_box(document, where)
    return _made(where, lambda: Marker(number, box))


def _read_check_line(page: Any, where: str) -> CheckLine | None:
    if "check_line" not in page:
        return None
    at = f"{where}.check_line"
    line = page["check_line"]
    return _made(at, lambda: CheckLine(*(_length(line, name, at) for name in _ENDS)))


def _read_order(page: Any, where: str) -> tuple[Position, ...]:
    if "order" not in page:
        return ()
    at = f"{where}.order"
    return _made(at, lambda: tuple(Position(each) for each in _list(page, "order", where)))


def _read_field(document: Any, where: str) -> Field:
    targets = tuple(
        _read_target(each, f"{where}.targets[{place}]")
        for place, each in enumerate(_list(document, "targets", where))
    )
    return _made(
        where,
        lambda: Field(
            _text(document, "id", where), FieldType(_text(document, "type", where)), targets
        ),
    )


def _read_target(document: Any, where: str) -> Target:
    return _made(
        where,
        lambda: Target(
            _text(document, "id", where),
            _text(document, "value", where),
            TargetKind(_text(document, "kind", where)),
            *(_length(document, name, where) for name in ("cx", "cy", "w", "h")),
        ),
    )


def _read_boxes(page: Mapping[str, Any], name: str, where: str) -> tuple[Box, ...]:
    boxes = _list(page, name, where) if name in page else []
    return tuple(_read_box(box, f"{where}.{name}[{place}]") for place, box in enumerate(boxes))


def _read_box(document: Any, where: str) -> Box:
    sides = [_length(document, side, where) for side in ("x", "y", "w", "h")]
    return _made(where, lambda: Box(*sides))


def _made(where: str, make: Callable[[], T]) -> T:
    """Make a value, turning its refusal into a fault with a place."""
    try:
        return make()
    except ValueError as error:
        raise _refuse(where, str(error)) from error


def _list(document: Any, name: str, where: str) -> list[Any]:
    return _entry(document, name, where, (list,), "a list")  # type: ignore[no-any-return]


def _text(document: Any, name: str, where: str) -> str:
    return _entry(document, name, where, (str,), "a text")  # type: ignore[no-any-return]


def _whole(document: Any, name: str, where: str) -> int:
    return _entry(document, name, where, (int,), "a whole number")  # type: ignore[no-any-return]


def _length(document: Any, name: str, where: str) -> float:
    value = _entry(document, name, where, (int, float), "a length in mm")
    if not -_FAR_MM < value < _FAR_MM:
        raise _refuse(f"{where}.{name}", "it is not a length in mm")
    return float(value)


def _entry(document: Any, name: str, where: str, types: tuple[type, ...], wanted: str) -> Any:
    """Take one key of a JSON object, checking its type."""
    if not isinstance(document, dict):
        raise _refuse(where, "it is not an object with keys")
    if name not in document:
        raise _refuse(f"{where}.{name}", "the key is missing")
    if not isinstance(document[name], types) or isinstance(document[name], bool):
        raise _refuse(f"{where}.{name}", f"it is not {wanted}")
    return document[name]


def _fault(where: str, what: str) -> Problem:
    return Problem(where, what, _REMEDY, "layout")


def _refuse(where: str, what: str) -> Refused:
    return Refused([_fault(where, what)])
