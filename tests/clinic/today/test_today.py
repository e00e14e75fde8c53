"""Today's page: what waits, whose it is, and the link to its step."""

import importlib.util
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from sidelong.clinic.accounts.roles import ALLOWED, Role
from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.practice.actions import record_event
from sidelong.clinic.today.worklist import KINDS, LOCKED, QUIET, Worklist, lay_out
from sidelong.clinic.trainees.actions import enter_trainee
from sidelong.clinic.trainees.pages import told_lines
from sidelong.clinic.trainees.queries import read_records
from sidelong.training.safety import Tier


@pytest.fixture
def way() -> Any:
    """The cast of the way to the booklet."""
    path = Path(__file__).parents[1] / "trainees" / "cast.py"
    found = importlib.util.spec_from_file_location("cast_of_today", path)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    return cast


@pytest.fixture
def clinician(make_staff: Callable[..., Any]) -> Any:
    return make_staff(Role.CLINICIAN)


@pytest.fixture
def everybody(way: Any, make_staff: Any, coach: Any, clinician: Any) -> dict[str, str]:
    """One trainee at each step that waits for somebody."""
    way.take_up(make_staff(Role.LEAD))
    at = {}
    titles = ("questions", "decision", "visit", "plan", "booklet", "home", "locked")
    for nth, title in enumerate(titles):
        code = at[title] = way.refer(coach, nth=nth, **({"answers": {}} if nth == 0 else {}))
        if nth >= 2:
            way.clear(code, clinician)
        if nth >= 3:
            way.visit(code, coach)
        if nth >= 4:
            way.issue(code, coach)
    for title in ("home", "locked"):
        hand_out(at[title], coach, way)
    record_event(
        code=at["locked"],
        course=1,
        night=1,
        tier=Tier.ACT_FIRST,
        position=None,
        now=way.NOW,
        by=coach,
    )
    return at


def hand_out(code: str, coach: Any, way: Any) -> None:
    from sidelong.clinic.trainees.plan_actions import hand_out_booklet
    from sidelong.paper.sheet import Paper

    hand_out_booklet(
        code=code,
        paper=Paper.A4,
        language="en",
        now=way.NOW,
        by=coach,
        typeset=lambda template, *, page: template.encode(),
    )


@pytest.fixture
def work(coach: Any, way: Any) -> Callable[..., Worklist]:
    def lay(role: Role, *, after: int = 0, heard: Any = None) -> Worklist:
        evening = way.TODAY + timedelta(days=after)
        records = read_records(today=way.TODAY, evening=evening, seen_by=coach)
        return lay_out(told_lines(records), heard=heard or {}, may=ALLOWED[role])

    return lay


def codes(groups: Any) -> dict[str, list[str]]:
    return {group.kind.title: [each.code for each in group.waiting] for group in groups}


