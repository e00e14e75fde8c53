"""Trainees' codes: short, drawn at random, with a character that finds slips of the pen.

A code such as ``SL-7K3PX`` is the installation's prefix, four drawn characters and a check
character. The 23 characters are those that are hardly taken for one another in handwriting and
spell no words: no vowels, and none of B, G, L, Q, S, Z beside 8, 6, 1, 0, 5, 2. The check is the
weighted sum modulo 23, which is prime: it finds every single wrong character and every exchange of
two characters.
"""

import re
from collections.abc import Callable

ALPHABET = "23456789CDFHJKMNPRTVWXY"
N_DRAWN = 4
N_CODES = len(ALPHABET) ** N_DRAWN

_SHAPE = re.compile(rf"[A-Z]{{2,4}}-[{ALPHABET}]{{{N_DRAWN + 1}}}")


def draw_code(prefix: str, *, below: Callable[[int], int]) -> str:
    """Draw a code.

    Parameters
    ----------
    prefix : str
        The installation's capital letters.
    below : callable
        Gives a whole number from 0 up to its argument, for example ``secrets.randbelow``: order of
        arrival must not show in a code.

    Returns
    -------
    str
        A code that :func:`is_code` accepts.
    """
    drawn = "".join(ALPHABET[below(len(ALPHABET))] for _ in range(N_DRAWN))
    return f"{prefix}-{drawn}{check_character(drawn)}"


def check_character(drawn: str) -> str:
    """Compute the check character of the drawn ones.

    Parameters
    ----------
    drawn : str
        Characters of the alphabet, fewer than 22.

    Returns
    -------
    str
        The character that brings the sum of place times value, the check's own weight being 1, to
        a multiple of 23.
    """
    total = sum(
        weight * ALPHABET.index(character) for weight, character in enumerate(reversed(drawn), 2)
    )
    return ALPHABET[-total % len(ALPHABET)]


def is_code(text: str) -> bool:
    """Tell whether a text is a code without slips."""
    return bool(_SHAPE.fullmatch(text)) and check_character(text[-N_DRAWN - 1 : -1]) == text[-1]


def tidy_code(typed: str) -> str:
    """Bring what was typed into the shape of a code: capitals, no spaces around."""
    return typed.strip().upper()
