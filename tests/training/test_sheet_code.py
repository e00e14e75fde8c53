"""The text of the QR codes and the numbers of the markers: what is found, and what never passes."""

import itertools
import random
import string
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.training.entry import Scale
from sidelong.training.position import ALL_POSITIONS, Position
from sidelong.training.sheet_code import (
    FIELD,
    N_KEYS,
    N_PLACES,
    N_TELLING,
    SheetCode,
    booklet_key,
    booklet_keys,
    marker_ids,
    read_payload,
    recognise_markers,
    write_payload,
)

# ISO/IEC 18004: the characters of the alphanumeric mode.
ALPHANUMERIC = string.digits + string.ascii_uppercase + " $%*+-./:"
CODE = SheetCode("HL-0007", 1, 2, 4, ALL_POSITIONS[1:], "en", Scale.FOUR)

trainees = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True)
orders = st.permutations(ALL_POSITIONS).flatmap(
    lambda order: st.integers(1, 5).map(lambda n: tuple(order[:n]))
)
codes = st.builds(
    SheetCode,
    trainee=trainees,
    course=st.integers(1, 99),
    version=st.integers(1, 99),
    night=st.integers(0, 96),
    order=orders,
    language=st.sampled_from(["en", "ar", "pt-BR", "zh-Hant", "en-XA"]),
    scale=st.sampled_from([*Scale, None]),
    part=st.integers(0, 2),
    booklet=st.integers(1, 99),
)
nights, keys = st.integers(0, FIELD - 1), st.integers(0, N_KEYS - 1)


# The text


@given(codes)
def test_a_payload_is_read_as_it_was_written_and_fits_the_alphanumeric_mode(code):
    text = write_payload(code)
    assert read_payload(text) == code
    assert set(text) <= set(ALPHANUMERIC)


def test_the_code_of_a_first_booklet_says_what_it_said_before_booklets_were_numbered():
    assert write_payload(CODE).startswith("S1:HL-0007:1:2:4:4")
    again = write_payload(replace(CODE, booklet=2))
    assert again.startswith("S1:HL-0007:1:2.2:4:4")
    assert read_payload(again).booklet == 2


def test_the_check_is_the_published_crc():
    # Catalogue of parametrised CRC algorithms, CRC-16/IBM-3740: "123456789" gives 29B1.
    from sidelong.training.sheet_code import _check

    assert _check("123456789") == "29B1"


def test_a_usual_payload_fits_the_second_smallest_qr_code():
    # ISO/IEC 18004, table of capacities: version 2 at level M holds 38 alphanumeric characters.
    longest = SheetCode("HARBOUR-0007", 1, 1, 14, ALL_POSITIONS, "en")
    assert len(write_payload(longest)) <= 38


def test_every_single_wrong_character_is_found():
    text = write_payload(CODE)
    for place, char in itertools.product(range(len(text)), ALPHANUMERIC):
        if char != text[place]:
            with pytest.raises(ValueError, match=r"."):
                read_payload(text[:place] + char + text[place + 1 :])


def test_every_swap_of_neighbours_and_every_lost_character_is_found():
    text = write_payload(CODE)
    for place in range(len(text)):
        swapped = text[:place] + text[place : place + 2][::-1] + text[place + 2 :]
        for wrong in (text[:place] + text[place + 1 :], swapped):
            if wrong != text:
                with pytest.raises(ValueError, match=r"."):
                    read_payload(wrong)


def test_of_texts_with_several_wrong_characters_hardly_any_passes():
    rng, text, passed = random.Random(5), write_payload(CODE), 0
    for _ in range(20_000):
        chars = list(text)
        for place in rng.sample(range(3, len(text)), rng.randint(3, 6)):
            chars[place] = rng.choice(ALPHANUMERIC)
        try:
            passed += read_payload("".join(chars)) != CODE
        except ValueError:
            continue
    assert passed <= 2  # 20,000 / 65,536 at most are expected


@given(st.text(max_size=60))
def test_a_text_of_somebody_else_is_refused_and_never_read(text):
    with pytest.raises(ValueError, match=r"."):
        read_payload(text)


def test_a_later_version_of_the_text_is_refused_as_such():
    with pytest.raises(ValueError, match="another version"):
        read_payload(write_payload(CODE).replace("S1", "S2", 1))


def test_what_is_no_code_cannot_be_put_on_a_sheet():
    for trainee in ("", "Jo Bloggs", "a:b", "ä"):
        with pytest.raises(ValueError, match="code"):
            SheetCode(trainee, 1, 1, 1, (Position.LEFT,), "en")
    for night in (-1, 97):
        with pytest.raises(ValueError, match="night"):
            SheetCode("T-1", 1, 1, night, (Position.LEFT,), "en")


