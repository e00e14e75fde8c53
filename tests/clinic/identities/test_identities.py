"""Names, birth dates and contacts: sealed, found, read, turned and erased."""

from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

import pytest
from django.db import connection

from sidelong.clinic.accounts.people import NotPermitted, Operator
from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit import acts
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.queries import links_about
from sidelong.clinic.identities.actions import (
    change_identity,
    erase_identity,
    record_identity,
    reseal_identities,
)
from sidelong.clinic.identities.identity import COLUMNS, Identity
from sidelong.clinic.identities.models import IndexToken, SealedIdentity
from sidelong.clinic.identities.queries import find_by_name, read_identities
from sidelong.clinic.identities.vault import is_up_to_date, place_of
from sidelong.clinic.keys import KeyRing, Purpose
from sidelong.clinic.sealing import sealed_with
from sidelong.problems import Refused

BORN = date(2018, 2, 3)
FULL = Identity(
    given_names="Inventia Zoë",
    family_name="Madeup-Størm",
    birth_date=BORN,
    supporter_name="Fictor Madeup",
    phone="000 0000",
    email="inventia@clinic.example",
    address="1 Nowhere Lane",
)
OTHER = Identity("Inventio", "Feigned", date(2017, 5, 6))


@pytest.fixture
def lead(make_staff: Callable[..., Any]) -> Any:
    return make_staff(Role.LEAD)


@pytest.fixture
def kept(lead: Any) -> Any:
    record_identity(code="HL-7K3PX", identity=FULL, by=lead)
    record_identity(code="HL-9CCCC", identity=OTHER, by=lead)
    return lead


@pytest.fixture
def keep_ring(settings: Any) -> Iterator[Callable[[KeyRing], None]]:
    """Put other keys on the ring, and the first ones back at the end."""
    first = settings.INSTALLATION.key_ring()
    yield settings.INSTALLATION.keep_key_ring
    settings.INSTALLATION.keep_key_ring(first)


def test_an_identity_comes_back_as_it_was_kept(kept: Any) -> None:
    found = read_identities(["HL-7K3PX", "HL-22222"], seen_by=kept)
    assert found == {"HL-7K3PX": FULL}


def test_nothing_of_an_identity_lies_open_in_its_table(kept: Any) -> None:
    row = SealedIdentity.objects.get(code="HL-7K3PX")
    for column in COLUMNS:
        sealed = bytes(getattr(row, column))
        assert sealed_with(sealed, place=place_of(row.code, column)) == "names-1"
        text = str(getattr(FULL, column)).encode("utf-8")
        assert text not in sealed


def test_a_name_copied_into_another_row_does_not_open(kept: Any) -> None:
    row = SealedIdentity.objects.get(code="HL-7K3PX")
    with act("a copy", by=Operator(), subject="x"):
        SealedIdentity.objects.filter(code="HL-9CCCC").update(family_name=row.family_name)
    with pytest.raises(Refused, match=r"HL-9CCCC, family_name: .*changed or moved") as refusal:
        read_identities(["HL-9CCCC"], seen_by=kept)
    assert "Madeup" not in str(refusal.value)


