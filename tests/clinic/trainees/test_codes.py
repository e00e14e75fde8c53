"""Trainees' codes."""

import random
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidelong.clinic.trainees.codes import (
    ALPHABET,
    N_CODES,
    check_character,
    draw_code,
    is_code,
    tidy_code,
)

drawn_texts = st.text(alphabet=ALPHABET, min_size=4, max_size=4)


def test_the_alphabet_has_a_prime_number_of_characters_each_once() -> None:
    n = len(ALPHABET)
    assert n == len(set(ALPHABET))
    assert all(n % divisor for divisor in range(2, n))
    assert N_CODES == 279841


def test_no_character_is_taken_for_another_and_none_makes_words() -> None:
    assert set(ALPHABET).isdisjoint("01AEIOULBGQSZ")


@given(drawn_texts)
def test_a_code_with_its_check_is_one(drawn: str) -> None:
    assert is_code(f"HL-{drawn}{check_character(drawn)}")


@given(drawn_texts, st.integers(0, 4), st.sampled_from(ALPHABET))
def test_every_single_wrong_character_is_found(drawn: str, place: int, wrong: str) -> None:
    code = drawn + check_character(drawn)
    slipped = code[:place] + wrong + code[place + 1 :]
    assert is_code(f"HL-{slipped}") == (slipped == code)


@given(drawn_texts)
def test_every_exchange_of_two_characters_is_found(drawn: str) -> None:
    code = drawn + check_character(drawn)
    for one, two in combinations(range(5), 2):
        swapped = list(code)
        swapped[one], swapped[two] = swapped[two], swapped[one]
        assert is_code(f"HL-{''.join(swapped)}") == (code[one] == code[two])


def test_drawn_codes_use_every_character_about_equally_often() -> None:
    """Chi-square over 23 characters, 40,000 draws; chance passes 60 less than once in 10,000."""
    n_codes = 10_000
    below = random.Random(20261125).randrange
    counts = dict.fromkeys(ALPHABET, 0)
    for _ in range(n_codes):
        for character in draw_code("HL", below=below)[3:7]:
            counts[character] += 1
    expected = 4 * n_codes / len(ALPHABET)
    assert sum((count - expected) ** 2 / expected for count in counts.values()) < 60


@pytest.mark.parametrize("typed", ["", "HL", "HL-", "hl-2222", "HL-22222X", "HL-0222X", "H-2222"])
def test_other_texts_are_no_codes(typed: str) -> None:
    assert not is_code(typed)


def test_a_code_is_recognised_in_small_letters_and_with_spaces_around() -> None:
    code = draw_code("HL", below=lambda n: n // 3)
    assert tidy_code(f"  {code.lower()} ") == code
