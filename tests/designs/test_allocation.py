"""Allocation of trainees who enrol one at a time: even, fair, concealed, repeatable."""

import hashlib
import itertools
from collections import Counter

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from sidelong.designs import (
    SUPPORTED_NIGHTS,
    Allocation,
    allocate_orders,
    base_plans,
    commit_seed,
    criteria_for,
    key_from_seed,
    measure_orders,
    replay_allocations,
    stream_label,
)
from sidelong.designs.base_arrays import BASE_ARRAYS

SIZES = list(itertools.product((2, 3, 4, 5), SUPPORTED_NIGHTS))
FORCED_GUESS = {n: sum(1 / k for k in range(1, n + 1)) / n for n in (2, 3, 4, 5)}


def stream_of(n_trainees: int, *, n: int, nights: int, seed: int = 1) -> NDArray[np.intp]:
    """Plans of a whole stream, shape (n_trainees, nights, n)."""
    key = key_from_seed(seed)
    label = f"stream {seed}"
    return np.array(
        [
            allocate_orders(key, stream=label, index=k, n_positions=n, n_nights=nights)
            for k in range(n_trainees)
        ]
    )


@pytest.mark.parametrize(("n", "nights"), SIZES)
@pytest.mark.parametrize("seed", [1, 2])
def test_cells_differ_by_at_most_one_whatever_the_number_enrolled(
    n: int, nights: int, seed: int
) -> None:
    plans = stream_of(70, n=n, nights=nights, seed=seed)
    counts = np.cumsum(plans[..., None] == np.arange(n), axis=0)
    assert np.ptp(counts, axis=-1).max() <= 1


@pytest.mark.parametrize(("n", "nights"), SIZES)
@pytest.mark.parametrize("seed", [1, 2])
def test_pooled_pairs_stay_even_whatever_the_number_enrolled(
    n: int, nights: int, seed: int
) -> None:
    plans = stream_of(70, n=n, nights=nights, seed=seed)
    pooled = np.zeros((n, n), dtype=int)
    worst = 0
    for plan in plans:
        np.add.at(pooled, (plan[:, :-1], plan[:, 1:]), 1)
        worst = max(worst, int(np.ptp(pooled[~np.eye(n, dtype=bool)])))
    assert worst <= (8 if nights == 7 else 6)


@pytest.mark.parametrize(("n", "nights"), SIZES)
def test_every_allocated_plan_keeps_to_every_criterion(n: int, nights: int) -> None:
    criteria = criteria_for(n, nights)
    for plan in stream_of(2 * n * (n - 1), n=n, nights=nights, seed=3):
        assert criteria.failures(measure_orders(plan)) == ()


@pytest.mark.parametrize("n", [4, 5])
@pytest.mark.parametrize("nights", [7, 14])
def test_no_plan_takes_more_than_a_twentieth_of_a_stream_of_forty(n: int, nights: int) -> None:
    uses: Counter = Counter()
    for enrolled, plan in enumerate(stream_of(360, n=n, nights=nights, seed=4), start=1):
        uses[plan.tobytes()] += 1
        if enrolled >= 40:
            assert max(uses.values()) <= 0.05 * enrolled


@pytest.mark.parametrize("n", [4, 5])
def test_a_plan_comes_back_only_after_all_base_plans_were_dealt(n: int) -> None:
    # This is what makes the twentieth certain: one copy per round of 12 blocks.
    per_round = 12 * n * (n - 1)
    plans = stream_of(per_round, n=n, nights=10, seed=5)
    assert len({plan.tobytes() for plan in plans}) == per_round


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_next_first_position_is_guessed_no_more_often_than_balance_forces(n: int) -> None:
    # The best guess that balance allows: a position not yet first in the group of n.
    n_streams, length = 150, n * (n - 1)
    rng = np.random.default_rng(n)
    right = 0
    for seed in range(n_streams):
        firsts = stream_of(length, n=n, nights=7, seed=1_000 + seed)[:, 0, 0].tolist()
        for k, first in enumerate(firsts):
            group = firsts[k - k % n : k]
            right += int(rng.choice([p for p in range(n) if p not in group])) == first
    n_guesses = n_streams * length
    expected = FORCED_GUESS[n]
    # Guesses within a stream are independent draws given the past: plain binomial variance bounds.
    error = np.sqrt(expected * (1 - expected) / n_guesses)
    assert abs(right / n_guesses - expected) < 4 * error


def test_forced_guess_rate_for_five_positions_is_the_stated_one() -> None:
    assert FORCED_GUESS[5] == pytest.approx(0.457, abs=5e-4)


