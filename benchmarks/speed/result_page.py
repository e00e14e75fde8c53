"""How long the page of a result takes for an estimate that was never asked for, part by part.

Run: python benchmarks/speed/result_page.py [--seed 20261125] [--pages 40]. An installation of its
own is made in a temporary folder; its families are invented, and every page is of another trainee,
so no answer is known before. Times are CPU milliseconds, the median over pages, of one
process that is warm; the goal for one trainee's answer in a page is 20 ms. Writes
results/speed_result_page.csv.
"""

import argparse
import csv
import importlib.util
import os
import statistics
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parents[1] / "results" / "speed_result_page.csv"
DAY = date(2026, 11, 25)
WARM = 3
NOW = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)


def prepare(home: Path) -> None:
    """Make an installation and let Django know it."""
    from sidelong.clinic.installation import make_installation

    make_installation(home, today=DAY, name="Harbour Lane", prefix="HL")
    os.environ["SIDELONG_HOME"] = str(home)
    os.environ["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def load_cast() -> Any:
    """The tests' own cast: courses set down, nights invented."""
    path = Path(__file__).parents[2] / "tests" / "clinic" / "practice" / "cast.py"
    found = importlib.util.spec_from_file_location("practice_cast", path)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    return cast


def set_down(n_pages: int, *, seed: int) -> tuple[list[str], Any]:
    """Keep invented courses of fourteen nights; gives their codes, and who looks at them."""
    from allauth.mfa.models import Authenticator

    from sidelong.clinic.accounts.actions import create_staff
    from sidelong.clinic.accounts.people import Operator
    from sidelong.clinic.accounts.roles import Role
    from sidelong.clinic.practice.actions import keep_nights

    reader = create_staff(
        username="reader", display_name="Reader", roles=[Role.COACH], by=Operator()
    )
    factor = {"type": Authenticator.Type.TOTP, "data": {"secret": "sealed"}}
    Authenticator.objects.create(user=reader, **factor)
    cast, codes = load_cast(), []
    for number in range(n_pages):
        code = f"HL-{number:05d}"
        course = cast.set_down_course(code, index=number)
        nights = cast.invent_nights(cast.plan_in(course), seed=seed + number)
        keep_nights(code=code, course=1, nights=nights, now=NOW, today=DAY, by=reader)
        codes.append(code)
    return codes, reader


class Clock:
    """Keeps how long each part of each page took."""

    def __init__(self) -> None:
        self.taken: dict[str, list[float]] = defaultdict(list)

    def time(self, part: str, do: Callable[[], Any]) -> Any:
        """Do something, keep how long it took, and give what it gave."""
        start = time.process_time()
        done = do()
        self.taken[part].append(1000 * (time.process_time() - start))
        return done


def time_parts(code: str, clock: Clock) -> None:
    """Time what a page is made of, each part on its own."""
    from sidelong.clinic.practice.answers import answer, compose
    from sidelong.clinic.practice.evidence import evidence_of, protocol_for
    from sidelong.clinic.practice.nights import find_course
    from sidelong.paper.language import read_language

    course = find_course(code, 1)
    evidence = clock.time("rows into values", lambda: evidence_of(course))
    said = clock.time("estimate", lambda: answer(evidence))
    protocol = protocol_for(course)
    clock.time(
        "words of the report",
        lambda: compose(said, protocol=protocol, language=read_language("en"), today=DAY),
    )


def measure(n_pages: int, *, seed: int) -> dict[str, list[float]]:
    """Time pages of trainees nobody asked about, and the parts that they are made of."""
    from django.core.cache import cache
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    codes, reader = set_down(n_pages + WARM, seed=seed)
    browser, clock = Client(SERVER_NAME="127.0.0.1"), Clock()
    browser.force_login(reader, backend="allauth.account.auth_backends.AuthenticationBackend")
    for number, code in enumerate(codes):
        address = f"/trainees/{code}/courses/1/result/"
        run = clock if number >= WARM else Clock()
        page = browser.get(address)  # all nights are in, so the first look locks the estimate
        assert page.status_code == 200
        cache.clear()
        run.time("whole page, estimate not known", lambda at=address: browser.get(at))
        run.time("whole page, estimate known", lambda at=address: browser.get(at))
        with CaptureQueriesContext(connection) as asked:
            browser.get(address)
        run.taken["queries of a page"].append(len(asked))
        time_parts(code, run)
    return clock.taken


def main() -> None:
    """Time the pages, print the figures and keep them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seed", type=int, default=20261125)
    options.add_argument("--pages", type=int, default=40)
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        prepare(Path(folder) / "clinic")
        taken = measure(chosen.pages, seed=chosen.seed)
    rows = [("part", "median", "unit", "goal", "seed", "pages", "version")]
    for part, values in taken.items():
        unit = "queries" if part.startswith("queries") else "ms"
        goal = "20" if part == "whole page, estimate not known" else ""
        found = f"{statistics.median(values):.1f}"
        rows.append((part, found, unit, goal, chosen.seed, chosen.pages, version("sidelong")))
        print(f"{part:32} {found:>7} {unit} {'(goal ' + goal + ')' if goal else ''}")
    with RESULTS.open("w", encoding="utf-8", newline="") as table:
        csv.writer(table, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    main()
