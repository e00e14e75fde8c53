"""Starting a clinic and asking it over a real connection."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from sidelong.clinic.installation import Installation, make_installation
from sidelong.clinic.serving import refuse_open_door
from sidelong.problems import Refused

SIDELONG = [sys.executable, "-c", "from sidelong.cli import main; main()"]


@pytest.fixture
def installation(tmp_path: Path) -> Installation:
    return make_installation(tmp_path, today=date(2026, 11, 25), hosts=("clinic.example",))


def test_pages_never_cross_the_network_in_the_clear(installation: Installation) -> None:
    from dataclasses import replace

    refuse_open_door(installation, "127.0.0.1", has_tls=False)
    refuse_open_door(installation, "0.0.0.0", has_tls=True)
    refuse_open_door(replace(installation, behind_proxy=True), "0.0.0.0", has_tls=False)
    with pytest.raises(Refused, match=r"unencrypted\. Give --certificate"):
        refuse_open_door(installation, "0.0.0.0", has_tls=False)


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def serving(tmp_path: Path, socket_enabled: None) -> Iterator[tuple[str, list[str], int]]:
    """A clinic in a process of its own: address, the lines that it said, and its process."""
    port = free_port()
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith(("SIDELONG", "DJANGO"))}
    process = subprocess.Popen(
        [*SIDELONG, "serve", "--folder", str(tmp_path / "c"), "--port", str(port)],
        env=surroundings,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
    )
    said: list[str] = []
    assert process.stdout is not None
    for line in process.stdout:
        said.append(line.strip())
        if "/account/welcome/" in line:
            break
    else:
        pytest.fail("it ended before it served:\n" + "\n".join(said[-15:]))
    address = f"http://localhost:{port}"
    try:
        _wait_for(f"{address}/account/sign-in/")
        yield address, said, process.pid
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=30)


@pytest.fixture
def served(serving: tuple[str, list[str], int]) -> tuple[str, list[str]]:
    """The same without its process."""
    return serving[0], serving[1]


def _wait_for(address: str) -> None:
    for _ in range(300):
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.1)
    pytest.fail(f"{address} does not answer")


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="stops the server by a signal")
def test_a_new_folder_is_served_with_style_and_a_first_invitation(
    served: tuple[str, list[str]], tmp_path: Path
) -> None:
    address, said = served
    with urllib.request.urlopen(f"{address}/account/sign-in/", timeout=10) as page:
        text = page.read().decode("utf-8")
    styles = re.findall(r'href="(/static/[^"]+\.[0-9a-f]{12}\.css)"', text)
    assert styles
    fonts = []
    for style in styles:
        with urllib.request.urlopen(address + style, timeout=10) as sheet:
            css = sheet.read().decode("utf-8")
            fonts += re.findall(r'url\("\.\./(fonts/[^"]+\.[0-9a-f]{12}\.ttf)"\)', css)
            assert "immutable" in sheet.headers["Cache-Control"]
            assert sheet.headers["X-Content-Type-Options"] == "nosniff"
    assert fonts
    for font in fonts:
        with urllib.request.urlopen(f"{address}/static/{font}", timeout=10) as letters:
            assert letters.read(4) == b"\0\1\0\0", "a TrueType file begins so"
    invitation = said[-1].replace(address, "")
    with urllib.request.urlopen(address + invitation, timeout=10) as welcome:
        assert "Choose a password" in welcome.read().decode("utf-8")
    assert (tmp_path / "c" / "sidelong.sqlite3").is_file()
    assert any("no issues" in line for line in said)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="kills the server by a signal")
def test_a_clinic_that_was_killed_serves_no_more(serving: tuple[str, list[str], int]) -> None:
    address, _, process = serving
    os.kill(process, signal.SIGKILL)
    for _ in range(100):
        try:
            urllib.request.urlopen(f"{address}/account/sign-in/", timeout=5).close()
        except OSError:
            return
        time.sleep(0.1)
    pytest.fail("its worker has outlived it")


def test_a_damaged_folder_is_refused_with_status_1(tmp_path: Path) -> None:
    (tmp_path / "installation.toml").write_text("prefix = 3", encoding="utf-8")
    done = subprocess.run(
        [*SIDELONG, "serve", "--folder", str(tmp_path)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    assert done.returncode == 1
    assert "pages.secret" in done.stderr
