"""Safe defaults, looked at from outside: what pages carry, what Django's own check says."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.hashers import PBKDF2PasswordHasher
from django.core.management import call_command

from sidelong.clinic.installation import make_installation


def policy_of(answer: Any) -> dict[str, str]:
    parts = answer["Content-Security-Policy"].split("; ")
    return {part.split(" ", 1)[0]: part.split(" ", 1)[1] for part in parts}


PAGES = ["/", "/account/sign-in/", "/account/factors/", "/nowhere/", "/static/clinic/none.css"]


@pytest.mark.django_db
@pytest.mark.parametrize("path", PAGES)
def test_every_answer_carries_the_protecting_headers(path: str, client: Any) -> None:
    answer = client.get(path)
    policy = policy_of(answer)
    assert policy["default-src"] == "'none'"
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in answer["Content-Security-Policy"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "no-store" in answer["Cache-Control"]


@pytest.mark.django_db
def test_a_nonce_is_new_on_every_page_that_uses_one(rf: Any) -> None:
    from csp.middleware import CSPMiddleware
    from django.http import HttpResponse

    def page(request: Any) -> HttpResponse:
        return HttpResponse(str(request.csp_nonce))

    answers = [CSPMiddleware(page)(rf.get("/")) for _ in range(2)]
    nonces = [answer.content.decode() for answer in answers]
    assert nonces[0] != nonces[1]
    assert [
        f"'nonce-{nonce}'" in policy_of(a)["script-src"]
        for nonce, a in zip(nonces, answers, strict=True)
    ] == [True, True]


DEPLOY = """
import django
from django.core.management import call_command
django.setup()
call_command("check", deploy=True, fail_level="WARNING")
from django.conf import settings
print(settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME, settings.SESSION_COOKIE_AGE)
print(settings.DEBUG, settings.SECURE_HSTS_SECONDS, settings.SECURE_SSL_REDIRECT)
print(settings.SILENCED_SYSTEM_CHECKS)
"""


def test_djangos_deployment_check_is_clean(tmp_path: Path, run_python: Callable[..., Any]) -> None:
    make_installation(tmp_path, today=date(2026, 11, 25), hosts=("clinic.example",))
    done = run_python(
        DEPLOY,
        SIDELONG_HOME=str(tmp_path),
        DJANGO_SETTINGS_MODULE="sidelong.clinic.settings",
        DJANGO_DEBUG="1",
        DEBUG="1",
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "no issues" in done.stdout
    assert "__Host-sidelong __Host-sidelong-form 43200" in done.stdout
    assert "False 31536000 True" in done.stdout
    assert "['security.W021']" in done.stdout, "the preload list is the domain owner's matter"


def test_no_table_is_ahead_of_its_migrations(db: None) -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_passwords_are_hashed_slowly_enough() -> None:
    """OWASP ASVS 5.0, appendix on password storage: PBKDF2-SHA256 with 600,000 rounds or more."""
    import sidelong.clinic.settings as ours

    assert not hasattr(ours, "PASSWORD_HASHERS"), "Django's own choice stands"
    assert PBKDF2PasswordHasher.iterations >= 600_000


def test_a_host_that_is_not_ours_is_refused(client: Any) -> None:
    assert client.get("/account/sign-in/", headers={"Host": "other.example"}).status_code == 400


@pytest.mark.django_db
def test_a_missing_page_says_so_and_leads_on(client: Any) -> None:
    answer = client.get("/nowhere/")
    assert answer.status_code == 404
    assert b"No such page" in answer.content
    assert b'href="/"' in answer.content


@pytest.mark.django_db
def test_a_page_that_fails_says_what_was_not_saved_and_shows_nothing_else(
    client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from allauth.account.views import LoginView

    def fail(*_: Any, **__: Any) -> None:
        raise RuntimeError("Inventia Madeup")

    monkeypatch.setattr(LoginView, "get_context_data", fail)
    client.raise_request_exception = False
    answer = client.get("/account/sign-in/")
    assert answer.status_code == 500
    assert b"was not saved" in answer.content
    assert b"Inventia" not in answer.content
