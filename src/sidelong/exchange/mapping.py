"""A mapping file: how a lead's old spreadsheet translates into entries.

Every line of it is a statement about that spreadsheet, made by whoever knows it; nothing is
guessed, least of all which end of a scale is the easy one. ``docs/schemas/mapping.md`` explains
every key with an example.
"""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sidelong.exchange.files import read_bytes
from sidelong.exchange.mapping_checks import find_mapping_faults
from sidelong.exchange.old_sheets import RatingScale, SheetMapping, same_word
from sidelong.problems import Problem, Refused
from sidelong.training.position import Position


def read_mapping(path: Path) -> SheetMapping:
    """Read a mapping file, or refuse it with every fault in it.

    Parameters
    ----------
    path : Path
        A TOML file; see ``docs/schemas/mapping.md``.

    Returns
    -------
    SheetMapping
        Ready to translate a spreadsheet.

    Raises
    ------
    Refused
        If a key is unknown, a statement is missing, or two contradict each other.
    """
    try:
        document = tomllib.loads(read_bytes(path).decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        remedy = "Correct the file; see docs/schemas/mapping.md."
        # Only the place is repeated: a key of the file may be a word that nobody should see.
        place = re.search(r"\(at [a-z0-9, ]+\)", str(error))
        what = " ".join(["it is not TOML in UTF-8", *([place[0]] if place else [])])
        raise Refused([Problem(path.name, what, remedy, "mapping")]) from error
    faults = list(find_mapping_faults(document))
    if faults:
        raise Refused(
            [
                Problem(f"{path.name}, {where}", what, remedy, "mapping")
                for where, what, remedy in faults
            ]
        )
    return _make_mapping(path.name, document)


def _make_mapping(file: str, document: Mapping[str, Any]) -> SheetMapping:
    slots = document.get("slots", "column")
    scale = document.get("scale")
    return SheetMapping(
        file=file,
        is_wide=document["shape"] == "wide",
        header_row=document.get("header_row", 1),
        columns=document.get("columns", {}),
        groups={Position(name): group for name, group in document.get("groups", {}).items()},
        slots=slots if isinstance(slots, str) else tuple(Position(each) for each in slots),
        fixed={name: str(value) for name, value in document.get("fixed", {}).items()},
        words={
            name: {same_word(theirs): str(ours) for theirs, ours in words.items()}
            for name, words in document.get("words", {}).items()
        },
        scale=None
        if scale is None
        else RatingScale(scale["hardest"], scale["easiest"], tuple(scale.get("cuts", ()))),
        dates=document.get("dates", ""),
        times=document.get("times", ""),
        zone=ZoneInfo(document["time_zone"]) if "time_zone" in document else None,
        blanks=frozenset(same_word(str(word)) for word in document.get("blanks", ())),
        fill_down=frozenset(document.get("fill_down", ())),
        ignored=tuple(document.get("ignored", ())),
    )
