"""Who somebody is, as a value."""

import hashlib
import hmac
from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sidelong.clinic.identities.identity import COLUMNS, Identity, from_texts, to_text
from sidelong.clinic.identities.index import birth_token, tokens_of, word_token, words_of
from sidelong.clinic.keys import Purpose, make_ring
from sidelong.clinic.sealing import framed
from sidelong.problems import Refused

KEY = make_ring(today=date(2026, 11, 25), draw=lambda n: b"k" * n).newest(Purpose.INDEX)
WHO = Identity("Inventia", "Madeup", date(2016, 2, 29))


@pytest.mark.parametrize(
    ("today", "years"),
    [
        (date(2016, 2, 29), 0),
        (date(2017, 2, 28), 0),
        (date(2017, 3, 1), 1),
        (date(2020, 2, 28), 3),
        (date(2020, 2, 29), 4),
        (date(2026, 11, 25), 10),
    ],
)
def test_years_are_counted_by_birthdays(today: date, years: int) -> None:
    assert WHO.completed_years(today) == years


def test_an_identity_shows_nothing_of_itself_by_accident() -> None:
    assert repr(WHO) == f"{WHO}" == "Identity(...)"
    assert WHO.full_name == "Inventia Madeup"


@pytest.mark.parametrize(("given", "family"), [("", "Madeup"), ("Inventia", " ")])
def test_a_name_has_two_parts_and_the_refusal_repeats_neither(given: str, family: str) -> None:
    with pytest.raises(Refused) as refusal:
        Identity(given, family, date(2016, 2, 29))
    assert "Madeup" not in str(refusal.value)
    assert "Inventia" not in str(refusal.value)


@given(st.text(min_size=1).filter(str.strip), st.dates(), st.text())
def test_texts_for_sealing_give_the_same_identity_back(name: str, born: date, address: str) -> None:
    identity = Identity(name, name, born, address=address)
    assert from_texts({column: to_text(identity, column) for column in COLUMNS}) == identity


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Zoë", {"zoe"}),
        ("O'Neverbeen", {"o", "neverbeen"}),
        ("Anna-Lena  Nobody", {"anna", "lena", "nobody"}),
        ("STRASSE straße", {"strasse"}),
        ("ﬁctor", {"fictor"}),
        ("𝙰da", {"ada"}),
        ("فلانة", {"فلانة"}),
        ("", set()),
    ],
)
def test_names_are_compared_without_case_and_accents(name: str, expected: set[str]) -> None:
    assert words_of(name) == expected


@given(st.text())
@example("𝙰")
@example("ϓ")
def test_words_compared_twice_stay_the_same(name: str) -> None:
    words = words_of(name)
    assert words_of(" ".join(words)) == words


def test_a_token_is_the_keyed_hash_of_its_description() -> None:
    content = framed(b"sidelong blind index", b"word", b"madeup")
    assert word_token("madeup", key=KEY) == hmac.new(b"k" * 32, content, hashlib.sha256).hexdigest()


def test_a_birth_date_is_no_word() -> None:
    assert birth_token(date(2016, 2, 29), key=KEY) != word_token("2016-02-29", key=KEY)


def test_everybody_has_a_token_for_every_word_and_the_birth_date() -> None:
    who = Identity("Inventia", "Madeup", date(2016, 2, 29), supporter_name="Fictor Madeup")
    words = {word_token(word, key=KEY) for word in ("inventia", "madeup", "fictor")}
    assert tokens_of(who, key=KEY) == words | {birth_token(date(2016, 2, 29), key=KEY)}
