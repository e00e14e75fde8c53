"""The whole job by command, on an invented clinic: every file is made by the real commands."""

import re
from datetime import date, timedelta

import pypdfium2
import pytest

from sidelong.cli.application import DONE, REFUSED, run
from sidelong.exchange.doses import read_doses
from sidelong.exchange.entries import read_entries
from sidelong.exchange.estimates import read_estimates
from sidelong.exchange.events import read_events
from sidelong.exchange.plans import read_plans
from sidelong.exchange.promises import read_locks
from sidelong.training.estimate import Verdict
from sidelong.training.event import barred_positions
from sidelong.training.position import Position

TODAY = date(2026, 3, 20)


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clinic") / "demo"
    words = ("--trainees", "9", "--seed", "11", "--today", TODAY.isoformat())
    assert run(["demo", "--files-only", "--folder", str(folder), *words]) == DONE
    return folder


def text_of(pdf):
    document = pypdfium2.PdfDocument(pdf)
    try:
        return "\n".join(page.get_textpage().get_text_bounded() for page in document)
    finally:
        document.close()


def test_every_trainee_with_a_plan_has_one_booklet_and_one_report(clinic):
    codes = {f"{plan.trainee}.pdf" for plan in read_plans(clinic / "plans.csv")}
    assert len(codes) >= 4
    assert {path.name for path in (clinic / "booklets").iterdir()} == codes
    assert {path.name for path in (clinic / "reports").iterdir()} == codes


def test_report_holds_the_numbers_of_the_table_digit_by_digit(clinic):
    for answer in read_estimates(clinic / "estimates.csv"):
        said = text_of(clinic / "reports" / f"{answer.trainee}.pdf")
        for each in answer.positions:
            for number in (each.p_first_try, each.p_best, each.expected_rating, each.sd):
                assert f"{number:.4f}" in said


def test_entries_keep_to_the_plans_they_were_written_for(clinic):
    plans = read_plans(clinic / "plans.csv")
    read = read_entries(clinic / "entries.csv", plans=plans, today=TODAY)
    assert len(read.entries) > 20


def test_position_with_a_safety_event_and_up_are_suggested_in_no_report(clinic):
    barred = barred_positions(read_events(clinic / "events.csv"))
    for answer in read_estimates(clinic / "estimates.csv"):
        said = text_of(clinic / "reports" / f"{answer.trainee}.pdf")
        closed = barred.get(answer.trainee, frozenset()) | {Position.UP}
        headline = re.search(r"(?:is probably|came out) ahead: (\w+)", said)
        assert headline is None or headline[1].lower() not in closed


def test_everything_made_for_the_demo_says_that_it_is_invented(clinic):
    alone = [clinic / "protocol.pdf", clinic / "promises.pdf"]
    for pdf in [*alone, *clinic.glob("booklets/*.pdf"), *clinic.glob("reports/*")]:
        assert "invented" in text_of(pdf).lower(), pdf.name


def test_first_doses_are_laid_against_what_was_locked(clinic):
    day = date.today() + timedelta(days=3)  # noqa: DTZ011  (locks hold the time of the making)
    doses = read_doses(clinic / "doses.csv", today=day)
    locked = {lock.trainee: lock for lock in read_locks(clinic / "locked.csv")}
    assert doses
    for dose in doses:
        figures = locked[dose.trainee].of(dose.position)
        assert figures.may_recommend
        assert locked[dose.trainee].verdict is not Verdict.INSUFFICIENT
    said = text_of(clinic / "promises.pdf")
    assert re.search(rf"First doses\s+{len(doses)}", said)
    assert "Quince Street Practice Clinic" in said


def test_demo_is_made_anew_over_an_earlier_one_and_over_nothing_else(clinic, tmp_path, capsys):
    (tmp_path / "thesis.txt").write_text("years of work", "utf-8")
    assert run(["demo", "--files-only", "--folder", str(tmp_path)]) == REFUSED
    assert (tmp_path / "thesis.txt").read_text("utf-8") == "years of work"
    assert "only files of an earlier demo are replaced" in capsys.readouterr().err


def test_clinic_without_a_single_event_gets_its_answers(clinic, tmp_path):
    (tmp_path / "events.csv").write_text("trainee,night,tier,position\n", "utf-8")
    words = ["estimate", str(clinic / "entries.csv"), "--out", str(tmp_path / "estimates.csv")]
    assert run([*words, "--events", str(tmp_path / "events.csv")]) == DONE
    assert read_estimates(tmp_path / "estimates.csv")


def test_estimate_refuses_a_folder_with_somebody_elses_reports(clinic, tmp_path, capsys):
    (tmp_path / "QS-9999.pdf").write_bytes(b"%PDF-")
    words = ["estimate", str(clinic / "entries.csv"), "--out", str(tmp_path / "estimates.csv")]
    assert run([*words, "--report", str(tmp_path)]) == REFUSED
    assert "no families' pages mix" in capsys.readouterr().err
    assert not (tmp_path / "estimates.csv").exists()


def test_event_of_a_mistyped_trainee_is_refused(clinic, tmp_path, capsys):
    events = tmp_path / "events.csv"
    events.write_text("trainee,night,tier,position\nQS-9999,1,act_first,left\n", "utf-8")
    words = ["estimate", str(clinic / "entries.csv"), "--out", str(tmp_path / "estimates.csv")]
    assert run([*words, "--events", str(events)]) == REFUSED
    assert "would otherwise close no position" in capsys.readouterr().err


def test_reports_say_what_the_sites_rules_make_the_next_step(clinic):
    said = [text_of(pdf) for pdf in (clinic / "reports").iterdir()]
    assert any("By this site" in " ".join(each.split()) for each in said)
