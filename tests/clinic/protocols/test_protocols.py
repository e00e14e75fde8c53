"""Protocols and ladders: taken up whole, kept in every version, read back the same."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from sidelong.clinic.accounts.people import NotPermitted
from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.locks import OutsideActError
from sidelong.clinic.audit.queries import links_about
from sidelong.clinic.protocols.actions import take_up_ladder, take_up_protocol
from sidelong.clinic.protocols.documents import ladder_of, ladder_text, protocol_of
from sidelong.clinic.protocols.models import LadderVersion, ProtocolVersion
from sidelong.clinic.protocols.queries import known_sites, site_rules
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.protocols import (
    default_protocol_text,
    protocol_text,
    read_default_protocol,
    read_demo_protocol,
)
from sidelong.problems import Refused
from sidelong.training.ladder import Ladder

NOW = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
LADDER = Path(str(files("sidelong.exchange") / "demo_ladder.csv"))


@pytest.fixture
def lead(make_staff: Callable[..., Any]) -> Any:
    return make_staff(Role.LEAD)


def next_version(version: str) -> Any:
    """The same protocol under another version, signed anew."""
    protocol = read_demo_protocol()
    unsigned = replace(protocol, version=version, signatures=(), positions=protocol.positions[:4])
    signatures = tuple(
        replace(each, fingerprint=unsigned.fingerprint) for each in protocol.signatures
    )
    return replace(unsigned, signatures=signatures)


def test_a_protocol_reads_back_as_the_same_value(lead: Any) -> None:
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    row = ProtocolVersion.objects.get()
    assert protocol_of(row.text) == read_demo_protocol()
    assert row.fingerprint == read_demo_protocol().fingerprint
    assert known_sites(seen_by=lead) == ("demo",)


def test_a_ladder_reads_back_as_the_same_value(lead: Any) -> None:
    ladder = read_ladder(LADDER)
    assert ladder_of(ladder_text(ladder)) == ladder
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    assert take_up_ladder(site="demo", ladder=ladder, now=NOW, by=lead) == 1
    assert site_rules("demo", seen_by=lead).ladder == ladder


def test_a_damaged_ladder_is_refused() -> None:
    text = ladder_text(read_ladder(LADDER)).replace("length_mm", "lenght_mm")
    with pytest.raises(Refused, match="lenght_mm"):
        ladder_of(text)


def test_the_last_one_taken_up_holds_and_the_others_stay(lead: Any) -> None:
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    take_up_protocol(protocol=next_version("demo 2"), now=NOW, by=lead)
    rules = site_rules("demo", seen_by=lead)
    assert (rules.protocol.version, rules.n_before, rules.ladder) == ("demo 2", 1, None)
    assert ProtocolVersion.objects.count() == 2


def test_a_version_names_one_text(lead: Any) -> None:
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    with pytest.raises(Refused, match="on record already"):
        take_up_protocol(protocol=next_version("demo 1"), now=NOW, by=lead)


def test_a_draft_is_not_taken_up(lead: Any) -> None:
    with pytest.raises(Refused, match="nobody has signed it"):
        take_up_protocol(protocol=read_default_protocol(), now=NOW, by=lead)


def test_a_ladder_needs_a_protocol_and_something_new(lead: Any) -> None:
    ladder = read_ladder(LADDER)
    with pytest.raises(Refused, match="no protocol"):
        take_up_ladder(site="demo", ladder=ladder, now=NOW, by=lead)
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    take_up_ladder(site="demo", ladder=ladder, now=NOW, by=lead)
    with pytest.raises(Refused, match="in use already"):
        take_up_ladder(site="demo", ladder=ladder, now=NOW, by=lead)
    shorter = Ladder(ladder.steps[:3])
    assert take_up_ladder(site="demo", ladder=shorter, now=NOW, by=lead) == 2


def test_documents_that_were_in_use_are_never_changed(lead: Any) -> None:
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    with pytest.raises(OutsideActError):
        ProtocolVersion.objects.update(text="")
    with pytest.raises(OutsideActError):
        ProtocolVersion.objects.all().delete()
    assert not LadderVersion.objects.exists()


def test_the_trail_keeps_the_fingerprint(lead: Any) -> None:
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    link = next(links_about("site:demo"))
    assert (link.verb, link.actor) == ("protocol taken up", lead.audit_key)
    assert read_demo_protocol().fingerprint in link.detail


def test_a_coach_takes_nothing_up(coach: Any) -> None:
    with pytest.raises(NotPermitted, match="take a protocol"):
        take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=coach)


def test_a_lead_takes_both_documents_up_in_the_browser(
    lead: Any, signed_in: Callable[[Any], Any]
) -> None:
    browser = signed_in(lead)
    assert "No protocol is in use yet." in browser.get(reverse("protocols")).content.decode()
    signed = protocol_text(read_demo_protocol()).encode("utf-8")
    sent = {"file": SimpleUploadedFile("ours.toml", signed)}
    page = browser.post(reverse("new_protocol"), sent, follow=True).content.decode()
    assert "Protocol demo 1 is in use at demo." in page
    sent = {"file": SimpleUploadedFile("ladder.csv", LADDER.read_bytes())}
    page = browser.post(reverse("new_ladder", args=["demo"]), sent, follow=True).content.decode()
    assert "Ladder 1 is in use at demo." in page
    assert "ball, 3\u00a0mm (bead-3)" in page


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (default_protocol_text().encode("utf-8"), "nobody has signed it"),
        (b"not = [toml", "it is not TOML"),
        (b"format = 1\nsite = 3\n", "ours.toml, site"),
    ],
)
def test_a_faulty_protocol_is_shown_with_every_fault(
    content: bytes, said: str, lead: Any, signed_in: Callable[[Any], Any]
) -> None:
    sent = {"file": SimpleUploadedFile("ours.toml", content)}
    answer = signed_in(lead).post(reverse("new_protocol"), sent)
    assert answer.status_code == 400
    assert said in answer.content.decode()
    assert not ProtocolVersion.objects.exists()


def test_a_faulty_ladder_names_its_rows(lead: Any, signed_in: Callable[[Any], Any]) -> None:
    take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=lead)
    sent = {
        "file": SimpleUploadedFile("pieces.csv", b"step,piece,length_mm,shape\n1,a,-3,sphere\n")
    }
    answer = signed_in(lead).post(reverse("new_ladder", args=["demo"]), sent)
    assert "pieces.csv, row 2, length_mm" in answer.content.decode()
    assert not LadderVersion.objects.exists()


def test_a_file_that_is_far_too_large_is_refused(
    lead: Any, signed_in: Callable[[Any], Any]
) -> None:
    sent = {"file": SimpleUploadedFile("big.toml", b"#" * (2 * 1024 * 1024 + 1))}
    page = signed_in(lead).post(reverse("new_protocol"), sent).content.decode()
    assert "larger than 2 MB" in page
