"""Fair draws that anybody can repeat once a secret key is published.

Bits come from HMAC-SHA256 of the key and a text that names what is drawn, so any draw can be made
on its own, and without the key none can be foreseen. Numbers are made from bits by rejection: a
remainder alone would favour the small ones.
"""

import hashlib
import hmac

import numpy as np
from numpy.typing import NDArray

SHORTEST_KEY_BYTES = 32

_SCHEME = "sidelong-orders-1"
_WORDS = 1 << 32


class SecretDraws:
    """A sequence of fair draws for one purpose.

    Word `w` is the big-endian 32-bit number at bytes `4 (w mod 8)` of
    `HMAC-SHA256(key, "sidelong-orders-1|STREAM|PURPOSE|NUMBER|COUNTER")`, with COUNTER `w // 8`
    and all text in UTF-8.

    Parameters
    ----------
    key : bytes
        The secret, at least 32 bytes.
    stream : str
        Label of the stream, see :func:`~sidelong.designs.streams.stream_label`.
    purpose : str
        What is drawn; without `|`.
    number : int
        Which one of its kind, from 0.

    Raises
    ------
    ValueError
        If the key is too short to be secret.
    """

    def __init__(self, key: bytes, *, stream: str, purpose: str, number: int) -> None:
        check_key(key)
        self._key = key
        self._name = f"{_SCHEME}|{stream}|{purpose}|{number}"
        self._counter = 0
        self._words: list[int] = []

    def _next_word(self) -> int:
        if not self._words:
            message = f"{self._name}|{self._counter}".encode()
            block = hmac.digest(self._key, message, "sha256")
            # Kept in reverse, so that pop() takes the first word first.
            self._words = [int.from_bytes(block[k : k + 4], "big") for k in range(28, -1, -4)]
            self._counter += 1
        return self._words.pop()

    def below(self, bound: int) -> int:
        """Draw a whole number in 0..bound-1, all equally likely.

        Parameters
        ----------
        bound : int
            1 to 2**32.

        Returns
        -------
        int
            The first word below the largest multiple of `bound`, modulo `bound`.

        Raises
        ------
        ValueError
            If `bound` is out of range.
        """
        if not 1 <= bound <= _WORDS:
            raise ValueError(f"cannot draw below {bound}")
        limit = _WORDS - _WORDS % bound
        word = self._next_word()
        while word >= limit:
            word = self._next_word()
        return word % bound

    def permutation(self, n_items: int) -> NDArray[np.intp]:
        """Draw a permutation of 0..n_items-1, all equally likely.

        Parameters
        ----------
        n_items : int
            At least 1.

        Returns
        -------
        ndarray of int, shape (n_items,)
            From 0, 1, 2, ... by exchanging item `i` with item `below(i + 1)`, last `i` first.
        """
        items = list(range(n_items))
        for i in range(n_items - 1, 0, -1):
            j = self.below(i + 1)
            items[i], items[j] = items[j], items[i]
        return np.array(items, dtype=np.intp)


def check_key(key: bytes) -> None:
    """Refuse a key that could be guessed by trying.

    Parameters
    ----------
    key : bytes
        The secret.

    Raises
    ------
    ValueError
        If it has fewer than 32 bytes.
    """
    if len(key) < SHORTEST_KEY_BYTES:
        raise ValueError(f"a key of {len(key)} bytes is too short: use {SHORTEST_KEY_BYTES}")


def key_from_seed(seed: int) -> bytes:
    """Turn a plain number into a key, for simulations and examples.

    A number that a person chose can be guessed: a clinic draws its key with `secrets` instead.

    Parameters
    ----------
    seed : int
        Any whole number.

    Returns
    -------
    bytes
        SHA-256 of `"sidelong-seed-1|SEED"`, SEED in decimal; 32 bytes.
    """
    return hashlib.sha256(f"sidelong-seed-1|{seed}".encode()).digest()


def commit_seed(key: bytes) -> str:
    """Give the commitment to record before the first draw.

    It binds the key without showing it: the key can be published when enrolment has ended, and
    anybody can hash it and draw every plan again.

    Parameters
    ----------
    key : bytes
        The secret, at least 32 bytes.

    Returns
    -------
    str
        SHA-256 of the key, 64 hexadecimal digits.
    """
    check_key(key)
    return hashlib.sha256(key).hexdigest()
