"""The invented clinic: somebody at every stage, written by the verbs of a real one."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from sidelong.clinic.demonstration.stages import STAGES
from sidelong.training.estimate import Verdict

# In a process of its own: these tests' own database belongs to a clinic that is not invented.
MAKE = """
import json, sys
from pathlib import Path
from sidelong.cli import installation
home = Path(sys.argv[1])
installation._make_demo_folder(home)
from sidelong.clinic.serving import prepare
prepare(home)
installation._invent("7")
from django.conf import settings
from django.db.models import Count
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from sidelong.clinic.accounts.models import User
from sidelong.clinic.audit.queries import check_chain
from sidelong.clinic.look import StepState
from sidelong.clinic.practice.models import EventRow, FirstDoseRow, NightEntry, Signature
from sidelong.clinic.practice.answers import Answer
from sidelong.clinic.trainees.models import Course
from sidelong.clinic.trainees.pages import told_lines
from sidelong.clinic.trainees.queries import read_records
lead = User.objects.get(username="lead")
today = timezone.localdate()
records = read_records(today=today, seen_by=lead)
lines = told_lines(records)
signed = [Answer.from_content(json.loads(s.result.content)) for s in Signature.objects.all()]
dates = [
    stamp
    for model, name in ((Course, "opened"), (NightEntry, "kept"), (EventRow, "kept"))
    for stamp in model.objects.values_list(name, flat=True)
]
print("FOUND" + json.dumps({
    "n": len(records),
    "next": sorted({line.next.title for line in lines if line.next}),
    "stopped": sum(line.stopped is not None for line in lines),
    "verdicts": sorted({str(each.estimate.verdict) for each in signed}),
    "nights": sorted(
        Course.objects.filter(closed=None).annotate(n=Count("nights")).values_list("n", flat=True)
    ),
    "tiers": sorted({(e.tier, e.answer) for e in EventRow.objects.all()}),
    "second": Course.objects.filter(number=2, nights__isnull=False).distinct().count(),
    "closed": sorted(set(Course.objects.exclude(closed=None).values_list("why_closed", flat=True))),
    "doses": FirstDoseRow.objects.count(),
    "actors": sorted({key for c in Course.objects.all() for key in [c.opened_by]}),
    "ahead": sum(timezone.localdate(stamp) > today for stamp in dates),
    "chain": [str(fault) for fault in check_chain().problems],
    "route": reverse("come_in"),
    "demo": settings.INSTALLATION.demo,
}))
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Any:
    home = tmp_path_factory.mktemp("invented") / "demo"
    own = {k: v for k, v in os.environ.items() if not k.startswith(("SIDELONG", "DJANGO"))}
    done = subprocess.run(
        [sys.executable, "-c", MAKE, str(home)],
        env=own,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    told = json.loads(done.stdout.rpartition("FOUND")[2])
    return {**told, "home": home}


def test_nearly_fifty_trainees_stand_at_every_stage(found: Any) -> None:
    assert found["n"] == sum(stage.n for stage in STAGES)
    assert 40 <= found["n"] <= 50
    waiting = {"Readiness questions", "Clinician's decision", "Teaching visit", "Plan", "Booklet"}
    assert waiting <= set(found["next"])
    assert found["stopped"] >= 2, "not now, and decided against"


def test_signed_results_show_every_verdict(found: Any) -> None:
    assert found["verdicts"] == sorted(map(str, Verdict))


def test_nights_come_back_from_none_to_all(found: Any) -> None:
    assert found["nights"][0] == 0
    assert max(found["nights"]) >= 13
    assert len(set(found["nights"])) >= 7


def test_events_wait_and_are_answered(found: Any) -> None:
    tiers = {tuple(each) for each in found["tiers"]}
    assert {("pause", ""), ("stop_tonight", ""), ("act_first", "")} <= tiers
    assert ("act_first", "may_go_on") in tiers


def test_somebody_repeats_and_somebody_is_lost(found: Any) -> None:
    assert found["second"] == 1
    assert {"lost", "finished"} <= set(found["closed"])


def test_enough_first_doses_are_there_to_lay_against_what_was_said(found: Any) -> None:
    from sidelong.pathway.promises import FEWEST

    assert found["doses"] >= FEWEST


def test_everything_was_done_by_staff_and_nothing_is_dated_ahead(found: Any) -> None:
    assert found["actors"]
    assert all(key.startswith("staff:") for key in found["actors"])
    assert found["ahead"] == 0
    assert found["chain"] == []


def test_the_folder_says_that_it_is_invented(found: Any) -> None:
    home: Path = found["home"]
    assert "Nothing here may be used for anybody" in (home / "INVENTED.txt").read_text("utf-8")
    assert found["demo"]
    assert found["route"] == "/invented/come-in/"