def test_knowing_all_earlier_plans_does_not_help_to_guess_the_next() -> None:
    # A guesser who knows the table and every earlier plan can name the plans that are left in the
    # group. The next is any of them with equal chance: count its rank among them.
    n, ranks = 5, {2: np.zeros(3, dtype=int), 3: np.zeros(2, dtype=int)}
    for seed in range(600):
        plans = stream_of(20, n=n, nights=7, seed=5_000 + seed)
        for group in (5, 10, 15):
            for place, counts in ranks.items():
                left = sorted(int(p[0, 0]) for p in plans[group + place : group + n])
                counts[left.index(int(plans[group + place, 0, 0]))] += 1
    for counts in ranks.values():
        assert stats.chisquare(counts).pvalue > 1e-4


def test_first_plan_of_a_stream_is_any_relabelling_of_any_base_plan() -> None:
    plans = base_plans(5, 7)
    known = {np.argsort(plan[0])[plan].tobytes(): k for k, plan in enumerate(plans)}
    bases = np.zeros(len(plans), dtype=int)
    first_nights: Counter = Counter()
    for seed in range(6_000):
        plan = allocate_orders(key_from_seed(seed), stream="s", index=0, n_positions=5, n_nights=7)
        bases[known[np.argsort(plan[0])[plan].tobytes()]] += 1
        first_nights[tuple(plan[0].tolist())] += 1

    assert stats.chisquare(bases).pvalue > 1e-4
    assert len(first_nights) == 120
    assert stats.chisquare(list(first_nights.values())).pvalue > 1e-4


def test_any_index_can_be_drawn_on_its_own() -> None:
    in_turn = stream_of(50, n=5, nights=14, seed=6)
    alone = allocate_orders(
        key_from_seed(6), stream="stream 6", index=43, n_positions=5, n_nights=14
    )
    assert (in_turn[43] == alone).all()


def test_streams_and_keys_do_not_share_their_plans() -> None:
    def plans(seed: int, label: str) -> bytes:
        return b"".join(
            allocate_orders(
                key_from_seed(seed), stream=label, index=k, n_positions=5, n_nights=14
            ).tobytes()
            for k in range(5)
        )

    assert len({plans(1, "a"), plans(1, "b"), plans(2, "a"), plans(2, "b")}) == 4


def test_one_position_needs_no_draw() -> None:
    plan = allocate_orders(key_from_seed(1), stream="s", index=9, n_positions=1, n_nights=7)
    plan[0, 0] = 0  # the caller's own copy

    assert plan.tolist() == [[0]] * 7


def test_impossible_places_and_weak_keys_are_refused() -> None:
    with pytest.raises(ValueError, match="index -1"):
        allocate_orders(key_from_seed(1), stream="s", index=-1, n_positions=5, n_nights=14)
    with pytest.raises(ValueError, match="too short"):
        allocate_orders(b"secret", stream="s", index=0, n_positions=5, n_nights=14)
    with pytest.raises(ValueError, match="no plans"):
        allocate_orders(key_from_seed(1), stream="s", index=0, n_positions=5, n_nights=15)


# A second implementation, from the text of docs/method/orders.md alone.


def hmac_sha256(key: bytes, message: bytes) -> bytes:
    """RFC 2104 written out."""
    padded = (hashlib.sha256(key).digest() if len(key) > 64 else key).ljust(64, b"\0")
    inner = hashlib.sha256(bytes(b ^ 0x36 for b in padded) + message).digest()
    return hashlib.sha256(bytes(b ^ 0x5C for b in padded) + inner).digest()


def words(key: bytes, stream: str, purpose: str, number: int):
    for counter in itertools.count():
        text = f"sidelong-orders-1|{stream}|{purpose}|{number}|{counter}"
        block = hmac_sha256(key, text.encode("utf-8"))
        for k in range(8):
            yield int.from_bytes(block[4 * k : 4 * k + 4], "big")


