"""The clinic in a real browser: one clinic for all tests, a cast of staff, checks of pages.

Chromium is the system's own (``script/chromium`` finds or installs it). Where it is missing the
tests fail; they never skip. Fixtures for tests of any page:

- ``as_role(Role.COACH)`` gives a page on which a member of staff with these roles is signed in;
  ``visitor`` gives one on which nobody is
- ``check_page(page)`` demands what every page owes: axe finds nothing serious, nothing scrolls
  sideways at this width, and the console is silent; ``check_fit(page)`` leaves axe out
- ``dress(page, width=320, scheme="dark", text=200, lines="rtl")`` changes how a page is looked at
- ``demo`` is an invented clinic that was started once by its command, as a new user does
- ``tab_to(page, name)`` walks by keyboard alone to a link, button or field

``SIDELONG_PICTURES=FOLDER`` keeps a picture of every page that is checked, to be looked at.
"""

import atexit
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
import pytest_socket
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from sidelong.clinic.installation import make_installation

TODAY = date(2026, 11, 25)
# What is asked of the invented clinic in a process of its own: these tests' database is another.
ASK = """
import json, sys
from pathlib import Path
from sidelong.clinic.serving import prepare
prepare(Path(sys.argv[1]))
from django.conf import settings
from django.db.models import Count
from django.urls import reverse
from django.utils import timezone
from sidelong.clinic.accounts.models import User
from sidelong.clinic.audit.queries import check_chain
from sidelong.clinic.look import StepState
from sidelong.clinic.practice.fit_queries import fit_now
from sidelong.clinic.practice.models import ConsentRow, EventRow, FirstDoseRow, FitRow, NightEntry
from sidelong.clinic.practice.models import Signature
from sidelong.clinic.practice.answers import Answer
from sidelong.clinic.trainees.models import Course
from sidelong.clinic.trainees.pages import told_lines
from sidelong.clinic.trainees.queries import read_records
lead = User.objects.get(username="lead")
today = timezone.localdate()
records = read_records(today=today, seen_by=lead)
lines = told_lines(records)
signed = [Answer.from_content(json.loads(s.result.content)) for s in Signature.objects.all()]
fits = fit_now(seen_by=lead)
counted = set(FitRow.objects.latest("pk").trainees)
dates = [
    stamp
    for model, name in (
        (Course, "opened"), (NightEntry, "kept"), (EventRow, "kept"),
        (ConsentRow, "written"), (FitRow, "made"),
    )
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
    "fits": [str(each.standing) for each in fits.lines],
    "fit": [fits.fit.origin, fits.fit.n_trainees, str(fits.line.made.date())],
    "said yes": sorted(each.code for each in fits.consents if each.answer == "yes"),
    "said no": sorted(each.code for each in fits.consents if each.answer == "no"),
    "not asked": sum(each.answer == "not asked" for each in fits.consents),
    "took back": sorted(
        set(FitRow.objects.earliest("pk").trainees) - counted
    ),
    "counted": sorted(counted),
    "no, with nights before the fit": sorted(
        NightEntry.objects.filter(kept__lt=FitRow.objects.latest("pk").made)
        .filter(course__trainee__in=[e.code for e in fits.consents if e.answer == "no"])
        .values_list("course__trainee", flat=True).distinct()
    ),
    "rests on": sorted(
        [str(timezone.localdate(s.result.made)), said.fit]
        for s, said in zip(Signature.objects.select_related("result"), signed)
    ),
    "actors": sorted({key for c in Course.objects.all() for key in [c.opened_by]}),
    "ahead": sum(timezone.localdate(stamp) > today for stamp in dates),
    "chain": [str(fault) for fault in check_chain().problems],
    "route": reverse("come_in"),
    "demo": settings.INSTALLATION.demo,
}))
"""
HERE = Path(__file__).parent
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
# The rules that WCAG 2.2 AA asks for, and what axe holds good practice.
AXE_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
GRAVE = {"serious", "critical"}


