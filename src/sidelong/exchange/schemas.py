"""The published schemas of our tables, made from the columns that read and write them.

The schemas follow the Table Schema of the Data Package (Frictionless) standard, so that other
programs can check a table before it comes here. ``docs/schemas`` holds them as files; a test
keeps both alike.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sidelong.exchange.calibrations import CALIBRATION_COLUMNS
from sidelong.exchange.columns import CODE_PATTERN, KEY_PATTERN, LABEL_PATTERN, Column, Kind
from sidelong.exchange.consents import CONSENT_COLUMNS
from sidelong.exchange.corrections import CONFIRMATION_COLUMNS, CORRECTION_COLUMNS
from sidelong.exchange.doses import DOSE_COLUMNS
from sidelong.exchange.entries import ENTRY_COLUMNS
from sidelong.exchange.estimates import ESTIMATE_COLUMNS
from sidelong.exchange.events import EVENT_COLUMNS
from sidelong.exchange.files import write_text
from sidelong.exchange.pieces import LADDER_COLUMNS
from sidelong.exchange.plans import PLAN_COLUMNS
from sidelong.exchange.promises import LOCK_COLUMNS
from sidelong.exchange.questions import QUESTION_COLUMNS
from sidelong.exchange.readiness import READINESS_COLUMNS, REASON_COLUMNS
from sidelong.exchange.readings import READING_COLUMNS
from sidelong.exchange.records import RECORD_COLUMNS
from sidelong.exchange.referrals import ANSWER_COLUMNS, DECISION_COLUMNS, REFERRAL_COLUMNS

TABLES: Mapping[str, tuple[str, Sequence[Column], tuple[str, ...]]] = {
    "plans": (
        "Plans: one row for every trainee, night and slot, in the order of enrolment.",
        PLAN_COLUMNS,
        ("trainee", "course", "version", "night", "slot"),
    ),
    "entries": (
        "Entries: one row for every position that was tried.",
        ENTRY_COLUMNS,
        ("trainee", "course", "version", "night", "slot"),
    ),
    "estimates": (
        "Estimates: one row for every trainee and position.",
        ESTIMATE_COLUMNS,
        ("trainee", "position"),
    ),
    "locks": (
        "Locks: estimates as they were fixed when follow-ups began, one row for every trainee and "
        "position.",
        LOCK_COLUMNS,
        ("trainee", "position"),
    ),
    "doses": (
        "Doses: the first real dose of a course, one row each, to be laid against its locked "
        "estimate.",
        DOSE_COLUMNS,
        ("trainee", "course"),
    ),
    "calibration": (
        "Calibration: what was said before first doses beside what happened, one row for every "
        "group of similar chances; a header alone while staff saw fewer than 20 doses.",
        CALIBRATION_COLUMNS,
        ("group",),
    ),
    "questions": (
        "Questions: what to ask kindly at follow-up visits, one row for every trainee and sign. "
        "For those who hold the visits; in no letter and no comparison of coaches.",
        QUESTION_COLUMNS,
        ("trainee", "sign"),
    ),
    "records": (
        "Records: one row for every trainee and course.",
        RECORD_COLUMNS,
        ("trainee", "course"),
    ),
    "consents": (
        "Consents: whose nights may count towards what is learned of all trainees.",
        CONSENT_COLUMNS,
        ("trainee",),
    ),
    "ladder": ("Ladder: one row for every step, smallest piece first.", LADDER_COLUMNS, ("step",)),
    "referrals": ("Referrals: one row for every trainee.", REFERRAL_COLUMNS, ("trainee",)),
    "answers": (
        "Answers: one row for every trainee and question of a gate.",
        ANSWER_COLUMNS,
        ("trainee", "gate"),
    ),
    "decisions": (
        "Decisions: one row for every decision of a clinician.",
        DECISION_COLUMNS,
        ("trainee", "gate", "decided_on", "decision"),
    ),
    "readiness": (
        "Readiness: where every referral stands on one day.",
        READINESS_COLUMNS,
        ("trainee",),
    ),
    "reasons": (
        "Reasons: one row for every gate that counts as yes.",
        REASON_COLUMNS,
        ("trainee", "gate"),
    ),
    "readings": (
        "Readings: one row for every field of every recognised page, and rows about pages.",
        READING_COLUMNS,
        ("image", "page_id", "field"),
    ),
    "corrections": (
        "Corrections: what a person saw on a photographed sheet, one row for every field.",
        CORRECTION_COLUMNS,
        (),
    ),
    "confirmations": (
        "Confirmations: every field of every page with its reading, its correction, and what "
        "became of it.",
        CONFIRMATION_COLUMNS,
        (),
    ),
    "events": ("Events: one row for every safety event.", EVENT_COLUMNS, ()),
}
_TYPES = {
    Kind.CODE: "string",
    Kind.KEY: "string",
    Kind.LABEL: "string",
    Kind.INTEGER: "integer",
    Kind.NUMBER: "number",
    Kind.CHOICE: "string",
    Kind.DATE: "date",
    Kind.TIME: "datetime",
}


def table_schema(name: str) -> dict[str, Any]:
    """Make the Table Schema of one table.

    Parameters
    ----------
    name : str
        One of the keys of :data:`TABLES`.

    Returns
    -------
    dict
        A Table Schema of the Data Package standard, version 2. `required` in a field's
        constraints means that its cells may not be empty; whether the column itself may be
        missing is said by our own key `columnRequired`, for which the standard has no word.

    References
    ----------
    .. [1] Data Package standard 2.0, Table Schema, datapackage.org/standard/table-schema
    """
    title, columns, key = TABLES[name]
    return {
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "name": name,
        "title": title,
        # Only these columns, of which some may be missing, in any order.
        "fieldsMatch": "superset",
        "fields": [_field(column) for column in columns],
        "missingValues": [""],
        "uniqueKeys": [list(key)],
    }


def schema_page(name: str) -> str:
    """Make the readable page of one table.

    Parameters
    ----------
    name : str
        As in :func:`table_schema`.

    Returns
    -------
    str
        Markdown.
    """
    title, columns, key = TABLES[name]
    lines = [
        f"# {name.capitalize()}",
        "",
        title,
        "",
        *([f"No two rows agree in {', '.join(f'`{each}`' for each in key)}."] if key else []),
        f"Machine-readable: [{name}.json]({name}.json). Dialects, rounding and rules between rows:",
        "[README](README.md).",
        "",
        "| column | must be there | may be empty | values | meaning |",
        "|---|---|---|---|---|",
    ]
    for column in columns:
        there, empty = ("yes" if yes else "no" for yes in (column.is_required, column.may_be_blank))
        lines.append(f"| `{column.name}` | {there} | {empty} | {_values(column)} | {column.says} |")
    return "\n".join(lines) + "\n"


def write_schemas(folder: Path) -> None:
    """Write every schema and its page.

    Parameters
    ----------
    folder : Path
        Usually ``docs/schemas``.
    """
    for name in TABLES:
        text = json.dumps(table_schema(name), indent=2, ensure_ascii=False)
        write_text(folder / f"{name}.json", text + "\n")
        write_text(folder / f"{name}.md", schema_page(name))


def _field(column: Column) -> dict[str, Any]:
    constraints: dict[str, Any] = {"required": not column.may_be_blank}
    if column.choices:
        constraints["enum"] = list(column.choices)
    if column.least is not None:
        constraints["minimum"] = column.least
    if column.above is not None:
        constraints["exclusiveMinimum"] = column.above
    if column.most is not None:
        constraints["maximum"] = column.most
    if column.kind is Kind.CODE:
        constraints["pattern"] = CODE_PATTERN
    if column.kind is Kind.KEY:
        constraints["pattern"] = KEY_PATTERN
    if column.kind is Kind.LABEL:
        constraints["pattern"] = LABEL_PATTERN
    return {
        "name": column.name,
        "type": _TYPES[column.kind],
        "format": "any" if column.kind is Kind.TIME else "default",
        "description": column.says,
        "constraints": constraints,
        "columnRequired": column.is_required,
    }


def _values(column: Column) -> str:
    """Say a column's values in a table cell."""
    match column.kind:
        case Kind.CHOICE:
            return ", ".join(f"`{choice}`" for choice in column.choices)
        case Kind.INTEGER | Kind.NUMBER:
            word = "whole number" if column.kind is Kind.INTEGER else "number"
            parts = [word]
            if column.above is not None:
                parts.append(f"above {column.above:g}")
            if column.least is not None:
                parts.append(f"from {column.least:g}")
            if column.most is not None:
                parts.append(f"to {column.most:g}")
            if column.decimals is not None:
                parts.append(f"written with {column.decimals} decimals")
            return " ".join(parts)
        case Kind.DATE:
            return "date, `2026-03-31`"
        case Kind.TIME:
            return "time with offset, `2026-03-31T19:30+02:00`; written in UTC"
        case Kind.CODE:
            return "code"
        case Kind.KEY:
            return "name of a page or field"
        case _:
            return "label"
