"""Signing in and out, second factors, invitations, and guessing."""

import hashlib
import hmac
import struct
from base64 import b32decode
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.cache import cache

from sidelong.clinic.accounts.actions import choose_password, invite_staff
from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.audit import acts
from sidelong.clinic.audit.queries import links_about

PASSWORD = "seven quiet harbour lamps"
MOMENT = 1_795_600_000.0


@pytest.fixture(autouse=True)
def _codes_of_one_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    """A code reckoned just before a half minute ends would be refused just after."""
    from allauth.mfa.totp.internal import auth

    monkeypatch.setattr(auth, "time", SimpleNamespace(time=lambda: MOMENT))


def one_time_code(secret: str, at: float) -> str:
    """RFC 6238 with SHA-1, 30 seconds, 6 digits, written from the standard."""
    counter = struct.pack(">Q", int(at) // 30)
    mac = hmac.new(b32decode(secret), counter, hashlib.sha1).digest()
    place = mac[-1] & 15
    number = struct.unpack(">I", mac[place : place + 4])[0] & 0x7FFFFFFF
    return f"{number % 10**6:06d}"


@pytest.mark.parametrize(
    ("at", "expected"),
    [(59, "287082"), (1111111109, "081804"), (1234567890, "005924"), (20000000000, "353130")],
)
def test_our_reckoning_of_codes_agrees_with_the_standard(at: int, expected: str) -> None:
    """RFC 6238, appendix B, SHA-1 rows, last six of eight digits; from memory."""
    assert one_time_code("GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ", at) == expected


@pytest.fixture
def member(coach: User) -> User:
    choose_password(user=coach, password=PASSWORD, by=coach)
    return coach


def sign_in(client: Any, password: str = PASSWORD, name: str = "coach", **more: Any) -> Any:
    return client.post("/account/sign-in/", {"login": name, "password": password}, **more)


def confirm(client: Any) -> None:
    """Type the password once more, as every change of a second factor asks."""
    assert client.post("/account/again/", {"password": PASSWORD}).status_code == 302


def verbs(user: User) -> list[str]:
    return [link.verb for link in links_about(user.audit_key)]


def test_an_invited_person_chooses_a_password_and_sets_up_a_second_factor(
    coach: User, client: Any
) -> None:
    link = f"/account/welcome/{invite_staff(user=coach, by=Operator())}/"
    moved = client.get(link)
    page = client.get(moved["Location"])
    assert moved["Location"].endswith("/set-password/")
    assert b"Choose a password" in page.content
    typed = {"new_password1": PASSWORD, "new_password2": PASSWORD}
    assert client.post(moved["Location"], typed)["Location"] == "/account/sign-in/"

    assert sign_in(client, name="COACH").status_code == 302
    assert client.get("/")["Location"] == "/account/factors/"
    assert client.get("/account/factors/code/")["Location"].startswith("/account/again/")
    confirm(client)
    page = client.get("/account/factors/code/")
    secret = client.session["mfa.totp.secret"]
    assert secret in page.content.decode()
    done = client.post("/account/factors/code/", {"code": one_time_code(secret, MOMENT)})
    assert done.status_code == 302
    assert client.get("/").status_code == 200
    assert verbs(coach)[-4:] == [
        "password chosen",
        "signed in",
        "second factor added",
        "second factor added",
    ], "the code, and the recovery codes that come with it"
    assert {link.actor for link in links_about(coach.audit_key)} == {"operator", coach.audit_key}


def test_a_used_invitation_says_what_to_do(coach: User, client: Any) -> None:
    link = f"/account/welcome/{invite_staff(user=coach, by=Operator())}/"
    choose_password(user=coach, password=PASSWORD, by=coach)
    page = client.get(link)
    assert b"Ask an administrator" in page.content


def test_a_second_factor_is_asked_for_and_its_secret_is_sealed(member: User, client: Any) -> None:
    from allauth.mfa.adapter import get_adapter
    from allauth.mfa.models import Authenticator

    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    sealed = get_adapter().encrypt(secret)
    Authenticator.objects.create(user=member, type="totp", data={"secret": sealed})
    assert secret not in sealed
    assert sign_in(client)["Location"].startswith("/account/sign-in/second-factor/")
    assert client.get("/")["Location"].startswith("/account/sign-in/")
    wrong = client.post("/account/sign-in/second-factor/", {"code": "000000"})
    assert wrong.status_code == 200
    code = one_time_code(secret, MOMENT)
    right = client.post("/account/sign-in/second-factor/", {"code": code})
    assert right["Location"] == "/"
    assert client.get("/").status_code == 200
    assert verbs(member)[-2:] == ["second factor refused", "signed in"]


def test_a_code_works_once(member: User, client: Any) -> None:
    from allauth.mfa.adapter import get_adapter
    from allauth.mfa.models import Authenticator

    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    sealed = get_adapter().encrypt(secret)
    Authenticator.objects.create(user=member, type="totp", data={"secret": sealed})
    code = one_time_code(secret, MOMENT)
    answers = []
    for _ in range(2):
        sign_in(client)
        answers.append(client.post("/account/sign-in/second-factor/", {"code": code}).status_code)
        client.post("/account/sign-out/")
    assert answers == [302, 200]


def test_signing_out_ends_the_session_on_the_server(member: User, client: Any) -> None:
    sign_in(client)
    cookie = client.cookies["sidelong"].value
    client.post("/account/sign-out/")
    client.cookies["sidelong"] = cookie
    assert client.get("/")["Location"].startswith("/account/sign-in/")
    assert verbs(member)[-2:] == ["signed in", "signed out"]


def test_an_old_session_ends_with_the_password(
    member: User, signed_in: Callable[[Any], Any]
) -> None:
    browser = signed_in(member)
    choose_password(user=member, password="eight loud harbour lamps", by=member)
    assert browser.get("/").status_code == 302


def test_a_session_gets_a_new_key_at_sign_in(member: User, client: Any) -> None:
    session = client.session
    session["planted"] = "before"
    session.save()
    before = session.session_key
    sign_in(client)
    assert client.cookies["sidelong"].value != before


def test_a_failed_attempt_is_recorded_without_what_was_typed(member: User, client: Any) -> None:
    sign_in(client, "a wrong password that is long")
    sign_in(client, "x", name="my-password-by-mistake")
    rows = [*links_about(member.audit_key), *links_about("staff:unknown")]
    assert [row.verb for row in rows][-2:] == ["sign-in failed", "sign-in failed"]
    assert not any("mistake" in str(row) or "wrong password" in str(row) for row in rows)


def test_guessing_is_stopped_from_one_address_and_the_owner_gets_in_from_another(
    member: User, client: Any
) -> None:
    for _ in range(5):
        sign_in(client, "a wrong password that is long", REMOTE_ADDR="127.0.0.9")
    cache.clear()  # the slower limit alone, without the one by minute
    stopped = sign_in(client, PASSWORD, REMOTE_ADDR="127.0.0.9")
    assert stopped.status_code == 429
    assert b"Too many attempts" in stopped.content
    assert sign_in(client, PASSWORD, REMOTE_ADDR="127.0.0.8").status_code == 302


@pytest.mark.any_database
def test_guessing_from_many_addresses_is_stopped_after_a_hundred(
    member: User, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    n_compared = 0
    compare = User.check_password

    def counted(self: User, password: str | None) -> bool:
        nonlocal n_compared
        n_compared += 1
        return compare(self, password)

    monkeypatch.setattr(User, "check_password", counted)
    for guess in range(120):
        sign_in(client, f"guess number {guess:03d}", REMOTE_ADDR=f"127.0.1.{guess + 1}")
    assert n_compared == 100


def test_nobody_can_sign_up(client: Any, db: None) -> None:
    assert client.get("/account/signup/").status_code == 404
    assert b"sign up" not in client.get("/account/sign-in/").content.lower()


def test_a_password_is_changed_with_the_old_one(
    member: User, signed_in: Callable[[Any], Any]
) -> None:
    browser = signed_in(member)
    typed = {"oldpassword": PASSWORD, "password1": "x" * 16, "password2": "x" * 16}
    assert browser.post("/account/password/", {**typed, "oldpassword": "no"}).status_code == 200
    assert browser.post("/account/password/", typed).status_code == 302
    member.refresh_from_db()
    assert member.check_password("x" * 16)


@pytest.mark.parametrize("path", ["/account/sign-in/", "/account/sign-out/"])
def test_when_the_trail_cannot_be_written_nobody_comes_in_or_goes_out(
    path: str, member: User, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    if path.endswith("out/"):
        sign_in(client)

    def fail(_: Any) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(acts, "append", fail)
    with pytest.raises(OSError, match="no space"):
        client.post(path, {"login": "coach", "password": PASSWORD})


def test_a_second_factor_taken_away_is_recorded(member: User, client: Any) -> None:
    sign_in(client)
    confirm(client)
    client.get("/account/factors/code/")
    code = one_time_code(client.session["mfa.totp.secret"], MOMENT)
    client.post("/account/factors/code/", {"code": code})
    client.post("/account/factors/code/remove/")
    assert not member.authenticator_set.exists()
    assert verbs(member)[-2:] == ["second factor removed", "second factor removed"]


def test_a_second_factor_is_not_kept_when_the_trail_cannot_be_written(
    member: User, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    sign_in(client)
    confirm(client)
    client.get("/account/factors/code/")
    code = one_time_code(client.session["mfa.totp.secret"], MOMENT)

    def fail(_: Any) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(acts, "append", fail)
    with pytest.raises(OSError, match="no space"):
        client.post("/account/factors/code/", {"code": code})
    assert not member.authenticator_set.exists()


@pytest.mark.any_database
@pytest.mark.parametrize(
    "path",
    [
        "/account/factors/",
        "/account/factors/passkeys/",
        "/account/factors/passkeys/add/",
        "/account/factors/code/",
        "/account/password/",
    ],
)
def test_pages_of_ones_own_account_are_there_and_hold_no_inline_script(
    path: str, member: User, client: Any
) -> None:
    sign_in(client)
    confirm(client)
    page = client.get(path)
    text = page.content.decode()
    assert page.status_code == 200
    assert '<main id="content"' in text
    scripts = [part.split(">")[0] for part in text.split("<script")[1:]]
    assert all("src=" in each or "application/json" in each for each in scripts)
    assert "style=" not in text
    assert "onclick" not in text


def test_sign_in_needs_the_form_from_our_own_page(member: User) -> None:
    from django.test import Client

    strict = Client(enforce_csrf_checks=True)
    assert sign_in(strict).status_code == 403