def pytest_configure(config: pytest.Config) -> None:
    # Playwright keeps a loop running in this thread; Django would take tests for coroutines.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    from django.conf import settings

    if settings.configured:
        return  # the tests of the clinic's rooms have set it up already
    home = Path(tempfile.mkdtemp(prefix="clinic-browser-")).resolve()
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    make_installation(home / "clinic", today=TODAY, name="Harbour Lane", prefix="HL")
    os.environ["SIDELONG_HOME"] = str(home / "clinic")
    os.environ["DJANGO_SETTINGS_MODULE"] = "sidelong.clinic.settings"
    settings.DATABASES["default"]["TEST"] = {"NAME": str(home / "tests.sqlite3")}
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES["staticfiles"]["BACKEND"] = (
        "django.contrib.staticfiles.storage.StaticFilesStorage"
    )
    from pytest_django.plugin import _setup_django

    _setup_django(config)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Only here may a test open a socket; ``_this_computer_alone`` keeps it on this computer."""
    from django.db import connections

    # Whichever folder was collected last has named the tests' database anew, without the rest.
    connections.configure_settings(connections.settings)
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.enable_socket)


@pytest.fixture(autouse=True)
def _this_computer_alone() -> Iterator[None]:
    from django.core.cache import cache

    pytest_socket.socket_allow_hosts(["127.0.0.1"], allow_unix_socket=True)
    yield
    cache.clear()  # rate limits are kept in memory and would reach into the next test


@pytest.fixture(scope="session", autouse=True)
def _let_flushes_through() -> Iterator[None]:
    """Emptying tables after a test with real transactions would be refused by the triggers."""
    from django.db import connection
    from django.test import TransactionTestCase

    from sidelong.clinic.audit.triggers import install_triggers, remove_triggers

    flush = TransactionTestCase._fixture_teardown
    if flush.__module__ != "django.test.testcases":
        yield  # done already
        return

    def without_triggers(self: Any) -> None:
        with connection.schema_editor() as editor:
            remove_triggers(None, editor)
        flush(self)
        with connection.schema_editor() as editor:
            install_triggers(None, editor)

    TransactionTestCase._fixture_teardown = without_triggers
    yield
    TransactionTestCase._fixture_teardown = flush


def find_chromium() -> str:
    """Name the browser's program; fail where there is none."""
    for name in (os.environ.get("CHROMIUM", ""), *CHROMIUM_NAMES):
        found = shutil.which(name) if name else None
        if found:
            return found
    pytest.fail("Chromium is missing: run script/chromium, or set CHROMIUM to its path")


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Start the system's Chromium with an empty profile, without services of its own."""
    quiet = [
        "--headless",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-dev-shm-usage",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        quiet.append("--no-sandbox")
    return {**browser_type_launch_args, "executable_path": find_chromium(), "args": quiet}


@pytest.fixture(scope="session")
def chromium_version() -> str:
    """What the browser says it is."""
    said = subprocess.run(
        [find_chromium(), "--version"], capture_output=True, text=True, timeout=60, check=True
    )
    return said.stdout.strip()


@pytest.fixture
def open_page(live_server: Any, browser: Browser) -> Iterator[Callable[..., Page]]:
    """Open empty pages that know the clinic's address and remember what they complained about."""
    contexts = []

    def open_one(**wishes: Any) -> Page:
        settings = {"viewport": {"width": 1280, "height": 900}, "locale": "en-GB", **wishes}
        context = browser.new_context(base_url=live_server.url, **settings)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.complaints = []  # type: ignore[attr-defined]
        page.on("console", lambda told: _note(page, told.type, told.text))
        page.on("pageerror", lambda error: _note(page, "error", str(error)))
        return page

    yield open_one
    for context in contexts:
        context.close()


def _note(page: Page, kind: str, text: str) -> None:
    if kind in {"error", "warning"}:
        page.complaints.append(f"{kind}: {text}")  # type: ignore[attr-defined]


@dataclass(frozen=True)
class Demo:
    """An invented clinic that answers: where, how long its first start took, and what it holds."""

    address: str
    home: Path
    first_start_seconds: float
    facts: dict[str, Any]


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """Start ``sidelong demo`` as ``script/demo`` does; it is invented once for all tests."""
    home = tmp_path_factory.mktemp("invented") / "sidelong-demo"
    own = {k: v for k, v in os.environ.items() if not k.startswith(("SIDELONG", "DJANGO"))}
    command = "from sidelong.cli import main; main()"
    words = ["demo", "--no-browser", "--folder", str(home)]
    begun = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-c", command, *words],
        env=own,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    said = ""
    for line in process.stdout:
        said += line
        if "answers at" in line:
            break
    else:
        pytest.fail(f"it ended before it answered:\n{said[-3000:]}")
    took = time.monotonic() - begun
    # Whatever the server logs is read away, else it would wait for room to write.
    reader = Thread(target=process.stdout.read, daemon=True)
    reader.start()
    try:
        asked = subprocess.run(
            [sys.executable, "-c", ASK, str(home)],
            env=own,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=300,
            check=False,
        )
        assert asked.returncode == 0, asked.stderr[-3000:]
        facts = json.loads(asked.stdout.rpartition("FOUND")[2])
        address = re.search(r"http://\S+", said)[0]
        yield Demo(address, home, took, facts)
    finally:
        process.terminate()
        process.wait(timeout=60)
        reader.join(timeout=60)
        process.stdout.close()


@pytest.fixture
def visitor(open_page: Callable[..., Page]) -> Page:
    """A page on which nobody has signed in."""
    return open_page()


@pytest.fixture
def make_member(transactional_db: None) -> Callable[..., Any]:
    """Add a member of staff with a second factor: ``make_member(Role.COACH, password="…")``."""
    from allauth.mfa.models import Authenticator

    from sidelong.clinic.accounts.actions import choose_password, create_staff
    from sidelong.clinic.accounts.people import Operator

    def make(*roles: Any, username: str = "", password: str = "") -> Any:
        name = username or "-".join(roles)
        user = create_staff(
            username=name, display_name=f"Robin {name.title()}", roles=roles, by=Operator()
        )
        if password:
            choose_password(user=user, password=password, by=user)
        Authenticator.objects.create(
            user=user, type=Authenticator.Type.TOTP, data={"secret": "sealed"}
        )
        return user

    return make


@pytest.fixture
def sign_in_as(live_server: Any) -> Callable[[Page, Any], Page]:
    """Put a signed-in session of somebody into a page's browser."""
    from django.conf import settings
    from django.test import Client

    def sign_in(page: Page, user: Any) -> Page:
        client = Client()
        client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
        session = client.cookies[settings.SESSION_COOKIE_NAME].value
        cookie = {"name": settings.SESSION_COOKIE_NAME, "value": session, "url": live_server.url}
        page.context.add_cookies([cookie])
        return page

    return sign_in


@pytest.fixture
def as_role(
    open_page: Callable[..., Page],
    make_member: Callable[..., Any],
    sign_in_as: Callable[[Page, Any], Page],
) -> Callable[..., Page]:
    """Open a page on which somebody with these roles is signed in."""

    def open_as(*roles: Any, **wishes: Any) -> Page:
        return sign_in_as(open_page(**wishes), make_member(*roles))

    return open_as


@pytest.fixture
def dress() -> Callable[..., Page]:
    """Change width, colours, size of text (per cent) or direction of lines of a page."""

    def change(
        page: Page, *, width: int = 1280, scheme: str = "light", text: int = 100, lines: str = ""
    ) -> Page:
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        page.evaluate("size => { document.documentElement.style.fontSize = size }", f"{text}%")
        if lines:
            page.evaluate("dir => { document.documentElement.dir = dir }", lines)
        return page

    return change


@pytest.fixture
def check_page() -> Callable[[Page], None]:
    """Demand of a page what every page owes, as it is dressed now."""
    axe = Axe()

    def check(page: Page) -> None:
        _keep_picture(page)
        said = axe.run(page, options={"runOnly": AXE_RULES, "resultTypes": ["violations"]})
        grave = [each for each in said.response["violations"] if each["impact"] in GRAVE]
        shown = [
            f"{each['id']}: {each['help']}: {[node['target'] for node in each['nodes']][:5]}"
            for each in grave
        ]
        assert not shown, "\n".join(shown)
        _demand_fit(page)

    return check


@pytest.fixture
def check_fit() -> Callable[[Page], None]:
    """Demand that nothing scrolls sideways, as the page is dressed now; quick beside axe."""

    def check(page: Page) -> None:
        _keep_picture(page)
        _demand_fit(page)

    return check


def _demand_fit(page: Page) -> None:
    assert overflowing(page) == []
    assert page.complaints == []  # type: ignore[attr-defined]


def _keep_picture(page: Page) -> None:
    folder = os.environ.get("SIDELONG_PICTURES")
    if not folder:
        return
    dressed = page.evaluate(
        """() => [
            document.title, document.documentElement.dir, innerWidth,
            matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light",
            document.documentElement.style.fontSize || "100%",
        ].join("-").replaceAll(/[^A-Za-z0-9]+/g, "-").replace(/-$/, "")"""
    )
    page.screenshot(path=Path(folder) / f"{dressed}.png", full_page=True)


def overflowing(page: Page) -> list[str]:
    """Name what reaches beyond the page's width, where the page scrolls sideways."""
    return page.evaluate(
        """() => {
            const width = document.documentElement.clientWidth;
            if (document.documentElement.scrollWidth <= width) return [];
            return [...document.body.querySelectorAll("*")]
                .filter((each) => {
                    const box = each.getBoundingClientRect();
                    return box.width > 1 && (box.right > width + 1 || box.left < -1);
                })
                .map((each) => each.outerHTML.slice(0, 80));
        }"""
    )


@pytest.fixture
def tab_to() -> Callable[..., int]:
    """Walk by the tabulator key to what carries this name, and say how many keystrokes it took."""

    def walk(page: Page, name: str, *, at_most: int = 60) -> int:
        for stroke in range(1, at_most + 1):
            page.keyboard.press("Tab")
            if name in page.evaluate(_NAME_OF_FOCUS):
                assert page.evaluate(_FOCUS_IS_SEEN), f"the focus on {name!r} is not seen"
                return stroke
        pytest.fail(f"{name!r} was not reached in {at_most} strokes of the tabulator key")

    return walk


_NAME_OF_FOCUS = """() => {
    const at = document.activeElement;
    const labels = [...(at.labels ?? [])].map((each) => each.textContent).join(" ");
    return [at.getAttribute("aria-label") ?? "", labels, at.textContent ?? ""].join(" ");
}"""
_FOCUS_IS_SEEN = """() => {
    const at = document.activeElement;
    const look = getComputedStyle(at);
    const box = at.getBoundingClientRect();
    const isBelow = box.top >= innerHeight || box.left >= innerWidth;
    const within = !isBelow && box.bottom > 0 && box.right > 0;
    return within && look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2;
}"""
