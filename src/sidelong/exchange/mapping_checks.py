"""What is wrong with a mapping file: unknown keys, missing statements, contradictions."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from sidelong.exchange.columns import CellFault, in_words, nearest
from sidelong.exchange.entries import ENTRY_COLUMNS
from sidelong.exchange.old_sheets import BEST, DATE, ORDER, SAME, RatingScale
from sidelong.training.position import Position

_COLUMNS = {column.name: column for column in ENTRY_COLUMNS}
_SPECIAL = (BEST, DATE, ORDER)
_OF_A_GROUP = ("slot", "piece_mm", "rating", "went_down", "felt_best", "piece", "why_not")
_WORDS_FOR = (*_COLUMNS, BEST, ORDER)
_KEYS = {
    "shape": str,
    "header_row": int,
    "columns": dict,
    "groups": dict,
    "slots": (str, list),
    "fixed": dict,
    "words": dict,
    "scale": dict,
    "dates": str,
    "times": str,
    "time_zone": str,
    "blanks": list,
    "fill_down": list,
    "ignored": list,
}
_SLOTS = ("column", "order", "plans", "rows")

Fault = tuple[str, str, str]


def find_mapping_faults(document: Mapping[str, Any]) -> Iterator[Fault]:
    """Find what is wrong with a mapping.

    Parameters
    ----------
    document : mapping
        The mapping file as parsed.

    Yields
    ------
    tuple of str
        Place in the file, fault, remedy.
    """
    types = list(_find_wrong_types(document))
    yield from types
    if types:
        return
    yield from _find_wrong_names(document)
    yield from _find_wrong_words(document)
    yield from _find_missing(document)
    yield from _find_wrong_times(document)
    yield from _find_wrong_order(document)


def _find_wrong_types(document: Mapping[str, Any]) -> Iterator[Fault]:
    for key, value in document.items():
        if key not in _KEYS:
            yield key, "the key is unknown", f"Use {in_words(_KEYS)}.{nearest(key, _KEYS)}"
        elif not isinstance(value, _KEYS[key]) or isinstance(value, bool):  # type: ignore[arg-type]
            yield key, "the value is of the wrong kind", "See docs/schemas/mapping.md."
    for key in ("groups", "words"):
        parts = document.get(key, {})
        for name, part in parts.items() if isinstance(parts, dict) else ():
            if not isinstance(part, dict):
                yield f"{key}.{name}", "it is not a table", f"Write it under [{key}.{name}]."
    for key in ("blanks", "fill_down", "ignored"):
        words = document.get(key)
        if isinstance(words, list) and not all(isinstance(each, str | int) for each in words):
            yield key, "it is not a list of words", "Write words in quotes with commas between."
    named = [document.get("columns"), *_values(document.get("groups"))]
    for table in named:
        for name, theirs in table.items() if isinstance(table, dict) else ():
            if not isinstance(theirs, str) or not theirs.strip():
                yield name, "it names no column", "Write your column's name in quotes."


def _values(table: object) -> Iterable[Any]:
    return table.values() if isinstance(table, dict) else ()


def _find_wrong_names(document: Mapping[str, Any]) -> Iterator[Fault]:
    """Find names of ours that are not ours."""
    groups = document.get("groups", {})
    for key, names, known in (
        ("columns", document.get("columns", {}), (*_COLUMNS, *_SPECIAL)),
        ("groups", groups, tuple(Position)),
        *((f"groups.{name}", group, _OF_A_GROUP) for name, group in groups.items()),
        ("fixed", document.get("fixed", {}), tuple(_COLUMNS)),
        ("words", document.get("words", {}), _WORDS_FOR),
        ("fill_down", document.get("fill_down", []), (*_COLUMNS, *_SPECIAL)),
    ):
        for name in names:
            if name not in known:
                remedy = f"Use {in_words(known)}.{nearest(str(name), known)}"
                yield f"{key}.{name}", "the name is not one of ours", remedy


def _find_wrong_words(document: Mapping[str, Any]) -> Iterator[Fault]:
    """Find values of ours that our columns do not allow."""
    given = [
        (f"fixed.{name}", name, value)
        for name, value in document.get("fixed", {}).items()
        if name in _COLUMNS
    ] + [
        (f"words.{name}.{theirs}", name, ours)
        for name, words in document.get("words", {}).items()
        if name in _WORDS_FOR
        for theirs, ours in words.items()
    ]
    for where, name, value in given:
        if name in {BEST, ORDER}:
            allowed = (*Position, SAME, "") if name == BEST else tuple(Position)
            if value not in allowed:
                remedy = f"Use {in_words(filter(None, allowed))}."
                yield where, "it is not an answer", remedy
        elif value != "":
            try:
                _COLUMNS[name].read_cell(str(value))
            except CellFault as fault:
                yield where, fault.what, fault.remedy
    scale = document.get("scale")
    if scale is not None:
        yield from _find_wrong_scale(scale)


def _find_wrong_scale(scale: Mapping[str, Any]) -> Iterator[Fault]:
    numbers = [scale.get("hardest"), scale.get("easiest"), *_list(scale.get("cuts", []))]
    if set(scale) - {"hardest", "easiest", "cuts"} or not all(
        isinstance(each, int | float) and not isinstance(each, bool) for each in numbers
    ):
        yield "scale", "it is not whole", "Give hardest and easiest as numbers, and cuts if any."
        return
    try:
        RatingScale(scale["hardest"], scale["easiest"], tuple(scale.get("cuts", ())))
    except ValueError as error:
        yield "scale", str(error), "Correct the numbers; see docs/schemas/mapping.md."


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else [None]


def _find_missing(document: Mapping[str, Any]) -> Iterator[Fault]:
    """Find statements without which a sheet cannot be understood."""
    columns = document.get("columns", {})
    groups, words = document.get("groups", {}), document.get("words", {})
    shape = document.get("shape")
    if document.get("header_row", 1) < 1:
        yield "header_row", "there is no such row", "Rows count from 1."
    if shape not in {"long", "wide"}:
        yield "shape", "it is neither long nor wide", 'Write "long" (a row per piece) or "wide".'
    if "trainee" not in columns:
        yield "columns.trainee", "it is missing", "Name the column with the trainee's code."
    if ("night" in columns) == (DATE in columns):
        remedy = "Name the night's number, or else a date by which the nights are numbered."
        yield "columns.night", "give one of night and date", remedy
    if shape == "wide" and not groups:
        yield "groups", "they are missing", "Name each position's columns, as [groups.left]."
    if shape == "long" and groups:
        yield "groups", "a long sheet has none", 'Leave them out, or write shape = "wide".'
    if shape == "long" and "position" not in columns:
        yield "columns.position", "it is missing", "Name the column with the position."
    rated = "rating" in columns or any("rating" in group for group in groups.values())
    if rated and "scale" not in document and "rating" not in words:
        remedy = "Say which number is hardest and which easiest under [scale], or what each word "
        remedy += "means under [words.rating]. A turned scale turns the answer around."
        yield "scale", "the direction of the rating is not said", remedy


def _find_wrong_times(document: Mapping[str, Any]) -> Iterator[Fault]:
    if "time_zone" in document:
        try:
            ZoneInfo(document["time_zone"])
        except (OSError, ValueError, KeyError):
            yield "time_zone", "it is unknown", 'Write one such as "Europe/London".'
    if "times" in document and "%z" not in document["times"] and "time_zone" not in document:
        yield "time_zone", "it is missing", "Say in which time zone the times were written."


def _find_wrong_order(document: Mapping[str, Any]) -> Iterator[Fault]:
    """Find out whether the mapping says where the order of a night comes from."""
    slots = document.get("slots", "column")
    columns, groups = document.get("columns", {}), document.get("groups", {})
    is_wide = document.get("shape") == "wide"
    remedy = f"Write {in_words(_SLOTS)}, or the positions in order."
    if isinstance(slots, list):
        known = [each for each in slots if isinstance(each, str) and each in set(Position)]
        if not slots or len(set(known)) != len(slots):
            yield "slots", "it is not an order of positions", remedy
        elif is_wide and set(groups) - set(slots):
            yield "slots", "it leaves out a position that has a group", remedy
    elif slots not in _SLOTS:
        yield "slots", "it is not a source of the order", remedy
    elif slots == "order" and ORDER not in columns:
        yield "columns.order", "it is missing", "Name the column with the night's order."
    elif slots == "rows" and is_wide:
        yield "slots", "a wide sheet has no order in its rows", remedy
    elif slots == "column":
        has_slots = all("slot" in group for group in groups.values()) if is_wide else False
        if not has_slots and "slot" not in columns:
            yield "slots", "no column holds the slots", remedy
