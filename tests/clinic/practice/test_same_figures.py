"""The same entries by command and by browser: the same figures, faults and report."""

import csv
import json
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest

from sidelong.cli.application import run
from sidelong.clinic.practice.nights import known_nights
from sidelong.exchange.entries import write_entries
from sidelong.exchange.events import write_events
from sidelong.exchange.plans import write_plans
from sidelong.exchange.protocols import read_demo_protocol, write_protocol
from sidelong.training.event import Event
from sidelong.training.position import Position
from sidelong.training.safety import Tier

COURSES = (
    ("HL-7K3PX", tuple(Position), 14, False),
    ("HL-22222", tuple(Position)[:3], 7, True),
    ("HL-33333", tuple(Position), 14, True),
)


@pytest.fixture
def browser(coach: Any, signed_in: Any) -> Any:
    return signed_in(coach)


def type_course(browser: Any, cast: Any, code: str, nights: Any) -> Any:
    url = f"/trainees/{code}/courses/1"
    sent = json.dumps({"nights": [asdict(night) for night in nights]})
    reply = browser.post(f"{url}/nights/keep/", sent, content_type="application/json").json()
    assert reply["faults"] == []
    return browser.get(f"{url}/result/")


def set_down(cast: Any) -> dict[str, Any]:
    return {
        code: cast.set_down_course(code, index=index, positions=positions, n_nights=n)
        for index, (code, positions, n, _) in enumerate(COURSES)
    }


def by_command(folder: Path, cast: Any, courses: dict[str, Any], events: Any = ()) -> list[Any]:
    """Write what the clinic has as files, and let the command answer."""
    known = {code: known_nights(course) for code, course in courses.items()}
    entries = [each.evening.entry for one in known.values() for each in one.nights.values()]
    write_entries(folder / "entries.csv", sorted(entries, key=lambda each: each.night))
    write_plans(folder / "plans.csv", [one.plan for one in known.values()])
    write_protocol(folder / "protocol.toml", read_demo_protocol())
    arguments = ["estimate", str(folder / "entries.csv"), "--plans", str(folder / "plans.csv")]
    if events:
        write_events(folder / "events.csv", tuple(events))
        arguments += ["--events", str(folder / "events.csv")]
    arguments += ["--protocol", str(folder / "protocol.toml"), "--today", cast.TODAY.isoformat()]
    arguments += ["--out", str(folder / "estimates.csv"), "--report", str(folder / "reports")]
    assert run(arguments) == 0
    with (folder / "estimates.csv").open(encoding="utf-8", newline="") as table:
        return list(csv.DictReader(table))


def shown_rows(page: Any) -> list[dict[str, str]]:
    """Figures of the page's own table of exact figures, digit by digit."""
    report, estimate = page.context["report"], page.context["estimate"]
    columns = report.exact.columns[1:]
    return [
        {"position": str(each.position), **dict(zip(columns, row[1:], strict=True))}
        for each, row in zip(estimate.positions, report.exact.rows, strict=True)
    ]


def test_command_and_browser_give_the_same_figures_to_the_last_digit(
    browser: Any, cast: Any, tmp_path: Path
) -> None:
    courses = set_down(cast)
    pages = {}
    for seed, (code, *_, is_patchy) in enumerate(COURSES):
        plan = cast.plan_in(courses[code])
        nights = cast.invent_nights(plan, seed=seed, is_patchy=is_patchy)
        pages[code] = type_course(browser, cast, code, nights)
    table = by_command(tmp_path, cast, courses)
    for code, page in pages.items():
        rows = [row for row in table if row["trainee"] == code]
        figures = [
            {k: row[k] for k in shown} for row, shown in zip(rows, shown_rows(page), strict=True)
        ]
        assert shown_rows(page) == figures
        estimate = page.context["estimate"]
        assert {row["verdict"] for row in rows} == {str(estimate.verdict)}
        assert {row["nights_used"] for row in rows} == {str(estimate.nights_used)}


def test_the_report_is_the_commands_report_byte_for_byte(
    browser: Any, cast: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from django.utils import timezone

    monkeypatch.setattr(timezone, "localdate", lambda value=None, timezone=None: cast.TODAY)
    courses = set_down(cast)
    code = COURSES[0][0]
    nights = cast.invent_nights(cast.plan_in(courses[code]), seed=5)
    type_course(browser, cast, code, nights)
    told = {"night": "2", "tier": "stop_tonight", "position": "right"}
    browser.post(f"/trainees/{code}/courses/1/events/record/", told)
    event = Event(code, 2, Tier.STOP_TONIGHT, Position.RIGHT)
    by_command(tmp_path, cast, courses, [event])
    made = browser.get(f"/trainees/{code}/courses/1/result/report.pdf").content
    assert made == (tmp_path / "reports" / f"{code}.pdf").read_bytes()


def test_what_the_clinic_kept_goes_out_and_comes_in_unchanged(
    browser: Any, cast: Any, tmp_path: Path
) -> None:
    from sidelong.exchange.entries import read_entries

    course = cast.set_down_course()
    plan = cast.plan_in(course)
    type_course(browser, cast, cast.CODE, cast.invent_nights(plan, is_patchy=True))
    kept = [each.evening.entry for each in known_nights(course).nights.values()]
    write_entries(tmp_path / "entries.csv", kept)
    read = read_entries(tmp_path / "entries.csv", plans=[plan], today=cast.TODAY)
    assert list(read.entries) == [entry for entry in kept if entry.rows]


def test_answers_to_the_same_nights_are_not_computed_twice(
    browser: Any, cast: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sidelong.clinic.practice import evidence

    course = cast.set_down_course()
    nights = cast.invent_nights(cast.plan_in(course))
    first = type_course(browser, cast, cast.CODE, nights)
    monkeypatch.setattr(evidence, "answer", lambda _: pytest.fail("computed again"))
    again = browser.get(f"/trainees/{cast.CODE}/courses/1/result/")
    assert again.context["estimate"] == first.context["estimate"]
    monkeypatch.undo()
    changed = replace(nights[0], base=1, cells=(cast.TypedCell("1", "no"),) * 5)
    page = type_course(browser, cast, cast.CODE, [changed])
    assert page.context["estimate"] != first.context["estimate"]
