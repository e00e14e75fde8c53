"""From numbers to one word, by stated thresholds.

The words and their order of precedence:

1. ``insufficient``: too few nights, or the search did not arrive.
2. ``all work``: every position that may be recommended is expected to go down first try nearly
   always, and the best is hardly easier than the worst: centre is simplest.
3. ``clear`` and ``likely``: one position is the best with at least the stated chance.
4. ``too close``: none is.

With a single position there is nothing to compare: ``all work`` where it works, else
``insufficient``. A position that may not be recommended is never suggested, and the chances that
count are those of being the best among the ones that may.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sidelong.preferences.courses import BoolArray, FloatArray

VerdictWord = Literal["clear", "likely", "too close", "all work", "insufficient"]


@dataclass(frozen=True)
class VerdictRule:
    """Thresholds of the verdicts; all are choices, none is published.

    Parameters
    ----------
    fewest_nights : int
        Nights with an answer below which nothing is said.
    clear : float
        Least chance of being the best for ``clear``.
    likely : float
        Least chance of being the best for ``likely``.
    works : float
        Least chance of going down first try, in every position, for ``all work``.
    level_within : float
        Most that the best may be ahead of the worst for ``all work``, in steps of the rating.
    """

    fewest_nights: int = 5
    clear: float = 0.8
    likely: float = 0.55
    works: float = 0.9
    level_within: float = 0.4

    def __post_init__(self) -> None:
        """Refuse thresholds out of order."""
        if not 0.5 < self.likely < self.clear < 1.0:
            raise ValueError("0.5 < likely < clear < 1 does not hold")
        if not 0.0 < self.works < 1.0 or not self.level_within > 0 or self.fewest_nights < 1:
            raise ValueError("a threshold of all work or insufficient is out of range")


@dataclass(frozen=True)
class VerdictAnswer:
    """One trainee's verdict.

    Parameters
    ----------
    word : str
        ``clear``, ``likely``, ``too close``, ``all work`` or ``insufficient``.
    best : int or None
        Index of the position named by ``clear`` and ``likely``, else None.
    """

    word: VerdictWord
    best: int | None = None


DEFAULT_RULE = VerdictRule()


def give_verdict(
    p_best: FloatArray,
    p_first_try: FloatArray,
    *,
    expected_rating: FloatArray,
    nights_used: int,
    may_recommend: BoolArray,
    converged: bool = True,
    rule: VerdictRule = DEFAULT_RULE,
) -> VerdictAnswer:
    """Apply the rule to one trainee.

    Parameters
    ----------
    p_best : ndarray of float, shape (5,)
        Chance to be the best among the positions that may be recommended.
    p_first_try : ndarray of float, shape (5,)
        Chance that a piece goes down first try.
    expected_rating : ndarray of float, shape (5,)
        On the 1..5 scale.
    nights_used : int
        Nights with at least one answer.
    may_recommend : ndarray of bool, shape (5,)
        Allowed, and neither excluded for safety nor waiting for a sign-off.
    converged : bool
        Whether the approximation can be used.
    rule : VerdictRule
        Thresholds.

    Returns
    -------
    VerdictAnswer
        Word and, for ``clear`` and ``likely``, the position.
    """
    open_to = np.flatnonzero(may_recommend)
    if not open_to.size or nights_used < rule.fewest_nights or not converged:
        return VerdictAnswer("insufficient")
    ratings = expected_rating[open_to]
    works = bool((p_first_try[open_to] >= rule.works).all())
    if works and ratings.max() - ratings.min() <= rule.level_within:
        return VerdictAnswer("all work")
    if open_to.size == 1:
        return VerdictAnswer("insufficient")
    best = int(open_to[np.argmax(p_best[open_to])])
    if p_best[best] >= rule.clear:
        return VerdictAnswer("clear", best)
    if p_best[best] >= rule.likely:
        return VerdictAnswer("likely", best)
    return VerdictAnswer("too close")
