"""Sealing, against published vectors and against whoever moves a sealed value."""

from dataclasses import replace
from datetime import date

import pytest
from cryptography.exceptions import InvalidTag
from hypothesis import given
from hypothesis import strategies as st

from sidelong.clinic.keys import Key, KeyRing, Purpose, make_ring
from sidelong.clinic.sealing import Place, decrypt, encrypt, framed, seal, sealed_with, unseal
from sidelong.problems import Refused

RING = make_ring(today=date(2026, 11, 25), draw=lambda n: bytes(n))
KEY = RING.newest(Purpose.NAMES)
PLACE = Place("identity", "family_name", "HL-7K3PX")

# AES-256-GCM with 96-bit nonce and 128-bit tag. Cases 13 to 16: McGrew and Viega, "The
# Galois/Counter Mode of Operation (GCM)", appendix B, the specification that NIST published among
# its proposed modes and took over as SP 800-38D. Last: NIST CAVP, gcmEncryptExtIV256.rsp, Keylen
# 256, IVlen 96, PTlen 128, AADlen 0, Taglen 128, Count 0. Read in published copies.
ZERO = "00" * 32
K = "feffe9928665731c6d6a8f9467308308" * 2
N = "cafebabefacedbaddecaf888"
P = (
    "d9313225f88406e5a55909c5aff5269a86a7a9531534f7da2e4c303d8a318a72"
    "1c3c0c95956809532fcf0e2449a6b525b16aedf5aa0de657ba637b391aafd255"
)
C = (
    "522dc1f099567d07f47f37a32a84427d643a8cdcbfe5c0c97598a2bd2555d1aa"
    "8cb08e48590dbb3da7b08b1056828838c5f61e6393ba7a0abcc9f662898015ad"
)
VECTORS = {
    "case 13": (ZERO, "00" * 12, "", "", "", "530f8afbc74536b9a963b4f1c4cb738b"),
    "case 14": (
        ZERO,
        "00" * 12,
        "00" * 16,
        "",
        "cea7403d4d606b6e074ec5d3baf39d18",
        "d0d1c8a799996bf0265b98b5d48ab919",
    ),
    "case 15": (K, N, P, "", C, "b094dac5d93471bdec1a502270e3cc6c"),
    "case 16": (
        K,
        N,
        P[:120],
        "feedfacedeadbeeffeedfacedeadbeefabaddad2",
        C[:120],
        "76fc6ece0f4e1768cddf8853bb2d551b",
    ),
    "CAVP count 0": (
        "31bdadd96698c204aa9ce1448ea94ae1fb4a9a0b3c9d773b51bb1822666b8f22",
        "0d18e06c7c725ac9e362e1ce",
        "2db5168e932556f8089a0622981d017d",
        "",
        "fa4362189661d163fcd6a56d8bf0405a",
        "d636ac1bbedd5cc3ee727dc2ab4a9489",
    ),
}


@pytest.mark.parametrize("vector", VECTORS.values(), ids=VECTORS)
def test_cipher_agrees_with_the_published_vector(vector: tuple[str, ...]) -> None:
    secret, nonce, plain, bound, cipher, tag = map(bytes.fromhex, vector)
    assert encrypt(plain, secret=secret, nonce=nonce, bound=bound) == cipher + tag
    assert decrypt(cipher + tag, secret=secret, nonce=nonce, bound=bound) == plain


@pytest.mark.parametrize("vector", VECTORS.values(), ids=VECTORS)
def test_cipher_refuses_the_published_vector_with_one_bit_changed(vector: tuple[str, ...]) -> None:
    secret, nonce, _plain, bound, cipher, tag = map(bytes.fromhex, vector)
    hidden = bytearray(cipher + tag)
    hidden[-1] ^= 1
    with pytest.raises(InvalidTag):
        decrypt(bytes(hidden), secret=secret, nonce=nonce, bound=bound)


@given(st.binary(max_size=300))
def test_what_was_sealed_opens_in_its_place(plain: bytes) -> None:
    sealed = seal(plain, key=KEY, place=PLACE)
    assert unseal(sealed, ring=RING, purpose=Purpose.NAMES, place=PLACE) == plain


@pytest.mark.parametrize(
    "elsewhere",
    [
        replace(PLACE, row="HL-7K3PY"),
        replace(PLACE, column="given_names"),
        replace(PLACE, table="other"),
    ],
    ids=["row", "column", "table"],
)
def test_a_value_moved_to_another_place_does_not_open(elsewhere: Place) -> None:
    sealed = seal(b"Inventia", key=KEY, place=PLACE)
    with pytest.raises(Refused, match="changed or moved"):
        unseal(sealed, ring=RING, purpose=Purpose.NAMES, place=elsewhere)


def test_no_byte_of_a_sealed_value_can_be_changed() -> None:
    sealed = seal(b"Inventia", key=KEY, place=PLACE)
    for place in range(len(sealed)):
        changed = bytearray(sealed)
        changed[place] ^= 1
        with pytest.raises(Refused):
            unseal(bytes(changed), ring=RING, purpose=Purpose.NAMES, place=PLACE)


def test_no_cut_of_a_sealed_value_opens() -> None:
    sealed = seal(b"Inventia", key=KEY, place=PLACE)
    for length in range(len(sealed)):
        with pytest.raises(Refused):
            unseal(sealed[:length], ring=RING, purpose=Purpose.NAMES, place=PLACE)


def test_the_same_text_never_seals_to_the_same_bytes() -> None:
    assert len({seal(b"Inventia", key=KEY, place=PLACE) for _ in range(1000)}) == 1000


def test_an_older_key_still_opens_what_it_sealed() -> None:
    sealed = seal(b"Inventia", key=KEY, place=PLACE)
    day = date(2027, 1, 1)
    turned = RING.with_new_key(Purpose.NAMES, today=day, draw=lambda n: b"2" * n)
    assert sealed_with(sealed, place=PLACE) == "names-1"
    assert unseal(sealed, ring=turned, purpose=Purpose.NAMES, place=PLACE) == b"Inventia"


def test_a_value_of_another_purpose_does_not_open() -> None:
    sealed = seal(b"Inventia", key=RING.newest(Purpose.BACKUPS), place=PLACE)
    with pytest.raises(Refused, match="no key"):
        unseal(sealed, ring=RING, purpose=Purpose.NAMES, place=PLACE)


def test_a_key_of_the_same_name_with_another_secret_does_not_open() -> None:
    sealed = seal(b"Inventia", key=KEY, place=PLACE)
    other = Key(KEY.name, KEY.purpose, KEY.made, b"x" * 32)
    ring = KeyRing(tuple(other if key is KEY else key for key in RING.keys))
    with pytest.raises(Refused, match="changed or moved"):
        unseal(sealed, ring=ring, purpose=Purpose.NAMES, place=PLACE)


@given(st.lists(st.binary(max_size=5), max_size=4), st.lists(st.binary(max_size=5), max_size=4))
def test_two_different_lists_are_never_framed_alike(one: list[bytes], two: list[bytes]) -> None:
    assert (framed(*one) == framed(*two)) == (one == two)
