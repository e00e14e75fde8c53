"""Draws from a key: repeatable, fair, and tied to a commitment."""

import hashlib

import numpy as np
import pytest
from scipy import stats

from sidelong.designs import SecretDraws, commit_seed, key_from_seed

KEY = key_from_seed(1)


def draws(number: int = 0, *, purpose: str = "test", key: bytes = KEY) -> SecretDraws:
    return SecretDraws(key, stream="s", purpose=purpose, number=number)


def test_same_name_gives_the_same_draws_and_another_name_gives_others() -> None:
    def first_ten(source: SecretDraws) -> list[int]:
        return [source.below(1 << 32) for _ in range(10)]

    again = first_ten(draws())

    assert first_ten(draws()) == again
    assert first_ten(draws(1)) != again
    assert first_ten(draws(purpose="other")) != again
    assert first_ten(draws(key=key_from_seed(2))) != again


@pytest.mark.parametrize("bound", [2, 3, 5, 12])
def test_whole_numbers_are_drawn_equally_often(bound: int) -> None:
    source = draws(bound)
    counts = np.bincount([source.below(bound) for _ in range(20_000)], minlength=bound)
    assert stats.chisquare(counts).pvalue > 1e-4


def test_rejection_leaves_no_trace_of_the_remainder() -> None:
    # Three quarters of all words: a plain remainder would give the lower third twice as often.
    bound = 3 << 30
    source = draws()
    low = sum(source.below(bound) < 1 << 30 for _ in range(6_000))
    assert stats.binomtest(low, 6_000, 1 / 3).pvalue > 1e-4


def test_permutations_are_drawn_equally_often() -> None:
    source = draws()
    seen: dict[tuple[int, ...], int] = {}
    for _ in range(12_000):
        permutation = tuple(source.permutation(4).tolist())
        seen[permutation] = seen.get(permutation, 0) + 1

    assert len(seen) == 24
    assert stats.chisquare(list(seen.values())).pvalue > 1e-4


@pytest.mark.parametrize("bound", [0, -1, (1 << 32) + 1])
def test_impossible_bounds_are_refused(bound: int) -> None:
    with pytest.raises(ValueError, match="cannot draw below"):
        draws().below(bound)


def test_commitment_is_the_plain_hash_of_the_key() -> None:
    # SHA-256 of 32 zero bytes, as any other program gives it.
    assert commit_seed(bytes(32)) == (
        "66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925"
    )
    assert commit_seed(KEY) == hashlib.sha256(KEY).hexdigest()


def test_short_keys_are_refused() -> None:
    with pytest.raises(ValueError, match="31 bytes is too short"):
        commit_seed(bytes(31))
    with pytest.raises(ValueError, match="too short"):
        SecretDraws(b"", stream="s", purpose="p", number=0)


def test_numbers_make_different_keys_of_full_length() -> None:
    keys = {key_from_seed(seed) for seed in range(100)}
    assert len(keys) == 100
    assert {len(key) for key in keys} == {32}