def test_a_name_copied_into_another_column_does_not_open(kept: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute("UPDATE identities_sealedidentity SET family_name = given_names")
    with pytest.raises(Refused, match="changed or moved"):
        read_identities(["HL-7K3PX"], seen_by=kept)


def test_a_plain_name_never_reaches_its_column(lead: Any) -> None:
    with (
        pytest.raises(Refused, match="does not hold a sealed value"),
        act("a mistake", by=lead, subject="x"),
    ):
        SealedIdentity(code="HL-7K3PX", family_name=b"Madeup").save()


def test_reading_is_recorded_with_reader_and_codes(kept: Any) -> None:
    read_identities(["HL-7K3PX"], seen_by=kept)
    read_identities(["HL-7K3PX", "HL-9CCCC"], seen_by=kept)
    one = list(links_about("trainee:HL-7K3PX"))[-1]
    many = list(links_about("identities"))[-1]
    assert (one.actor, one.verb) == (kept.audit_key, "identity read")
    assert many.detail == '{"codes":["HL-7K3PX","HL-9CCCC"]}'


def test_a_name_is_not_read_when_the_reading_cannot_be_recorded(
    kept: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: Any) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(acts, "append", fail)
    with pytest.raises(OSError, match="no space"):
        read_identities(["HL-7K3PX"], seen_by=kept)
    with pytest.raises(OSError, match="no space"):
        find_by_name("madeup", seen_by=kept)


@pytest.mark.parametrize(
    ("words", "born", "expected"),
    [
        ("madeup", None, ("HL-7K3PX",)),
        ("MADEUP størm", None, ("HL-7K3PX",)),
        ("Zoe", None, ("HL-7K3PX",)),
        ("inventia madeup", BORN, ("HL-7K3PX",)),
        ("fictor", None, ("HL-7K3PX",)),
        ("", date(2017, 5, 6), ("HL-9CCCC",)),
        ("inventia", date(2017, 5, 6), ()),
        ("made", None, ()),
        ("feigned inventia", None, ()),
    ],
)
def test_somebody_is_found_by_whole_words_and_birth_date(
    words: str, born: date | None, expected: tuple[str, ...], kept: Any
) -> None:
    assert find_by_name(words, born=born, seen_by=kept) == expected


def test_a_search_is_recorded_by_what_it_found_and_not_by_its_words(kept: Any) -> None:
    find_by_name("Madeup", seen_by=kept)
    link = list(links_about("identities"))[-1]
    assert (link.verb, link.detail) == ("identities searched", '{"codes":["HL-7K3PX"]}')


@pytest.mark.parametrize("words", ["", "  ", "-!-"])
def test_an_empty_search_is_refused(words: str, lead: Any) -> None:
    with pytest.raises(Refused, match="nothing to look for"):
        find_by_name(words, seen_by=lead)


@pytest.mark.parametrize("role", [Role.ANALYST, Role.ADMINISTRATOR])
def test_names_are_not_shown_to_those_who_work_without_them(
    role: Role, make_staff: Callable[..., Any]
) -> None:
    reader = make_staff(role)
    with pytest.raises(NotPermitted):
        read_identities(["HL-7K3PX"], seen_by=reader)
    with pytest.raises(NotPermitted):
        find_by_name("madeup", seen_by=reader)


def test_a_correction_says_which_fields_and_takes_over_the_index(kept: Any) -> None:
    corrected = Identity("Inventia", "Newname", BORN, phone="111")
    change_identity(code="HL-7K3PX", identity=corrected, reason="moved", by=kept)
    link = list(links_about("trainee:HL-7K3PX"))[-1]
    assert read_identities(["HL-7K3PX"], seen_by=kept) == {"HL-7K3PX": corrected}
    assert find_by_name("madeup", seen_by=kept) == ()
    assert find_by_name("newname", seen_by=kept) == ("HL-7K3PX",)
    assert "family_name" in link.detail
    assert "Newname" not in link.detail


def test_an_erased_identity_is_gone_with_its_index(kept: Any) -> None:
    erase_identity(code="HL-7K3PX", reason="asked for", by=kept)
    assert read_identities(["HL-7K3PX"], seen_by=kept) == {}
    assert find_by_name("madeup", seen_by=kept) == ()
    assert not IndexToken.objects.filter(identity="HL-7K3PX").exists()


def test_there_is_nothing_to_change_or_erase_under_an_unknown_code(lead: Any) -> None:
    with pytest.raises(Refused, match="none is kept"):
        erase_identity(code="HL-22222", reason="asked for", by=lead)
    with pytest.raises(Refused, match="none is kept"):
        change_identity(code="HL-22222", identity=OTHER, reason="moved", by=lead)


def test_an_identity_is_recorded_once(kept: Any) -> None:
    with pytest.raises(Refused, match="kept already"):
        record_identity(code="HL-7K3PX", identity=OTHER, by=kept)


def test_keys_are_turned_row_by_row_and_nobody_is_lost_in_between(
    kept: Any, administrator: Any, settings: Any, keep_ring: Callable[[KeyRing], None]
) -> None:
    ring = settings.INSTALLATION.key_ring()
    for purpose in (Purpose.NAMES, Purpose.INDEX):
        ring = ring.with_new_key(purpose, today=BORN, draw=lambda n: b"t" * n)
    keep_ring(ring)
    change_identity(code="HL-7K3PX", identity=FULL, reason="checked", by=kept)
    assert find_by_name("madeup", seen_by=kept) == ("HL-7K3PX",)
    assert find_by_name("feigned", seen_by=kept) == ("HL-9CCCC",), "still under the old key"

    assert reseal_identities(by=administrator) == 1
    assert reseal_identities(by=administrator) == 0
    keep_ring(ring.without("names-1").without("index-1"))
    assert read_identities(["HL-7K3PX", "HL-9CCCC"], seen_by=kept) == {
        "HL-7K3PX": FULL,
        "HL-9CCCC": OTHER,
    }
    assert find_by_name("feigned", seen_by=kept) == ("HL-9CCCC",)


def test_turning_keys_may_be_stopped_and_begun_again(
    kept: Any,
    administrator: Any,
    settings: Any,
    keep_ring: Callable[[KeyRing], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from sidelong.clinic.identities import actions

    monkeypatch.setattr(actions, "_ROWS_IN_AN_ACT", 1)
    ring = settings.INSTALLATION.key_ring().with_new_key(
        Purpose.NAMES, today=BORN, draw=lambda n: b"t" * n
    )
    keep_ring(ring)
    store, n_stored = actions.store, 0

    def dies_at_the_second(*args: Any, **kwargs: Any) -> None:
        nonlocal n_stored
        n_stored += 1
        if n_stored == 2:
            raise KeyboardInterrupt
        store(*args, **kwargs)

    monkeypatch.setattr(actions, "store", dies_at_the_second)
    with pytest.raises(KeyboardInterrupt):
        reseal_identities(by=administrator)
    rows = {row.code: is_up_to_date(row, ring=ring) for row in SealedIdentity.objects.all()}
    assert rows == {"HL-7K3PX": True, "HL-9CCCC": False}
    assert len(read_identities(list(rows), seen_by=kept)) == 2
    monkeypatch.setattr(actions, "store", store)
    assert reseal_identities(by=administrator) == 1


def test_without_its_key_an_identity_is_noise(
    kept: Any, settings: Any, keep_ring: Callable[[KeyRing], None]
) -> None:
    ring = settings.INSTALLATION.key_ring()
    other = ring.with_new_key(Purpose.NAMES, today=BORN, draw=lambda n: b"t" * n)
    keep_ring(other.without("names-1"))
    with pytest.raises(Refused, match="names-1"):
        read_identities(["HL-7K3PX"], seen_by=kept)
