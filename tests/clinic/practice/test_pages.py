"""Pages of practice, without a script: the plain form, events, result, signature, reports."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.practice.models import EventRow, NightEntry, Result, Signature
from sidelong.clinic.practice.nights import known_nights

PASSWORD = "seven quiet harbour lamps"


@pytest.fixture
def at(cast: Any, course: Any) -> str:
    return f"/trainees/{cast.CODE}/courses/1"


@pytest.fixture
def signer(make_staff: Callable[..., Any]) -> Any:
    """A clinician with a password."""
    from sidelong.clinic.audit.acts import act

    user = make_staff(Role.CLINICIAN, username="ada")
    with act("password chosen", by=user, subject=user.audit_key):
        user.set_password(PASSWORD)
        user.save()
    return user


def fields_of(page: Any) -> dict[str, str]:
    """What the form would send, as the page stands."""
    sent = {}
    for night in page.context["nights"]:
        start = f"n{night.night}"
        sent[f"{start}base"] = str(night.base)
        sent |= {f"{start}s{cell.slot}": cell.text for cell in night.cells}
        sent |= {f"{start}{field.name}": field.value for field in night.fields}
        sent[f"{start}felt_best"] = night.best
    return sent


def test_the_form_keeps_nights_without_a_script(
    at: str, course: Any, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    sent = fields_of(browser.get(f"{at}/nights/"))
    sent |= {"n1s1": "4 first", "n1s2": "3l", "n1s3": "spat out", "n1felt_best": "all the same"}
    response = browser.post(f"{at}/nights/form/", sent, follow=True)
    assert "All nights are saved." in response.content.decode()
    assert set(known_nights(course).nights) == {1}
    again = fields_of(browser.get(f"{at}/nights/"))
    assert [again[f"n1s{slot}"] for slot in (1, 2, 3, 4)] == ["4 first", "3 later", "spat out", ""]
    assert again["n1felt_best"] == "all the same"


def test_a_faulty_cell_stands_as_typed_with_its_fault(
    at: str, course: Any, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    sent = fields_of(browser.get(f"{at}/nights/"))
    sent |= {"n1s1": "9 first", "n2s1": "4 first"}
    page = browser.post(f"{at}/nights/form/", sent)
    words = page.content.decode()
    assert "&quot;9&quot; is out of range. Use a whole number from 1 to 5" in words
    assert 'value="9 first"' in words
    assert "1 night was not kept" in " ".join(words.split())
    assert set(known_nights(course).nights) == {2}


def test_a_second_tab_does_not_overwrite(at: str, course: Any, coach: Any, signed_in: Any) -> None:
    browser = signed_in(coach)
    first = fields_of(browser.get(f"{at}/nights/"))
    second = dict(first)
    browser.post(f"{at}/nights/form/", first | {"n1s1": "4 first"})
    page = browser.post(f"{at}/nights/form/", second | {"n1s1": "2 no"})
    assert "changed by somebody else" in page.content.decode()
    assert known_nights(course).nights[1].evening.entry.rows[0].rating == 4


def post_json(browser: Any, url: str, nights: Any) -> Any:
    return browser.post(url, json.dumps({"nights": nights}), content_type="application/json")


def blank(night: int = 1) -> dict[str, Any]:
    cell = {"rating": "", "went_down": "", "why_not": ""}
    texts = ("felt_best", "evening", "written", "not_done", "piece_mm", "scale", "rated_by")
    return {"night": night, "base": 0, "cells": [dict(cell) for _ in range(5)]} | dict.fromkeys(
        texts, ""
    )


def test_the_script_is_told_version_and_fault_of_every_night(
    at: str, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    good, bad = blank(1), blank(2)
    good["cells"][0]["rating"], bad["cells"][4]["rating"] = "5", "6"
    reply = post_json(browser, f"{at}/nights/keep/", [good, bad]).json()
    assert reply["versions"] == {"1": 1}
    [fault] = reply["faults"]
    assert (fault["night"], fault["slot"], fault["column"]) == (2, 5, "rating")


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"{}",
        b'{"nights": []}',
        b'{"nights": [{"night": 1}]}',
        b'{"nights": [{"night": "1"}]}',
        b'{"nights": 3}',
        b"\xff",
    ],
)
def test_what_cannot_be_read_is_refused_whole(
    body: bytes, at: str, coach: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    url = f"{at}/nights/keep/"
    response = browser.post(url, body, content_type="application/json")
    assert response.status_code == 400
    assert "they cannot be read" in response.json()["problems"][0]
    assert not NightEntry.objects.exists()


def test_an_event_locks_practice_until_a_clinician_answers(
    at: str, coach: Any, signer: Any, signed_in: Any
) -> None:
    browser = signed_in(coach)
    told = {"night": "3", "tier": "act_first", "position": "left"}
    browser.post(f"{at}/events/record/", told)
    assert "Practice is locked" in browser.get(f"{at}/nights/").content.decode()
    result = browser.get(f"{at}/result/").content.decode()
    assert "Practice is locked. No more pieces until a clinician has answered." in result
    event = EventRow.objects.get()
    refused = browser.post(f"{at}/events/{event.pk}/answer/", {"answer": "may_go_on"})
    assert refused.status_code == 403
    clinician = signed_in(signer)
    clinician.post(f"{at}/events/{event.pk}/answer/", {"answer": "may_go_on"})
    event.refresh_from_db()
    assert (event.answer, event.answered_by) == ("may_go_on", signer.audit_key)
    page = clinician.get(f"{at}/result/")
    assert "No more pieces until" not in page.content.decode()
    closed = {each.position: each.may_recommend for each in page.context["estimate"].positions}
    assert closed["left"] is False


def test_an_event_without_position_closes_all(at: str, coach: Any, signed_in: Any) -> None:
    browser = signed_in(coach)
    browser.post(f"{at}/events/record/", {"night": "3", "tier": "stop_tonight", "position": ""})
    positions = browser.get(f"{at}/result/").context["estimate"].positions
    assert not any(each.may_recommend for each in positions)


def sign(browser: Any, at: str, **more: str) -> Any:
    seen = browser.get(f"{at}/result/").context["now"].fingerprint
    said = {"seen": seen, "decision": "same_plan", "position": "", "password": PASSWORD}
    return browser.post(f"{at}/result/sign/", said | more, follow=True)


def test_a_signed_result_stays_as_it_was(
    at: str, plan: Any, keep: Any, cast: Any, signer: Any, signed_in: Any
) -> None:
    keep(cast.invent_nights(plan))
    browser = signed_in(signer)
    before = browser.get(f"{at}/result/").context["estimate"]
    page = sign(browser, at)
    assert "The result is signed." in page.content.decode()
    assert "The signature fits what it stands under." in page.content.decode()
    keep([cast.TypedNight(1, 1, (cast.TypedCell("1", "no"),) * 5, scale="5")])
    now = browser.get(f"{at}/result/")
    assert "Something has changed since" in now.content.decode()
    assert now.context["estimate"] != before
    assert browser.get(f"{at}/result/1/").context["estimate"] == before


def test_nobody_signs_with_a_wrong_password(at: str, signer: Any, signed_in: Any) -> None:
    page = sign(signed_in(signer), at, password="not it at all")
    assert "It is not your password." in page.content.decode()
    assert not Result.objects.exists()


def test_guessing_the_password_is_slowed(at: str, signer: Any, signed_in: Any) -> None:
    browser = signed_in(signer)
    pages = [sign(browser, at, password="guess") for _ in range(12)]
    assert "tried too often" in pages[-1].content.decode()
    assert "The result is signed." not in sign(browser, at).content.decode()


def test_nothing_is_signed_that_changed_since_it_was_seen(
    at: str, plan: Any, keep: Any, cast: Any, signer: Any, signed_in: Any
) -> None:
    browser = signed_in(signer)
    seen = browser.get(f"{at}/result/").context["now"].fingerprint
    keep(cast.invent_nights(plan)[:1])
    page = sign(browser, at, seen=seen)
    assert "have changed since this page was loaded" in page.content.decode()
    assert not Signature.objects.exists()


@pytest.mark.parametrize("closed", ["up", "left"])
def test_a_closed_position_is_not_signed_for(
    closed: str, at: str, coach: Any, signer: Any, signed_in: Any
) -> None:
    event = {"night": "3", "tier": "stop_tonight", "position": "left"}
    signed_in(coach).post(f"{at}/events/record/", event)
    page = sign(signed_in(signer), at, position=closed)
    assert "Select a valid choice" in page.content.decode()
    assert not Signature.objects.exists()


def test_while_practice_is_locked_only_a_clinician_first_is_signed(
    at: str, coach: Any, signer: Any, signed_in: Any
) -> None:
    event = {"night": "3", "tier": "act_first", "position": "left"}
    signed_in(coach).post(f"{at}/events/record/", event)
    browser = signed_in(signer)
    assert "Answer the event first." in sign(browser, at).content.decode()
    assert "is signed" in sign(browser, at, decision="clinician_first").content.decode()


@pytest.mark.parametrize("column", ["meaning", "position", "signed", "signed_by", "role"])
def test_a_changed_signature_does_not_hold(
    column: str, at: str, signer: Any, signed_in: Any
) -> None:
    from sidelong.clinic.audit.acts import act

    browser = signed_in(signer)
    sign(browser, at)
    with act("tampering", by=signer, subject="x"):
        changed = {"signed": "2020-01-01T00:00:00+00:00", "meaning": "new_plan"}
        Signature.objects.update(**{column: changed.get(column, "left")})
    assert "The signature does not fit" in browser.get(f"{at}/result/").content.decode()


def test_a_changed_result_does_not_hold(at: str, signer: Any, signed_in: Any) -> None:
    from sidelong.clinic.audit.acts import act

    browser = signed_in(signer)
    sign(browser, at)
    with act("tampering", by=signer, subject="x"):
        content = Result.objects.get().content.replace("insufficient", "clear")
        Result.objects.update(content=content)
    assert "The signature does not fit" in browser.get(f"{at}/result/").content.decode()


def test_every_version_of_a_night_can_be_looked_up(
    at: str, keep: Any, cast: Any, coach: Any, signed_in: Any
) -> None:
    cells = [(cast.TypedCell(str(rating)),) * 5 for rating in (2, 4)]
    for base, each in enumerate(cells):
        keep([cast.TypedNight(1, base, each, scale="5")])
    words = signed_in(coach).get(f"{at}/nights/1/versions/").content.decode()
    assert "down 2" in words
    assert "down 4" in words
    assert words.count(coach.display_name) >= 2


@pytest.mark.parametrize("page", ["nights/", "result/", "events/", "nights/1/versions/"])
def test_whoever_may_not_record_sees_and_changes_nothing(
    page: str, at: str, analyst: Any, signed_in: Any
) -> None:
    browser = signed_in(analyst)
    response = browser.get(f"{at}/{page}")
    assert response.status_code == 200
    assert "page.js" not in response.content.decode().replace("clinic/page.js", "")
    assert browser.post(f"{at}/nights/form/", {}).status_code == 403
    assert browser.post(f"{at}/result/sign/", {}).status_code == 403


def test_administrators_see_no_nights(at: str, administrator: Any, signed_in: Any) -> None:
    assert signed_in(administrator).get(f"{at}/nights/").status_code == 403


def test_there_is_no_page_of_a_course_that_is_not_there(coach: Any, signed_in: Any) -> None:
    assert signed_in(coach).get("/trainees/HL-99999/courses/1/nights/").status_code == 404


def test_the_report_is_a_pdf_under_the_trainees_code(
    at: str, coach: Any, cast: Any, signed_in: Any
) -> None:
    response = signed_in(coach).get(f"{at}/result/report.pdf")
    assert response.content[:5] == b"%PDF-"
    assert response["Content-Disposition"] == f'inline; filename="{cast.CODE}.pdf"'


def test_a_signed_result_keeps_the_protocol_of_its_time(
    at: str, course: Any, signer: Any, signed_in: Any
) -> None:
    from dataclasses import replace

    from sidelong.clinic.audit.acts import act
    from sidelong.clinic.protocols.models import ProtocolVersion
    from sidelong.exchange.protocols import protocol_text, read_demo_protocol

    before = read_demo_protocol()
    later = replace(before, version="another one", signatures=(), positions=before.positions[:4])
    browser = signed_in(signer)
    sign(browser, at)
    with act("next version set down", by=signer, subject="x"):
        kept = course.plans.get().protocol
        kept = ProtocolVersion(
            site="demo",
            version=later.version,
            text=protocol_text(later),
            fingerprint=later.fingerprint,
            taken_up=kept.taken_up,
            taken_up_by=kept.taken_up_by,
        )
        kept.save()
        row = course.plans.get()
        row.pk, row.version, row.protocol, row.stream_index = None, 2, kept, row.stream_index + 1
        row.save()
    assert later.version in browser.get(f"{at}/result/").content.decode()
    signed = browser.get(f"{at}/result/1/").content.decode()
    assert before.version in signed
    assert later.version not in signed


def test_no_page_speaks_of_pages_of_paper(at: str, coach: Any, signer: Any, signed_in: Any) -> None:
    event = {"night": "3", "tier": "stop_tonight", "position": "left"}
    browser = signed_in(coach)
    browser.post(f"{at}/events/record/", event)
    words = browser.get(f"{at}/result/").content.decode()
    assert "The reasons stand under the events." in words
    assert "page 2" not in words.casefold()