def words(answer: Any) -> str:
    page = answer.content.decode().partition("<main")[2]
    page = re.sub(r"<(script|style|svg).*?</\1>", "", page, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_everybody_stands_under_the_step_that_waits(everybody: dict[str, str], work: Any) -> None:
    found = work(Role.COACH)
    assert [each.code for each in found.locked.waiting] == [everybody["locked"]]
    assert codes(found.own) == {
        "Referrals to complete": [everybody["questions"]],
        "Teaching visits to hold": [everybody["visit"]],
        "Plans to issue": [everybody["plan"]],
        "Booklets to hand out": [everybody["booklet"]],
        "Practising at home": [everybody["home"]],
    }
    assert codes(found.others) == {"Decisions to take": [everybody["decision"]]}


@pytest.mark.parametrize("role", [each for each in Role if each is not Role.ADMINISTRATOR])
def test_each_role_gets_its_own_work_first_and_a_lock_before_all(
    role: Role, everybody: dict[str, str], work: Any
) -> None:
    found = work(role)
    assert found.locked.kind.title == LOCKED.title
    assert all(group.kind.needs in ALLOWED[role] for group in found.own)
    assert not any(group.kind.needs in ALLOWED[role] for group in found.others)
    assert len(codes(found.own)) + len(codes(found.others)) == 6


def test_a_family_is_quiet_after_five_evenings_without_a_night(
    everybody: dict[str, str], work: Any, way: Any
) -> None:
    home = everybody["home"]
    assert QUIET.title not in codes(work(Role.COACH, after=4).own)
    quiet = next(each for each in work(Role.COACH, after=5).own if each.kind is QUIET)
    assert [each.code for each in quiet.waiting] == [home]
    assert "Nothing for 5 evenings." in quiet.waiting[0].note
    heard = {home: way.TODAY + timedelta(days=3)}
    assert QUIET.title not in codes(work(Role.COACH, after=7, heard=heard).own)
    assert QUIET.title in codes(work(Role.COACH, after=8, heard=heard).own)


def test_every_kind_of_work_belongs_to_somebody() -> None:
    assert all(any(kind.needs in ALLOWED[role] for role in Role) for kind in KINDS)


def test_the_page_leads_to_each_step(
    everybody: dict[str, str], coach: Any, signed_in: Callable[[Any], Any]
) -> None:
    browser = signed_in(coach)
    page = browser.get("/").content.decode()
    steps = {
        "questions": "questions/",
        "visit": "visit/",
        "plan": "plan/",
        "booklet": "plan/",
        "home": "courses/1/nights/",
        "locked": "courses/1/events/",
    }
    for title, step in steps.items():
        link = f'href="/trainees/{everybody[title]}/{step}"'
        assert link in page
        assert browser.get(link[6:-1]).status_code == 200
    assert f'href="/trainees/{everybody["decision"]}/"' in page, "others' work leads to the trainee"
    assert page.index("Practice is locked") < page.index("Referrals to complete")


def test_an_empty_clinic_says_where_to_begin(coach: Any, signed_in: Callable[[Any], Any]) -> None:
    page = signed_in(coach).get("/")
    assert "There is no trainee yet." in words(page)
    assert "/trainees/new/" in page.content.decode()


def test_whoever_has_nothing_to_do_is_told_so_and_sees_what_waits_for_others(
    everybody: dict[str, str], analyst: Any, signed_in: Callable[[Any], Any]
) -> None:
    text = words(signed_in(analyst).get("/"))
    assert "Nothing waits for you." in text
    assert text.index("Waiting for others") < text.index(everybody["visit"])


def test_no_name_stands_on_the_page(rules_of_names: None, coach: Any, signed_in: Any) -> None:
    assert "Madeup" not in signed_in(coach).get("/").content.decode()


@pytest.fixture
def rules_of_names(coach: Any) -> None:
    enter_trainee(
        site="harbour",
        language="en",
        identity=Identity("Inventia", "Madeup", datetime(2018, 2, 3, tzinfo=UTC).date()),
        now=datetime(2026, 11, 25, 10, 0, tzinfo=UTC),
        below=lambda n: 3,
        by=coach,
    )


@pytest.mark.parametrize(
    ("clock", "said"),
    [("2026-11-26T02:30", "The night of 25 November runs until 04:00."), ("2026-11-26T05:00", "")],
)
def test_after_midnight_the_night_before_still_runs(
    clock: str, said: str, coach: Any, signed_in: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = signed_in(coach)
    moment = timezone.make_aware(datetime.fromisoformat(clock))
    monkeypatch.setattr(timezone, "localtime", lambda value=None, timezone=None: moment)
    text = words(browser.get("/"))
    assert "Thursday, 26 November 2026" in text
    assert ("runs until" in text) is bool(said)
    assert said in text


@pytest.mark.parametrize("role", [Role.ADMINISTRATOR])
def test_who_may_see_no_trainees_sees_none(
    role: Role, make_staff: Callable[..., Any], signed_in: Callable[[Any], Any]
) -> None:
    text = words(signed_in(make_staff(role)).get("/"))
    assert "All trainees" not in text
    assert "No trainee is shown to you." in text


def test_a_lock_waits_since_its_event_and_not_since_the_booklet(
    everybody: dict[str, str], coach: Any, way: Any, work: Callable[..., Worklist]
) -> None:
    later = way.NOW + timedelta(days=2)
    told = {"course": 1, "night": 2, "tier": Tier.ACT_FIRST, "position": None}
    record_event(code=everybody["home"], **told, now=later, by=coach)
    locked = work(Role.COACH, after=2).locked
    assert locked is not None
    since = {each.code: each.since for each in locked.waiting}
    assert since[everybody["home"]] == timezone.localdate(later)
    assert since[everybody["locked"]] == timezone.localdate(way.NOW)


def test_a_lock_is_to_be_answered_by_clinicians_and_to_be_seen_by_all(
    everybody: dict[str, str], work: Callable[..., Worklist]
) -> None:
    actions = {
        role: found.kind.action
        for role in (Role.CLINICIAN, Role.COACH, Role.PHARMACIST)
        if (found := work(role).locked) is not None
    }
    assert actions == {
        Role.CLINICIAN: "Answer the event",
        Role.COACH: "See the event",
        Role.PHARMACIST: "See the event",
    }


def test_an_administrator_is_told_why_no_trainee_is_shown(
    everybody: dict[str, str], administrator: Any, signed_in: Any
) -> None:
    page = signed_in(administrator).get("/").content.decode()
    assert "No trainee is shown to you." in page
    assert everybody["home"] not in page
