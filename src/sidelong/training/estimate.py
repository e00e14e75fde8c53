"""What the nights say about one trainee, as values that a page, a letter and a table share."""

from dataclasses import dataclass
from enum import StrEnum

from sidelong.training.position import Position


class Verdict(StrEnum):
    """The answer in one word; the rules are in ``docs/method/estimate.md``."""

    CLEAR = "clear"
    LIKELY = "likely"
    TOO_CLOSE = "too close"
    ALL_WORK = "all work"
    INSUFFICIENT = "insufficient"


@dataclass(frozen=True)
class PositionEstimate:
    """What is expected of one position on the first night after the last one planned.

    Parameters
    ----------
    position : Position
        Where the head is.
    p_best, p_first_try : float
        Chance that this position is the best of those allowed, and that a piece goes down first
        try in it; both in [0, 1].
    expected_rating, sd, lower, upper : float
        Rating on the 1..5 scale for an average slot without carryover, its standard deviation
        and its 90 % interval.
    may_recommend : bool
        False after a safety event in this position, or for ``up`` without its own sign-off.
    p_ahead : float or None
        Chance that this position is the best of those that may be recommended, which is what the
        verdict rests on; 0 where it may not. None where that is ``p_best``.
    """

    position: Position
    p_best: float
    p_first_try: float
    expected_rating: float
    sd: float
    lower: float
    upper: float
    may_recommend: bool = True
    p_ahead: float | None = None

    def __post_init__(self) -> None:
        """Refuse chances outside [0, 1] and an interval that is turned around."""
        for chance in (self.p_best, self.p_first_try, self.chance_ahead):
            if not 0.0 <= chance <= 1.0:
                raise ValueError(f"a chance of {chance} is not within 0..1")
        if not self.lower <= self.expected_rating <= self.upper:
            raise ValueError("the interval does not hold the expected rating")

    @property
    def chance_ahead(self) -> float:
        """Chance to be the best of the positions that may be recommended."""
        return self.p_best if self.p_ahead is None else self.p_ahead


@dataclass(frozen=True)
class NightEstimate:
    """One position on one night, looking back from the end of the course.

    Parameters
    ----------
    night : int
        The sheet's number, from 1.
    position : Position
        Where the head is.
    expected_rating, lower, upper : float
        Rating on the 1..5 scale and its 90 % interval.
    """

    night: int
    position: Position
    expected_rating: float
    lower: float
    upper: float


@dataclass(frozen=True)
class EarlierAnswer:
    """What would have been said after one night.

    Parameters
    ----------
    night : int
        Sheet number after which it would have been said.
    p_best : tuple of float
        Chance of being the best, in the order of the estimate's positions; sums to 1.
    verdict : Verdict
        The verdict of that moment.
    p_ahead : tuple of float
        Chance of being the best of those that may be recommended, in the same order; empty where
        that is ``p_best``.
    """

    night: int
    p_best: tuple[float, ...]
    verdict: Verdict
    p_ahead: tuple[float, ...] = ()

    @property
    def chances_ahead(self) -> tuple[float, ...]:
        """Chances to be the best of the positions that may be recommended."""
        return self.p_ahead or self.p_best


@dataclass(frozen=True)
class FurtherNights:
    """What further nights would be expected to change: an expectation, never a promise.

    Parameters
    ----------
    nights : int
        How many, as telling as the nights so far were on average.
    highest_now : float
        Highest chance to be the best that could be given after them without practising them.
    highest_then : float
        What it is expected to be after practising them.
    another : float
        Chance that another position would then come out ahead.
    """

    nights: int
    highest_now: float
    highest_then: float
    another: float

    def __post_init__(self) -> None:
        """Refuse what is no chance."""
        for chance in (self.highest_now, self.highest_then, self.another):
            if not 0.0 <= chance <= 1.0:
                raise ValueError(f"a chance of {chance} is not within 0..1")

    @property
    def rise(self) -> float:
        """How much surer the answer would be expected to be, in [0, 1]."""
        return max(0.0, self.highest_then - self.highest_now)


@dataclass(frozen=True)
class Estimate:
    """All that is said of one trainee.

    Parameters
    ----------
    trainee : str
        The trainee's code.
    positions : tuple of PositionEstimate
        The positions that this trainee may use, in listed order.
    nights_used, nights_planned : int
        Nights with at least one answer, and nights of the plan.
    verdict : Verdict
        The answer in one word.
    suggested : Position or None
        The position to discuss at follow-up: the best for ``clear`` and ``likely``, the simplest
        for ``all work``, else None. Never one that may not be recommended.
    nights : tuple of NightEstimate
        Every position on every night up to the last one planned.
    earlier : tuple of EarlierAnswer
        What would have been said on the way, ascending nights.
    is_trusted : bool
        False where the figures were held against the exact posterior and could not be put right:
        they are less sure than they look. What follows is then left open.
    p_better : tuple of float or None
        Chance that each position is easier than centre, in the order of the positions, each as in
        ``p_best``; None for centre itself and where one of the two may not be suggested. Empty
        where nothing is said.
    own_share : float or None
        Share, in [0, 1], of what is known about differences between positions that rests on this
        trainee's own nights; the rest is what is assumed of everyone.
    further : FurtherNights or None
        What more nights would be expected to change; None where the answer is not open, or where
        nobody asked.
    """

    trainee: str
    positions: tuple[PositionEstimate, ...]
    nights_used: int
    nights_planned: int
    verdict: Verdict
    suggested: Position | None = None
    nights: tuple[NightEstimate, ...] = ()
    earlier: tuple[EarlierAnswer, ...] = ()
    is_trusted: bool = True
    p_better: tuple[float | None, ...] = ()
    own_share: float | None = None
    further: FurtherNights | None = None

    def __post_init__(self) -> None:
        """Refuse an estimate that suggests what it may not."""
        if abs(sum(each.p_best for each in self.positions) - 1.0) > 1e-6:
            raise ValueError("the chances of being best must sum to 1")
        allowed = {each.position for each in self.positions if each.may_recommend}
        if self.suggested is not None and self.suggested not in allowed:
            raise ValueError(f"{self.suggested} may not be suggested")
        if len(self.p_better) not in {0, len(self.positions)}:
            raise ValueError("the chances to be better than centre are not one for each position")

    def better_than_centre(self, position: Position) -> float | None:
        """Give the chance that a position is easier than centre; None where it is not said."""
        places = [each.position for each in self.positions]
        if not self.p_better or position not in places:
            return None
        return self.p_better[places.index(position)]
