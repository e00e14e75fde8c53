"""The way from a referral to a booklet through the pages, and what each page lets happen."""

import json
import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.queries import check_chain, links_about
from sidelong.clinic.trainees.actions import WhyClosed, close_course
from sidelong.clinic.trainees.codes import is_code
from sidelong.clinic.trainees.models import (
    AnswerRow,
    BookletRow,
    DecisionRow,
    PlanRow,
    ReferralRow,
    Trainee,
)
from sidelong.clinic.trainees.queries import latest_referral
from sidelong.clinic.trainees.standing import stand
from sidelong.training.gates import Answer
from sidelong.training.position import ALL_POSITIONS

WHO = {
    "given_names": "Inventia",
    "family_name": "Madeup",
    "birth_date": "2016-02-03",
    "supporter_name": "Fictor Madeup",
    "phone": "0000",
    "email": "",
    "site": "demo",
    "language": "en",
    "form": "hard_sugar",
    "referred": "2026-11-20",
}
PLANTED = ("Inventia", "Madeup", "Fictor", "2016-02-03")


@pytest.fixture
def browser_of(give_second_factor: Callable[[Any], None]) -> Callable[[Any], Client]:
    """Give each person a browser of their own."""

    def give(user: Any) -> Client:
        give_second_factor(user)
        client = Client()
        client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
        return client

    return give