# The markers


def test_any_two_pages_differ_in_at_least_four_markers():
    """Reed-Solomon codes reach the Singleton bound: distance n - k + 1 = 6 - 3 + 1 = 4.

    The code is linear over the field, so its distance is the least weight of a word that is not
    zero: all 97^3 - 1 of them are tried, written out without the module's own arithmetic.
    """
    least = N_PLACES
    powers = [(1, x, x * x) for x in range(1, N_PLACES + 1)]
    for b in range(FIELD):
        for a in range(FIELD):
            at = [(a * x + b * xx) % FIELD for _, x, xx in powers]
            # Adding the night shifts all symbols alike: count how many can be zero at once.
            zeros = max(at.count(value) for value in set(at))
            if a or b:
                least = min(least, N_PLACES - zeros)
    assert least == N_PLACES - N_TELLING + 1 == 4


def test_every_marker_exists_in_the_family_and_tells_its_place():
    seen = set()
    for night in range(FIELD):
        for key in range(0, N_KEYS, 389):
            ids = marker_ids(night, key)
            assert [number % N_PLACES for number in ids] == list(range(N_PLACES))
            seen |= set(ids)
    assert seen <= set(range(587))
    assert len(seen) == FIELD * N_PLACES


@given(nights, keys, st.sets(st.integers(0, 5), min_size=3))
def test_any_three_markers_tell_the_page(night, key, places):
    ids = marker_ids(night, key)
    assert recognise_markers(ids[place] for place in places) == (night, key)


@given(nights, keys, st.sets(st.integers(0, 5), max_size=2))
def test_fewer_than_three_markers_tell_nothing(night, key, places):
    ids = marker_ids(night, key)
    assert recognise_markers([ids[place] for place in places]) is None


@given(st.data(), nights, keys)
def test_up_to_as_many_wrong_markers_as_there_are_checks_are_found(data, night, key):
    places = sorted(data.draw(st.sets(st.integers(0, 5), min_size=4)))
    n_wrong = data.draw(st.integers(1, len(places) - 3))
    ids = {place: marker_ids(night, key)[place] for place in places}
    for place in data.draw(st.permutations(places))[:n_wrong]:
        shift = data.draw(st.integers(1, FIELD - 1))
        ids[place] = place + 6 * ((ids[place] // 6 + shift) % FIELD)
    assert recognise_markers(ids.values()) is None


@given(nights, keys, nights, keys, st.permutations(range(6)), st.integers(1, 3))
def test_three_markers_of_a_page_with_some_of_another_never_look_like_a_third(
    night, key, other_night, other_key, places, n_more
):
    one, two = marker_ids(night, key), marker_ids(other_night, other_key)
    ids = [one[p] for p in places[:3]] + [two[p] for p in places[3 : 3 + n_more]]
    assert recognise_markers(ids) in (None, (night, key), (other_night, other_key))
    if n_more == 3 and (night, key) != (other_night, other_key):
        assert recognise_markers(ids) is None


@given(nights, nights, keys)
def test_two_nights_of_a_booklet_share_no_marker(one, two, key):
    if one != two:
        assert not set(marker_ids(one, key)) & set(marker_ids(two, key))


@given(nights, keys, keys)
def test_the_same_night_of_two_booklets_shares_at_most_one_marker(night, one, two):
    if one != two:
        assert len(set(marker_ids(night, one)) & set(marker_ids(night, two))) <= 1


def test_two_markers_at_one_place_or_a_strange_one_tell_nothing():
    ids = marker_ids(4, 1000)
    assert recognise_markers([*ids, ids[0] + 6]) is None
    assert recognise_markers([*ids[:5], 586]) is None
    assert recognise_markers([*ids, *ids]) == (4, 1000)


def test_booklets_of_a_table_never_share_a_number_and_keep_theirs_when_some_are_added():
    booklets = [(f"T-{number:04d}", 1, 1) for number in range(2000)]
    chosen = booklet_keys(booklets)
    assert len(set(chosen)) == 2000
    assert booklet_keys(booklets[:500]) == chosen[:500]
    firsts = [booklet_key(*booklet) for booklet in booklets]
    assert len(set(firsts)) < 2000, "without a second attempt some would share one"


def test_the_number_of_a_booklet_is_the_same_on_every_machine():
    # SHA-256 of "HL-0007\n1\n1\n0", its first 8 bytes as a number, modulo 97^2; computed with
    # coreutils: printf 'HL-0007\n1\n1\n0' | sha256sum
    assert booklet_key("HL-0007", 1, 1) == int("a6d03a0f72ab0786", 16) % 97**2
