"""Files that cross our border: tables, plans, entries, estimates, layouts, old spreadsheets."""

from sidelong.exchange.columns import Column, Kind
from sidelong.exchange.entries import EntriesRead, read_entries, write_entries
from sidelong.exchange.estimates import as_written, read_estimates, write_estimates
from sidelong.exchange.files import write_bytes, write_text
from sidelong.exchange.layouts import read_layout, write_layout
from sidelong.exchange.mapped_entries import read_mapped_entries
from sidelong.exchange.plans import read_plans, write_plans
from sidelong.exchange.records import CourseRecord, read_records
from sidelong.exchange.schemas import table_schema, write_schemas
from sidelong.exchange.tables import Row, read_table, scan_table, write_table

__all__ = [
    "Column",
    "CourseRecord",
    "EntriesRead",
    "Kind",
    "Row",
    "as_written",
    "read_entries",
    "read_estimates",
    "read_layout",
    "read_mapped_entries",
    "read_plans",
    "read_records",
    "read_table",
    "scan_table",
    "table_schema",
    "write_bytes",
    "write_entries",
    "write_estimates",
    "write_layout",
    "write_plans",
    "write_schemas",
    "write_table",
    "write_text",
]
