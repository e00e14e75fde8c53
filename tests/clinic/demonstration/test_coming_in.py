"""Coming in without a password: in an invented clinic by a click, in a real one not at all."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.urls import NoReverseMatch, reverse

from sidelong.clinic.demonstration.staff import COACH, LEAD_CLINICIAN, PASSWORD, STAFF
from sidelong.clinic.installation import Installation, make_installation, read_installation
from sidelong.problems import Refused

TODAY = date(2026, 11, 25)
URLS = "tests_invented_urls"


@pytest.fixture
def invented(settings: Any, db: None) -> None:
    """This clinic as if it had been invented, with the route and the staff of one."""
    import sys
    from types import ModuleType

    from django.urls import include, path

    from sidelong.clinic import urls
    from sidelong.clinic.demonstration.staff import hire_staff

    settings.INSTALLATION = replace(settings.INSTALLATION, demo=True, id="invented-1")
    ours = ModuleType(URLS)
    more = path("invented/", include("sidelong.clinic.demonstration.urls"))
    ours.urlpatterns = [*urls.urlpatterns, more]  # type: ignore[attr-defined]
    sys.modules[URLS] = ours
    settings.ROOT_URLCONF = URLS
    hire_staff()


def come_in(client: Any, username: str, **more: str) -> Any:
    return client.post("/invented/come-in/", {"member": username, **more})


def test_a_real_clinic_has_no_such_route(client: Any, db: None) -> None:
    with pytest.raises(NoReverseMatch):
        reverse("come_in")
    assert client.post("/invented/come-in/", {"member": "lead"}).status_code == 404
    assert b"/invented/" not in client.get("/account/sign-in/").content


def test_the_view_itself_refuses_a_real_clinic(rf: Any) -> None:
    from django.http import Http404

    from sidelong.clinic.demonstration.views import come_in_page

    with pytest.raises(Http404, match="not an invented one"):
        come_in_page(rf.post("/", {"member": "lead"}))


@pytest.mark.parametrize("is_demo", [True, False])
def test_no_setting_turns_a_folder_into_what_it_was_not_made_as(
    is_demo: bool, tmp_path: Path
) -> None:
    make_installation(tmp_path, today=TODAY, demo=is_demo)
    path = tmp_path / "installation.toml"
    was, is_now = (f"demo = {str(each).lower()}" for each in (is_demo, not is_demo))
    path.write_text(path.read_text("utf-8").replace(was, is_now), "utf-8")
    with pytest.raises(Refused, match="stays what it was made as"):
        read_installation(tmp_path, surroundings={})


def test_an_invented_clinic_answers_on_this_computer_alone(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="open to others"):
        Installation(tmp_path, tmp_path, id="invented-1", demo=True, hosts=("clinic.example",))


STARTED_WITH_ANOTHER_ID = """
import sys
from pathlib import Path
from sidelong.clinic.serving import first_invitation, prepare
from sidelong.problems import Refused
home = Path(sys.argv[1])
prepare(home)
first_invitation(at="")
text = (home / "installation.toml").read_text("utf-8")
text = text.replace('id = "', 'id = "invented-').replace("demo = false", "demo = true")
(home / "installation.toml").write_text(text, "utf-8")
"""
START = """
import sys
from pathlib import Path
from sidelong.clinic.serving import prepare
prepare(Path(sys.argv[1]))
"""


def test_a_real_clinic_with_another_id_is_not_started(
    tmp_path: Path, run_python: Callable[..., Any]
) -> None:
    argument = f"import sys; sys.argv.append({str(tmp_path / 'c')!r})\n"
    done = run_python(argument + STARTED_WITH_ANOTHER_ID)
    assert done.returncode == 0, done.stderr
    again = run_python(argument + START)
    assert again.returncode != 0
    assert "the audit trail in the database is that of another installation" in again.stderr


def test_the_entrance_offers_everybody_and_asks_for_nothing(client: Any, invented: None) -> None:
    page = client.get("/account/sign-in/").content.decode()
    assert "All of this is invented" in page
    assert 'type="password"' not in page
    for member in STAFF:
        assert f'value="{member.username}"' in page
        assert member.says.replace("'", "&#x27;") in page


@pytest.mark.parametrize("member", STAFF, ids=lambda each: each.username)
def test_one_click_signs_in_with_those_roles_and_no_others(
    member: Any, client: Any, invented: None
) -> None:
    assert come_in(client, member.username).url == "/"
    page = client.get("/")
    assert page.wsgi_request.user.role_set == set(member.roles)
    assert PASSWORD in page.content.decode()


def test_changing_the_role_is_recorded_and_stays_on_the_page(client: Any, invented: None) -> None:
    from sidelong.clinic.audit.models import AuditRow

    come_in(client, LEAD_CLINICIAN.username)
    first = client.session.session_key
    assert (
        come_in(client, COACH.username, next="/trainees/?next=Plan").url == "/trainees/?next=Plan"
    )
    assert client.session.session_key != first
    verbs = list(AuditRow.objects.order_by("-number").values_list("verb", flat=True)[:3])
    assert verbs[:2] == ["signed in", "signed out"]


@pytest.mark.parametrize(
    "place",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/nowhere/",
        "/account/sign-out/",
        "/trainees/",
        "javascript:alert(1)",
        "",
    ],
)
def test_where_somebody_may_not_go_leads_to_today(place: str, client: Any, invented: None) -> None:
    assert come_in(client, "administrator", next=place).url == "/"


def test_nobody_else_comes_in_that_way(client: Any, invented: None, make_staff: Any) -> None:
    from sidelong.clinic.accounts.roles import Role

    make_staff(Role.COACH, username="somebody")
    assert come_in(client, "somebody").status_code == 404
    assert come_in(client, "nobody").status_code == 404
    assert client.get("/invented/come-in/").status_code == 405


def test_one_person_may_do_everything_that_leads_to_a_signed_result() -> None:
    from sidelong.clinic.accounts.roles import Permission, permissions_of

    needed = {
        Permission.ENTER_TRAINEES,
        Permission.DECIDE,
        Permission.RECORD_VISITS,
        Permission.ISSUE_PLANS,
        Permission.RECORD_NIGHTS,
        Permission.SIGN_RESULTS,
    }
    assert needed <= permissions_of(LEAD_CLINICIAN.roles)
