"""Who comes onto which page: every route, every role, and no route forgotten."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.http import HttpResponse
from django.urls import URLPattern, URLResolver, get_resolver

from sidelong.clinic.accounts.access import Access, access_of, own_account, public, requires
from sidelong.clinic.accounts.middleware import AccessGate
from sidelong.clinic.accounts.roles import ALLOWED, Permission, Role

# Every route, and what it asks: reviewed by hand, so an open door has to be opened twice.
PUBLIC = {
    "account_inactive",
    "account_login",
    "account_logout",
    "mfa_authenticate",
    "mfa_login_webauthn",
    "static_file",
    "welcome",
}
OWN_ACCOUNT = {
    "account_change_password",
    "account_reauthenticate",
    "mfa_activate_totp",
    "mfa_add_webauthn",
    "mfa_deactivate_totp",
    "mfa_download_recovery_codes",
    "mfa_edit_webauthn",
    "mfa_generate_recovery_codes",
    "mfa_index",
    "mfa_list_webauthn",
    "mfa_reauthenticate",
    "mfa_reauthenticate_webauthn",
    "mfa_remove_webauthn",
    "mfa_view_recovery_codes",
}
BY_PERMISSION = {
    "sheets": Permission.SEE_RESULTS,
    "sheet_picture": Permission.SEE_RESULTS,
    "receive_sheets": Permission.RECORD_NIGHTS,
    "look_at_sheets": Permission.RECORD_NIGHTS,
    "say_answer": Permission.RECORD_NIGHTS,
    "confirm_sheet": Permission.RECORD_NIGHTS,
    "name_spare": Permission.RECORD_NIGHTS,
    "confirm_clear_sheets": Permission.RECORD_NIGHTS,
    "look_again": Permission.RECORD_NIGHTS,
    "set_sheet_aside": Permission.RECORD_NIGHTS,
    "handwriting": Permission.SEE_RESULTS,
    "keep_handwriting": Permission.RECORD_NIGHTS,
    "say_note": Permission.RECORD_NIGHTS,
    "today": Permission.SEE_TODAY,
    "parts": Permission.SEE_TODAY,
    "trainees": Permission.SEE_TRAINEES,
    "find_trainee": Permission.FIND_BY_NAME,
    "new_referral": Permission.ENTER_TRAINEES,
    "trainee": Permission.SEE_TRAINEES,
    "trainee_name": Permission.SEE_NAMES,
    "referral": Permission.ENTER_TRAINEES,
    "questions": Permission.ENTER_TRAINEES,
    "answer": Permission.ENTER_TRAINEES,
    "readiness": Permission.SEE_TRAINEES,
    "decision": Permission.DECIDE,
    "gate_decision": Permission.DECIDE,
    "visit": Permission.RECORD_VISITS,
    "plan": Permission.SEE_TRAINEES,
    "issue_plan": Permission.ISSUE_PLANS,
    "close_course": Permission.RUN_COURSES,
    "booklet": Permission.ISSUE_PLANS,
    "protocols": Permission.SEE_TRAINEES,
    "new_protocol": Permission.TAKE_UP_PROTOCOLS,
    "new_ladder": Permission.TAKE_UP_PROTOCOLS,
    "nights": Permission.SEE_RESULTS,
    "keep_nights": Permission.RECORD_NIGHTS,
    "keep_nights_form": Permission.RECORD_NIGHTS,
    "night_versions": Permission.SEE_RESULTS,
    "events": Permission.SEE_RESULTS,
    "record_event": Permission.RECORD_EVENTS,
    "answer_event": Permission.ANSWER_EVENTS,
    "result": Permission.SEE_RESULTS,
    "up_sign_off": Permission.SEE_RESULTS,
    "sign_off_up": Permission.SIGN_OFF_UP,
    "withdraw_up": Permission.SIGN_OFF_UP,
    "begin_follow_up": Permission.BEGIN_FOLLOW_UPS,
    "to_ask": Permission.BEGIN_FOLLOW_UPS,
    "promises": Permission.SEE_PROMISES,
    "first_dose": Permission.RECORD_FIRST_DOSES,
    "fit": Permission.SEE_RESULTS,
    "make_fit": Permission.FIT_COHORT,
    "record_consent": Permission.RECORD_CONSENT,
    "sign_result": Permission.SIGN_RESULTS,
    "report_now": Permission.SEE_RESULTS,
    "signed_result": Permission.SEE_RESULTS,
    "report_signed": Permission.SEE_RESULTS,
}
# What stands for each part of an address; nobody has this code, which a page says after the gate.
PARTS = {
    "code": "HL-22222",
    "course": 1,
    "area": "page",
    "sheet": 1,
    "event": 1,
    "gate": "practice",
    "name": "clinic/page.css",
    "night": 1,
    "number": 1,
    "pk": 1,
    "site": "nowhere",
    "token": "token",
    "uidb64": "MQ",
}


def routes(patterns: Any = None) -> Iterator[URLPattern]:
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns)
        else:
            yield pattern


ROUTES = {str(route.name): route for route in routes()}


@pytest.mark.parametrize("name", ROUTES)
def test_every_route_says_what_it_asks(name: str) -> None:
    assert access_of(ROUTES[name].callback) is not None


def test_every_route_asks_what_was_reviewed() -> None:
    found: dict[str, Any] = {}
    for name, route in ROUTES.items():
        access = access_of(route.callback) or Access()
        found[name] = access.permission if access.sign_in else "public"
    expected = dict.fromkeys(PUBLIC, "public") | dict.fromkeys(OWN_ACCOUNT) | BY_PERMISSION
    assert found == expected


def address(name: str) -> str:
    from django.urls import reverse

    (_, parts), *_ = get_resolver().reverse_dict.getlist(name)[0][0]
    return reverse(name, kwargs={part: PARTS[part] for part in parts})


@pytest.mark.any_database
@pytest.mark.django_db
@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("name", sorted(set(ROUTES) - PUBLIC))
def test_a_stranger_is_sent_to_sign_in(name: str, method: str, client: Any) -> None:
    answer = getattr(client, method)(address(name))
    assert answer.status_code == 302
    assert answer["Location"].startswith("/account/sign-in/?next=")


@pytest.mark.any_database
@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("name", sorted(BY_PERMISSION))
def test_a_page_opens_to_the_roles_of_the_table_alone(
    name: str, role: Role, make_staff: Callable[..., Any], signed_in: Callable[[Any], Any]
) -> None:
    answer = signed_in(make_staff(role)).get(address(name))
    allowed = BY_PERMISSION[name] in ALLOWED[role]
    # Behind the gate some pages find nobody of this code, or take nothing but what is sent.
    assert answer.status_code in ({200, 404, 405} if allowed else {403})


@pytest.mark.parametrize("name", sorted(BY_PERMISSION))
def test_nobody_sees_a_page_before_a_second_factor(name: str, coach: Any, client: Any) -> None:
    client.force_login(coach, backend="allauth.account.auth_backends.AuthenticationBackend")
    answer = client.get(address(name))
    assert (answer.status_code, answer["Location"]) == (302, "/account/factors/")


def test_recovery_codes_alone_are_no_second_factor(coach: Any, client: Any) -> None:
    from allauth.mfa.models import Authenticator

    Authenticator.objects.create(
        user=coach, type=Authenticator.Type.RECOVERY_CODES, data={"seed": "sealed"}
    )
    client.force_login(coach, backend="allauth.account.auth_backends.AuthenticationBackend")
    assert client.get(address("today"))["Location"] == "/account/factors/"


def test_the_invented_clinic_asks_for_no_second_factor(
    coach: Any, client: Any, settings: Any
) -> None:
    from dataclasses import replace

    settings.INSTALLATION = replace(settings.INSTALLATION, demo=True, id="invented-1")
    client.force_login(coach, backend="allauth.account.auth_backends.AuthenticationBackend")
    assert client.get(address("today")).status_code == 200


def test_a_page_that_says_nothing_is_locked(rf: Any) -> None:
    gate = AccessGate(lambda _: HttpResponse())
    with pytest.raises(ImproperlyConfigured, match="says not who may see it"):
        gate.process_view(rf.get("/"), lambda _: HttpResponse(), (), {})


def test_a_mark_does_not_change_the_view_it_marks() -> None:
    def view(_: Any) -> HttpResponse:
        return HttpResponse("seen")

    for mark in (public, own_account, requires(Permission.SEE_TODAY)):
        assert access_of(mark(view)) is not None
    assert access_of(view) is None


def test_a_role_taken_away_closes_the_page_at_once(
    coach: Any, administrator: Any, signed_in: Callable[[Any], Any]
) -> None:
    from sidelong.clinic.accounts.actions import end_access

    browser = signed_in(coach)
    assert browser.get(address("today")).status_code == 200
    end_access(user=coach, by=administrator)
    assert browser.get(address("today")).status_code == 302
