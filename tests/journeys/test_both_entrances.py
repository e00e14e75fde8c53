"""One clinic through both entrances: by command on files, and through the clinic's own verbs.

The clinic draws with a key of its key ring; the command is given the same secret as its seed. So
orders, booklets, figures and reports have to agree, to the last digit and the last byte.
"""

import csv
import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sidelong.cli.application import DONE, run
from sidelong.cli.invented_files import InventedClinic
from sidelong.clinic.installation import make_installation
from sidelong.clinic.keys import Purpose, make_ring
from sidelong.exchange.entries import read_entries
from sidelong.exchange.plans import read_plans

N_REFERRED = 9

# Tests of other rooms run without Django, so the clinic has a process of its own.
CLINIC = """
import json, sys
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from sidelong.clinic.serving import prepare
home, folder = map(Path, sys.argv[1:])
prepare(home)
from allauth.mfa.models import Authenticator
from django.test import Client
from django.utils import timezone
from sidelong.clinic.accounts.actions import create_staff
from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.practice.actions import keep_nights, record_event
from sidelong.clinic.practice.evening import Evening
from sidelong.clinic.practice.queries import plan_seen
from sidelong.clinic.practice.typed import to_typed
from sidelong.clinic.trainees.loading import invent_visit, load_files, morning_of
from sidelong.clinic.trainees.plan_actions import (
    begin_allocation, hand_out_booklet, issue_plan, record_visit,
)
from sidelong.exchange.entries import read_entries
from sidelong.exchange.events import read_events
from sidelong.paper.sheet import Paper
today = timezone.localdate()
day = today - timedelta(days=16)
by = create_staff(
    username="robin", display_name="Robin", roles=[Role.LEAD, Role.CLINICIAN], by=Operator()
)
Authenticator.objects.create(user=by, type=Authenticator.Type.TOTP, data={"secret": "sealed"})
files = load_files(folder, now=morning_of(day), lead=by, clinician=by)
begin_allocation(now=morning_of(day), by=by)
found = {}
for plan in files.plans:
    visit = invent_visit(plan, held_on=day)
    record_visit(visit=visit, release=True, now=morning_of(day), by=by)
    issue_plan(code=plan.trainee, now=morning_of(day), by=by)
    kept = plan_seen(plan.trainee, 1, seen_by=by)
    booklet = hand_out_booklet(
        code=plan.trainee, paper=Paper.A4, language="en", now=morning_of(day), by=by
    )
    found[plan.trainee] = {
        "nights": [[[str(each) for each in n.order], n.piece_mm, n.piece] for n in kept.nights],
        "place": [kept.allocation.stream, kept.allocation.index],
        "booklet": sha256(booklet).hexdigest(),
    }
plans = {plan.trainee: plan for plan in files.plans}
for entry in read_entries(folder / "entries.csv", plans=files.plans, today=today).entries:
    plan = plans[entry.trainee]
    order = plan.nights[entry.night - 1].order
    typed = to_typed(Evening(entry), plan=plan, order=order, version=0)
    told = keep_nights(
        code=entry.trainee, course=1, nights=[typed], now=timezone.now(), today=today, by=by
    )
    assert not told.faults, [each.text for each in told.faults]
for event in read_events(folder / "events.csv"):
    record_event(
        code=event.trainee, course=1, night=event.night, tier=event.tier,
        position=event.position, now=timezone.now(), by=by,
    )
from django.test.utils import setup_test_environment
setup_test_environment()
browser = Client(headers={"Host": "localhost"})
browser.force_login(by, backend="allauth.account.auth_backends.AuthenticationBackend")
for code, answer in found.items():
    page = browser.get(f"/trainees/{code}/courses/1/result/")
    exact = page.context["report"].exact
    text = page.content.decode()
    answer["rows"] = [dict(zip(exact.columns, row)) for row in exact.rows]
    answer["on_page"] = all(cell in text for row in exact.rows for cell in row)
    answer["verdict"] = str(page.context["estimate"].verdict)
    report = browser.get(f"/trainees/{code}/courses/1/result/report.pdf").content
    answer["report"] = sha256(report).hexdigest()
print("FOUND" + json.dumps(found))
"""


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """The files of the commands, and what the clinic says of the same trainees."""
    home = tmp_path_factory.mktemp("clinic") / "home"
    folder = tmp_path_factory.mktemp("files")
    today = datetime.now(UTC).date()
    installation = make_installation(home, today=today)
    # Drawn once and for all: with other keys other trainees are ready, now and then too few.
    installation.keep_key_ring(make_ring(today=today, draw=Random(20261125).randbytes))
    secret = installation.key_ring().newest(Purpose.ALLOCATION).secret.hex()
    by_command = InventedClinic(folder, secret, today)
    by_command.sign_protocol()
    by_command.refer(N_REFERRED)
    by_command.plan()
    by_command.practise()
    by_command.answer()
    # The page does not name the next step of the ladder, so the reports to compare are without.
    words = ["estimate", "entries.csv", "--plans", "plans.csv", "--events", "events.csv"]
    words += ["--protocol", "protocol.toml", "--out", "again.csv", "--report", "plain"]
    named = [str(folder / word) if "." in word or word == "plain" else word for word in words]
    assert run([*named, "--today", today.isoformat()]) == DONE
    own = {k: v for k, v in os.environ.items() if not k.startswith(("SIDELONG", "DJANGO"))}
    done = subprocess.run(
        [sys.executable, "-c", CLINIC, str(home), str(folder)],
        env=own,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-4000:]
    return folder, json.loads(done.stdout.rpartition("FOUND")[2])


def test_the_clinic_draws_the_orders_that_the_command_draws(both: Any) -> None:
    folder, clinic = both
    plans = read_plans(folder / "plans.csv")
    assert len(plans) >= 3
    for plan in plans:
        nights = [[[str(each) for each in n.order], n.piece_mm, n.piece] for n in plan.nights]
        assert clinic[plan.trainee]["nights"] == nights
        assert plan.allocation is not None
        assert clinic[plan.trainee]["place"] == [plan.allocation.stream, plan.allocation.index]


def test_a_family_gets_the_same_booklet_byte_for_byte(both: Any) -> None:
    folder, clinic = both
    for code, answer in clinic.items():
        by_command = (folder / "booklets" / f"{code}.pdf").read_bytes()
        assert answer["booklet"] == sha256(by_command).hexdigest()


def test_the_result_page_shows_the_tables_figures_to_the_last_digit(both: Any) -> None:
    folder, clinic = both
    entries = read_entries(folder / "entries.csv", plans=read_plans(folder / "plans.csv"))
    assert len(entries.entries) > 20
    with (folder / "estimates.csv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.DictReader(table))
    assert {row["trainee"] for row in rows} == set(clinic)
    for code, answer in clinic.items():
        mine = [row for row in rows if row["trainee"] == code]
        columns = [name for name in answer["rows"][0] if name in mine[0] and name != "position"]
        assert len(columns) >= 6
        shown = [[row[name] for name in columns] for row in answer["rows"]]
        assert shown == [[row[name] for name in columns] for row in mine]
        assert answer["on_page"]
        assert {row["verdict"] for row in mine} == {answer["verdict"]}


def test_the_report_to_be_signed_is_the_same_byte_for_byte(both: Any) -> None:
    folder, clinic = both
    for code, answer in clinic.items():
        by_command = (folder / "plain" / f"{code}.pdf").read_bytes()
        assert answer["report"] == sha256(by_command).hexdigest()
