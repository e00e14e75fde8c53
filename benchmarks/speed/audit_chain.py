"""How fast acts are written, and how fast the whole trail is walked along.

    python benchmarks/speed/audit_chain.py [ACTS] [ROWS]

Prints figures for the SQLite of this machine and keeps them in ``benchmarks/results``.
"""

import csv
import os
import platform
import sqlite3
import sys
import tempfile
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import django

import sidelong
from sidelong.clinic.installation import make_installation

RESULTS = Path(__file__).resolve().parents[1] / "results" / "audit_chain.csv"
COLUMNS = ("number", "version", "at", "actor", "verb", "subject", "detail", "previous", "digest")


def prepare(home: Path) -> None:
    make_installation(home, today=date(2026, 11, 25))
    os.environ["SIDELONG_HOME"] = str(home)
    os.environ["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


def write_acts(n_acts: int) -> float:
    """Seconds for so many acts, each a transaction of its own."""
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.audit.acts import act

    start = time.perf_counter()
    for number in range(n_acts):
        with act("measured", by=Operator(), subject="trainee:HL-7K3PX") as doing:
            doing.note(number=number)
    return time.perf_counter() - start


def lengthen(n_rows: int) -> None:
    """Add true rows to the chain, without a transaction for each."""
    from django.db import connection, transaction

    from sidelong.clinic.audit.chain import digest_of
    from sidelong.clinic.audit.models import AuditRow
    from sidelong.clinic.audit.triggers import install_triggers, remove_triggers

    link = AuditRow.objects.last().link
    rows = []
    while link.number < n_rows:
        link = replace(link, number=link.number + 1, previous=link.digest)
        link = replace(link, digest=digest_of(link))
        rows.append(tuple(getattr(link, name) for name in COLUMNS))
    with connection.schema_editor() as editor:
        remove_triggers(None, editor)
    marks = ", ".join(["%s"] * len(COLUMNS))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO audit_auditrow VALUES ({marks})", rows)
        cursor.execute(
            "UPDATE audit_audithead SET number = %s, digest = %s",
            [link.number, link.digest],
        )
    with connection.schema_editor() as editor:
        install_triggers(None, editor)


def walk() -> tuple[float, float]:
    """Seconds by the clock and of the processor to walk along the whole trail."""
    from sidelong.clinic.audit.queries import check_chain

    start, start_cpu = time.perf_counter(), time.process_time()
    report = check_chain()
    if not report.holds:
        raise SystemExit(str(report.problems[0]))
    return time.perf_counter() - start, time.process_time() - start_cpu


def main() -> None:
    n_acts = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    n_rows = int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000
    with tempfile.TemporaryDirectory() as home:
        prepare(Path(home) / "clinic")
        per_act = write_acts(n_acts) / n_acts
        lengthen(n_rows)
        whole, cpu = walk()
    row = {
        "version": sidelong.__version__,
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
        "acts": n_acts,
        "ms_per_act": f"{1000 * per_act:.2f}",
        "rows": n_rows,
        "s_to_walk": f"{whole:.1f}",
        "cpu_s_to_walk": f"{cpu:.1f}",
    }
    print(row)
    RESULTS.parent.mkdir(exist_ok=True)
    with RESULTS.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(row))
        writer.writeheader()
        writer.writerow(row)


if __name__ == "__main__":
    main()