def shuffled(source, size: int) -> list[int]:
    items = list(range(size))
    for i in reversed(range(1, size)):
        word = next(w for w in source if w < 2**32 // (i + 1) * (i + 1))
        j = word % (i + 1)
        items[i], items[j] = items[j], items[i]
    return items


def field_sum(a: int, b: int, n: int) -> int:
    return a ^ b if n == 4 else (a + b) % n


def field_product(a: int, b: int, n: int) -> int:
    if n != 4:
        return a * b % n
    product = (a if b & 1 else 0) ^ (a << 1 if b & 2 else 0)
    return product ^ 0b111 if product & 0b100 else product


def reference_plan(key: bytes, stream: str, index: int, n: int, nights: int) -> list[list[int]]:
    table = BASE_ARRAYS[n, nights]
    block, place = index // (n * (n - 1)), index % (n * (n - 1))
    deal = shuffled(words(key, stream, "deal", block // len(table)), len(table))
    base = table[deal[block % len(table)]].nights.split()
    source = words(key, stream, "block", block)
    labels = shuffled(source, n)
    multipliers = [m + 1 for m in shuffled(source, n - 1)]
    groups = [shuffled(source, n) for _ in range(n - 1)]
    a, b = multipliers[place // n], groups[place // n][place % n]
    return [[labels[field_sum(field_product(a, int(x), n), b, n)] for x in night] for night in base]


def test_reference_keyed_hash_gives_the_published_vector() -> None:
    # RFC 4231, test case 2.
    assert hmac_sha256(b"Jefe", b"what do ya want for nothing?").hex() == (
        "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    )


@pytest.mark.parametrize(("n", "nights"), SIZES)
def test_allocation_is_what_its_description_says(n: int, nights: int) -> None:
    key = key_from_seed(7)
    stream = stream_label(
        site="\u00e4|1", band="", positions=[str(p) for p in range(n)], n_nights=nights
    )
    for index in (0, 1, n, 3 * n + 1, 500):
        drawn = allocate_orders(key, stream=stream, index=index, n_positions=n, n_nights=nights)
        assert drawn.tolist() == reference_plan(key, stream, index, n, nights)


def recorded(seed: int, n_trainees: int) -> list[Allocation]:
    return [
        Allocation(f"stream {seed}", k, tuple(tuple(map(int, night)) for night in plan))
        for k, plan in enumerate(stream_of(n_trainees, n=5, nights=14, seed=seed))
    ]


def test_records_are_confirmed_when_the_key_is_published() -> None:
    key = key_from_seed(8)
    records = recorded(8, 25)
    assert replay_allocations(key, commitment=commit_seed(key), allocations=records) == ()


def test_a_changed_record_is_found() -> None:
    key = key_from_seed(8)
    records = recorded(8, 5)
    swapped = Allocation(records[3].stream, 3, records[4].orders)

    different = replay_allocations(
        key, commitment=commit_seed(key), allocations=[*records[:3], swapped, records[4]]
    )

    assert different == (swapped,)


def test_a_record_of_a_size_that_is_never_drawn_is_found() -> None:
    key = key_from_seed(8)
    short = Allocation("stream 8", 0, ((0, 1, 2),) * 3)
    assert replay_allocations(key, commitment=commit_seed(key), allocations=[short]) == (short,)


def test_another_key_than_the_committed_one_is_refused() -> None:
    with pytest.raises(ValueError, match="not the one"):
        replay_allocations(
            key_from_seed(9), commitment=commit_seed(key_from_seed(8)), allocations=recorded(8, 1)
        )


def test_impossible_records_are_refused() -> None:
    with pytest.raises(ValueError, match="index -1"):
        Allocation("s", -1, ((0, 1),))
    with pytest.raises(ValueError, match="once"):
        Allocation("s", 0, ((0, 0),))


# Plans that were handed out stay what they were. Made with this table by allocate_orders, key
# key_from_seed(20260114), site a, band younger, the first n positions in listed order; the second
# implementation above gives the same. Digits are positions, a word is a night.
GOLDEN = {
    (5, 14, 0): (
        "31402 40312 34210 01324 12043 23041 42130 23401 04321 41203 10234 03142 32014 24130"
    ),
    (5, 14, 23): (
        "31042 14023 03214 20431 13240 34120 42301 21304 41203 02143 34012 02431 23410 10324"
    ),
    (4, 10, 7): ("0123 2130 3021 1032 3201 2310 1203 2013 1302 0312"),
    (3, 7, 100): ("201 021 102 210 012 120 210"),
    (2, 7, 1): ("10 01 10 01 10 01 10"),
}


@pytest.mark.parametrize(("n", "nights", "index"), list(GOLDEN))
def test_plans_stay_what_they_were(n: int, nights: int, index: int) -> None:
    names = ("down", "left", "centre", "right", "up")[:n]
    stream = stream_label(site="a", band="younger", positions=names, n_nights=nights)
    drawn = allocate_orders(
        key_from_seed(20260114), stream=stream, index=index, n_positions=n, n_nights=nights
    )
    assert " ".join("".join(map(str, night)) for night in drawn) == GOLDEN[n, nights, index]