def words(answer: Any) -> str:
    """What a reader sees of a page's content."""
    page = answer.content.decode().partition("<main")[2]
    page = re.sub(r"<(script|style|svg).*?</\1>", "", page, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def visit_form(**changed: str) -> dict[str, str]:
    today = timezone.localdate().isoformat()
    form = {"held_on": today, "adult_present": "on", "trainee_agreed": "on", "piece": "bead-3"}
    form |= {f"water_{each}": "clean" for each in ALL_POSITIONS}
    form |= {f"piece_{each}": "clean" for each in ALL_POSITIONS}
    return form | {"release": "on"} | changed


def decision_form(**changed: str) -> dict[str, str]:
    today = timezone.localdate().isoformat()
    form = {"decided": "go", "reason": "eats well", "role": "swallowing specialist"}
    return form | {"decided_on": today, "expires_on": today} | changed


def test_a_referral_becomes_a_booklet_in_the_browser(
    rules: None, coach: Any, clinician: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    at_desk, at_clinic = browser_of(coach), browser_of(clinician)

    sent = at_desk.post(reverse("new_referral"), WHO)
    code = Trainee.objects.get().code
    assert is_code(code)
    assert sent["Location"] == reverse("questions", args=[code])

    asked = re.findall(r'name="q-(\w+)" value="no"', at_desk.get(sent["Location"]).content.decode())
    told = at_desk.post(reverse("answer", args=[code]), {f"q-{asked[0]}": "no"})
    assert json.loads(told.content)["open"] > 40
    at_desk.post(sent["Location"], {f"q-{key}": "no" for key in asked})
    assert "Ready for a clinician" in words(at_desk.get(reverse("readiness", args=[code])))

    assert at_clinic.post(reverse("decision", args=[code]), decision_form()).status_code == 302
    assert at_desk.post(reverse("visit", args=[code]), visit_form()).status_code == 302
    assert at_desk.post(reverse("issue_plan", args=[code]), {"start": ""}).status_code == 302

    plan = words(at_desk.get(reverse("plan", args=[code])))
    assert f"the decision of {clinician.display_name}" in plan
    booklet = at_desk.post(reverse("booklet", args=[code]), {"paper": "a4", "language": "en"})
    assert booklet["Content-Type"] == "application/pdf"
    assert booklet["Content-Disposition"] == f'attachment; filename="{code}.pdf"'
    assert booklet.content.startswith(b"%PDF")

    way = words(at_desk.get(reverse("trainee", args=[code])))
    assert way.count(" done ") == 6
    assert check_chain().holds
    everything = " ".join(link.detail for link in links_about(f"trainee:{code}"))
    assert not any(planted in everything + way + plan for planted in PLANTED)


@pytest.mark.parametrize(("age", "proposed"), [(9, "child"), (14, "teen"), (34, "adult")])
def test_a_booklet_is_proposed_for_the_trainees_age_and_made_as_chosen(
    rules: None,
    coach: Any,
    clinician: Any,
    cast: Any,
    browser_of: Callable[[Any], Client],
    age: int,
    proposed: str,
) -> None:
    code = cast.refer(coach, age=age)
    cast.clear(code, clinician)
    cast.visit(code, coach)
    cast.issue(code, coach)
    browser = browser_of(coach)
    page = browser.get(reverse("plan", args=[code])).content.decode()
    assert f'value="{proposed}" selected' in page
    assert "English (en)" in page
    wishes = {"paper": "letter", "language": "en", "audience": "teen", "edition": "large"}
    made = browser.post(reverse("booklet", args=[code]), wishes)
    assert made.content.startswith(b"%PDF")
    row = BookletRow.objects.get()
    assert (row.paper, row.audience, row.edition) == ("letter", "teen", "large")
    browser.post(reverse("booklet", args=[code]), wishes | {"edition": "standard"})
    page = words(browser.get(reverse("plan", args=[code])))
    assert "Booklet 1, large print, Letter, en" in page
    assert "Booklet 2 (this plan printed again), standard print, Letter, en" in page


def test_each_step_says_what_is_next_and_who_did_the_last(
    planned: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    way = words(browser_of(coach).get(reverse("trainee", args=[planned])))
    assert f"Plan done {coach.display_name}" in way
    assert "Make the booklet" in way


def test_the_way_leads_on_to_nights_and_result_once_there_is_a_plan(
    visited: str, coach: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    nights = reverse("nights", args=[visited, 1])
    assert nights not in browser.get(reverse("trainee", args=[visited])).content.decode()
    cast.issue(visited, coach)
    assert nights in browser.get(reverse("trainee", args=[visited])).content.decode()
    assert browser.get(nights).status_code == 200


def test_only_the_next_step_offers_a_way_on(
    referred: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    page = browser_of(coach).get(reverse("trainee", args=[referred])).content.decode()
    assert page.count('aria-current="step"') == 1
    assert page.count('class="button"') == 1


def test_the_list_says_where_each_stands(
    planned: str, rules: None, coach: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    other = cast.refer(coach, answers={}, nth=5)
    browser = browser_of(coach)
    page = words(browser.get(reverse("trainees")))
    assert re.search(rf"{planned} Plan .*? Booklet", page)
    assert re.search(rf"{other} Referral .*? Readiness questions \d\d questions", page)
    waiting = words(browser.get(reverse("trainees"), {"next": "Booklet"}))
    assert planned in waiting
    assert other not in waiting
    found = browser.get(reverse("trainees"), {"code": f" {planned.lower()} "})
    assert found["Location"] == reverse("trainee", args=[planned])
    assert "Nobody here has the code" in words(browser.get(reverse("trainees"), {"code": "X"}))


def test_the_list_says_why_nothing_is_next(
    planned: str, lead: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    close_course(code=planned, why=WhyClosed.FINISHED, now=cast.NOW, by=lead)
    page = words(browser_of(lead).get(reverse("trainees")))
    assert re.search(rf"{planned} Plan .*? course 1 is closed: finished", page)


def test_before_anybody_decided_no_decision_is_said_to_keep_practice_at_the_clinic(
    rules: None, coach: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    code = cast.refer(coach, answers={})
    page = words(browser_of(coach).get(reverse("trainee", args=[code])))
    assert "a decision keeps" not in page
    assert "Plan not yet" in page


def test_a_language_is_offered_by_its_name(
    rules: None, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    assert "English (en)" in words(browser_of(coach).get(reverse("new_referral")))


def test_a_list_of_many_asks_the_database_no_more_often(
    planned: str,
    coach: Any,
    clinician: Any,
    cast: Any,
    browser_of: Callable[[Any], Client],
    django_assert_max_num_queries: Any,
) -> None:
    browser = browser_of(coach)
    for nth in range(2, 8):
        code = cast.refer(coach, nth=nth)
        cast.clear(code, clinician)
        cast.visit(code, coach)
        cast.issue(code, coach)
    with django_assert_max_num_queries(30):
        assert browser.get(reverse("trainees")).status_code == 200


def test_somebody_is_found_by_name_and_the_search_leaves_no_word(
    rules: None, coach: Any, analyst: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    browser.post(reverse("new_referral"), WHO)
    code = Trainee.objects.get().code
    assert code in words(browser.post(reverse("find_trainee"), {"name": "madeup"}))
    assert "Nobody is found" in words(browser.post(reverse("find_trainee"), {"name": "nobody"}))
    assert "Nobody is found" in words(browser.post(reverse("find_trainee"), {"name": " "}))
    searched = " ".join(link.detail for link in links_about("identities"))
    assert "madeup" not in searched.casefold()
    assert browser_of(analyst).post(reverse("find_trainee"), {"name": "x"}).status_code == 403


def test_looking_at_a_name_is_recorded(
    rules: None, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    browser.post(reverse("new_referral"), WHO)
    code = Trainee.objects.get().code
    assert "Inventia Madeup" in words(browser.get(reverse("trainee_name", args=[code])))
    assert list(links_about(f"trainee:{code}"))[-1].verb == "identity read"


def test_faults_of_a_new_referral_keep_nothing(
    rules: None, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    ahead = WHO | {"birth_date": "2999-01-01", "given_names": ""}
    page = words(browser_of(coach).post(reverse("new_referral"), ahead))
    assert "2 things to put right" in page
    assert "The birth date is after today." in page
    assert not Trainee.objects.exists()


def test_without_a_protocol_nobody_is_taken_up(
    coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    page = words(browser_of(coach).get(reverse("new_referral")))
    assert "No site has a protocol yet." in page


def test_answers_are_saved_one_by_one(
    rules: None, coach: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    code = cast.refer(coach, answers={})
    browser = browser_of(coach)
    told = json.loads(browser.post(reverse("answer", args=[code]), {"q-diabetes": "yes"}).content)
    assert told["saved"] == ["diabetes"]
    assert AnswerRow.objects.get().answer == "yes"
    for wrong in ({"q-diabetes": "perhaps"}, {"q-shoe_size": "no"}, {}):
        refused = browser.post(reverse("answer", args=[code]), wrong)
        assert refused.status_code == 400
        assert json.loads(refused.content)["refused"]
    assert AnswerRow.objects.count() == 1


def test_without_script_the_button_saves_what_has_changed(
    referred: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    sent = {"q-diabetes": "yes", "q-lactose": "no"}
    answer = browser_of(coach).post(reverse("questions", args=[referred]), sent)
    assert answer["Location"] == reverse("readiness", args=[referred])
    assert list(AnswerRow.objects.values_list("question", "answer")) == [("diabetes", "yes")]


def test_a_follow_up_question_shows_after_a_yes(
    referred: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    address = reverse("questions", args=[referred])
    follow_up = r'id="question-galactosaemia"[^>]*hidden'
    assert re.search(follow_up, browser.get(address).content.decode())
    browser.post(reverse("answer", args=[referred]), {"q-lactose": "yes"})
    assert not re.search(follow_up, browser.get(address).content.decode())


def test_a_change_is_a_new_version_and_answers_stay(
    referred: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    browser.post(reverse("answer", args=[referred]), {"q-diabetes": "yes"})
    sent = {"age_years": "10", "form": "other", "last_change": "2026-11-24"}
    assert browser.post(reverse("referral", args=[referred]), sent).status_code == 302
    latest = latest_referral(referred, seen_by=coach)
    assert latest is not None
    assert (latest.age_years, str(latest.last_change)) == (10, "2026-11-24")
    assert latest.answers["diabetes"] is Answer.YES
    assert ReferralRow.objects.count() == 2


def test_a_decision_that_contradicts_itself_is_shown_at_the_form(
    referred: str, clinician: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(clinician)
    wrong = decision_form(expires_on="2020-01-01", takes_out="down")
    page = words(browser.post(reverse("decision", args=[referred]), wrong))
    assert "is before" in page
    assert "go has no limits" in page
    assert not DecisionRow.objects.exists()


def test_a_clinician_decides_on_one_gate_and_the_role_is_remembered(
    rules: None, coach: Any, clinician: Any, cast: Any, browser_of: Callable[[Any], Client]
) -> None:
    code = cast.refer(coach, answers=cast.ALL_NO | {"choked_on_medicine": Answer.YES})
    browser = browser_of(clinician)
    reasons = browser.get(reverse("readiness", args=[code])).content.decode()
    address = reverse("gate_decision", args=[code, "choked_on_medicine"])
    assert address in reasons
    limits = {"decided": "go_with_limits", "takes_out": "up", "max_piece_mm": "6"}
    assert browser.post(address, decision_form(**limits)).status_code == 302
    row = DecisionRow.objects.get()
    assert (row.gate, row.takes_out, row.max_piece_mm) == ("choked_on_medicine", ["up"], 6.0)
    assert row.decided_by == clinician.display_name
    assert 'value="swallowing specialist"' in browser.get(address).content.decode()
    assert browser.get(reverse("gate_decision", args=[code, "shoe_size"])).status_code == 404


def test_a_visit_that_releases_too_much_is_shown_at_the_form(
    decided: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    sent = visit_form(piece_centre="signs", adult_present="")
    page = words(browser.post(reverse("visit", args=[decided]), sent))
    assert "the adult from home was not there" in page
    assert "not safe" in page
    sent = visit_form(water_down="hurts")
    page = words(browser.post(reverse("visit", args=[decided]), sent))
    assert "a piece was tried where water did not go down cleanly first" in page


def test_a_visit_before_a_decision_says_what_is_missing(
    referred: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser = browser_of(coach)
    assert "No piece is tried yet" in words(browser.get(reverse("visit", args=[referred])))
    page = words(browser.post(reverse("visit", args=[referred]), visit_form()))
    assert "A named clinician decides on practice as a whole." in page


def test_a_decision_counts_open_questions_in_words_and_leads_to_them(
    rules: None, coach: Any, clinician: Any, browser_of: Callable[[Any], Client]
) -> None:
    browser_of(coach).post(reverse("new_referral"), WHO)
    code = Trainee.objects.get().code
    standing = stand(code, today=timezone.localdate())
    answer = browser_of(clinician).get(reverse("decision", args=[code]))
    page = words(answer)
    n_open = len(standing.sorted_referral.unanswered)
    assert f"{n_open} questions have no answer yet; each counts as yes." in page
    assert reverse("readiness", args=[code]) in answer.content.decode()
    assert ", ".join(standing.sorted_referral.unanswered[:2]).replace("_", " ") not in page


def test_a_plan_that_may_not_be_issued_says_why_on_its_page(
    decided: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    page = words(browser_of(coach).post(reverse("issue_plan", args=[decided]), {"start": ""}))
    assert "there was no teaching visit" in page
    assert not PlanRow.objects.exists()


def test_a_booklet_without_a_plan_says_why_on_its_page(
    decided: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    sent = {"paper": "a4", "language": "en"}
    answer = browser_of(coach).post(reverse("booklet", args=[decided]), sent)
    assert answer["Content-Type"].startswith("text/html")
    assert "There is no plan yet." in words(answer)


@pytest.mark.parametrize("name", ["trainee", "questions", "readiness", "visit", "plan", "referral"])
def test_an_unknown_code_is_not_found(
    name: str, coach: Any, browser_of: Callable[[Any], Client]
) -> None:
    assert browser_of(coach).get(reverse(name, args=["HL-22222"])).status_code == 404


def test_buttons_show_to_those_who_may(
    planned: str, make_staff: Callable[..., Any], browser_of: Callable[[Any], Client]
) -> None:
    pages = {}
    for role in (Role.PHARMACIST, Role.CLINICIAN, Role.ANALYST):
        browser = browser_of(make_staff(role, username=f"one-{role}"))
        pages[role] = {
            name: words(browser.get(reverse(name, args=[planned])))
            for name in ("trainee", "readiness", "plan")
        }
    assert "Decide on practice as a whole" in pages[Role.CLINICIAN]["readiness"]
    assert "Decide on practice as a whole" not in pages[Role.PHARMACIST]["readiness"]
    assert "Issue a new version" not in pages[Role.CLINICIAN]["plan"]
    assert "Show the name" not in pages[Role.ANALYST]["trainee"]
